"""The force of a sensor that is looked at, not recorded."""

from __future__ import annotations

from typing import Self

from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import Failed, LinkLost, LinkSilent, Recorder
from acquire.stream.trial_detector import Phase
from ui.session.open_sensor import OpenSensor


class ForceWatch:
    """Look at a sensor; close it to let go of its port.

    Parameters
    ----------
    sensor : OpenSensor
        Sending; closed with the watch.
    """

    def __init__(self, sensor: OpenSensor) -> None:
        self._recorder = Recorder(sensor.link, Pipeline(sensor.profile, sensor.calibration))
        self._seen = 0
        self._recorder.start()

    def fresh(self) -> list[tuple[float, float]]:
        """Return seconds and newtons of what came since the last call; nothing before there is a zero.

        Raises
        ------
        AcquireError
            If the sensor is gone, or sends nothing.
        """
        self._check()
        pipeline = self._recorder.pipeline
        if pipeline.phase is Phase.SETTLING:
            return []
        part = pipeline.ring.since(self._seen)
        self._seen = part.end
        force = pipeline.calibration.force(part.counts, zero_counts=pipeline.zero_counts)
        return list(zip(part.time.tolist(), force.tolist(), strict=True))

    def close(self) -> None:
        """Let go of the sensor."""
        self._recorder.stop()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _check(self) -> None:
        while (event := self._recorder.next_event(0.0)) is not None:
            if isinstance(event, Failed | LinkLost | LinkSilent):
                raise event.error
