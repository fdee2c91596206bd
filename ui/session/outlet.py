"""Force and verdicts sent to other programs while a session is recorded."""

from __future__ import annotations

import json

from acquire.stream.lsl import ForceOutlet, OutletFeed
from acquire.stream.pipeline import Pipeline
from analysis.trial.judged_trial import JudgedTrial
from ui.session.open_sensor import OpenSensor


class Outlet:
    """The streams of one recording.

    Parameters
    ----------
    name : str
        What the streams are called.
    sensor : OpenSensor
        What measures; its clock is that of the streams.
    pipeline : Pipeline
        Its samples.
    session : str
        The session's identifier, by which readers tell one source from another.

    Raises
    ------
    LinkError
        If the Lab Streaming Layer is not installed.
    """

    def __init__(self, name: str, *, sensor: OpenSensor, pipeline: Pipeline, session: str) -> None:
        profile = sensor.profile
        self._outlet = ForceOutlet(
            name, source_id=session, rate_hz=profile.rate_hz, sensor=profile.name, clock=sensor.clock
        )
        self._pipeline = pipeline
        self._feed = OutletFeed(self._outlet, pipeline)

    def tell(self, number: int, judged: JudgedTrial) -> None:
        """Send a marker at the onset of a trial: its number, what it was and its verdict."""
        trial, judgement = judged.trial, judged.judgement
        content = {
            "trial": number,
            "action": trial.context.action,
            "side": trial.context.side,
            "verdict": None if judged.cut_off is not None else judgement.verdict,
            "plateau_force_n": judgement.measures.plateau_force_n,
            "faults": [fault.code for fault in judged.faults],
        }
        began = self._pipeline.on_host(trial)
        self._outlet.mark(json.dumps(content), began + (judgement.measures.onset_s or 0.0))

    def close(self) -> None:
        """Send what is left and end."""
        self._feed.stop()
