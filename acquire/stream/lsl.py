"""Force beside other signals: a Lab Streaming Layer outlet, and the thread that feeds it.

Each sample goes out in newtons with the second at which it was measured on this computer's clock
(`acquire.timing.clock_skew.HostTime`), the clock that Lab Streaming Layer aligns between computers. A second stream
carries a marker for each trial, with its result. Both need the optional package `pylsl`.

References
----------
Kothe, C. et al. (2025), The lab streaming layer for synchronized multimodal recording, Imaging Neuroscience; the
metadata follow the project's published conventions (channel label, unit, type). Both from memory.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from acquire.errors import LinkError, LinkFailure
from acquire.values.arrays import FloatArray

if TYPE_CHECKING:
    from acquire.stream.pipeline import Pipeline

PUSH_S = 0.02
BUFFERED_S = 60
"""What a reader that comes late, or is slow, still gets."""


class ForceOutlet:
    """Two streams on the network: the force, and markers.

    Parameters
    ----------
    name : str
        What the streams are called; markers add " markers".
    source_id : str
        Tells this source from all others, so that a reader finds it again.
    rate_hz : float
        Nominal samples per second.
    sensor : str
        What measures, for the metadata.
    clock : callable
        The clock of the seconds given to `push`.

    Raises
    ------
    LinkError
        NOT_FOUND, if the package `pylsl` is not installed; says how to get it.
    """

    def __init__(self, name: str, *, source_id: str, rate_hz: float, sensor: str, clock: Callable[[], float]) -> None:
        lsl = _pylsl()
        force = lsl.StreamInfo(name, "Force", 1, rate_hz, lsl.cf_double64, source_id)
        channel = force.desc().append_child("channels").append_child("channel")
        for key, value in (("label", "force"), ("unit", "newtons"), ("type", "Force")):
            channel.append_child_value(key, value)
        force.desc().append_child_value("sensor", sensor)
        markers = lsl.StreamInfo(
            f"{name} markers", "Markers", 1, lsl.IRREGULAR_RATE, lsl.cf_string, f"{source_id}-markers"
        )
        self._force = lsl.StreamOutlet(force, max_buffered=BUFFERED_S)
        self._markers = lsl.StreamOutlet(markers, max_buffered=BUFFERED_S)
        self._offset_s = min((lsl.local_clock() - clock() for _ in range(9)), key=abs)
        self._last = -np.inf

    def push(self, seconds: FloatArray, force: FloatArray) -> None:
        """Send samples: seconds on the clock, shape (n,), and newtons, shape (n,). NaN stays NaN."""
        stamps = np.maximum.accumulate(np.concatenate([[self._last], seconds + self._offset_s]))[1:]
        self._last = float(stamps[-1])
        self._force.push_chunk(np.ascontiguousarray(force[:, np.newaxis]), stamps.tolist())

    def mark(self, text: str, seconds: float) -> None:
        """Send a marker of some second on the clock."""
        self._markers.push_sample([text], seconds + self._offset_s)


class OutletFeed:
    """Sends what a pipeline's ring receives; a reader like any other, so that the recorder never waits for it.

    Parameters
    ----------
    outlet : ForceOutlet
        Where it goes.
    pipeline : Pipeline
        Whose force it is.
    """

    def __init__(self, outlet: ForceOutlet, pipeline: Pipeline) -> None:
        self._outlet, self._pipeline = outlet, pipeline
        self._sent = pipeline.ring.written
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="lsl", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Send what is left and end; a second time does nothing."""
        self._stopping.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._stopping.wait(PUSH_S):
            self._send()
        self._send()

    def _send(self) -> None:
        pipeline = self._pipeline
        part = pipeline.ring.since(self._sent)
        self._sent = part.end
        if len(part.time):
            force = pipeline.calibration.force(part.counts, zero_counts=pipeline.zero_counts)
            self._outlet.push(pipeline.host.now(part.time), force)


def _pylsl() -> Any:  # noqa: ANN401 # a module that may not be there
    try:
        import pylsl  # noqa: PLC0415 # optional
    except (ImportError, RuntimeError) as error:  # the latter where the library under it is missing
        raise LinkError(
            "the package pylsl, for the Lab Streaming Layer, is not installed: install ramphold with the extra [lsl]",
            port="lsl",
            reason=LinkFailure.NOT_FOUND,
        ) from error
    return pylsl
