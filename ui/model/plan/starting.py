"""From a plan to a session that is being recorded: sensor, file, journal, recorder, engine."""

from __future__ import annotations

import threading
from pathlib import Path

import msgspec

from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import Effort
from analysis.trial.protocol import load_protocol
from ui.model.plan.plan import PlanDraft, contexts_of, finished, make_folder, run_protocol
from ui.session.crash import journal_path, put_empty_aside, recover_store, unfinished_mark
from ui.session.engine import Engine
from ui.session.live import LiveSession
from ui.session.open_sensor import SIMULATED, OpenSensor, open_person, open_sensor
from ui.session.recording import recorder_of
from ui.session.simulated_person import DEMO_EFFORTS, SimulatedPerson
from ui.session.store import new_context, open_store

SHORT_PAUSE_S = 0.4
"""An invented effort begins so long after the word to go."""


def start_session(
    draft: PlanDraft,
    *,
    efforts: tuple[Effort, ...] = DEMO_EFFORTS,
    speed: float = 1.0,
    cancelled: threading.Event | None = None,
) -> LiveSession:
    """Open everything that a plan names and begin to record.

    Parameters
    ----------
    draft : PlanDraft
        A plan without problems. When it resumes a session, what a crash left is saved first, and the trials
        that are there count.
    efforts : tuple of Effort
        What the invented person does, when the sensor is the simulated one.
    speed : float
        How fast that person and all cues live; real people live at 1.
    cancelled : threading.Event, optional
        Ends the search for a Bluetooth sensor when it is set.

    Raises
    ------
    AcquireError, AnalysisError
        With one plain sentence; nothing is left open.
    """
    plan = finished(draft)
    make_folder(plan)
    path, protocol = Path(plan.out), load_protocol(plan.protocol)
    engine = Engine(contexts_of(plan), run_protocol(plan), alternate=plan.alternate)
    put_empty_aside(path)
    recover_store(path, protocol)
    sensor, person = _open(plan, efforts, speed, cancelled)
    try:
        context = new_context(
            person=plan.person,
            examiner=plan.examiner or None,
            sensor=sensor.profile.name,
            cautions=plan.cautions_acknowledged,
            invented=sensor.profile.name == SIMULATED,
        )
        resume = plan.resume or unfinished_mark(path).exists()
        store = open_store(path, context, protocol, resume=resume, calibration=sensor.calibration)
        engine.resume(store.session.trials, skipped=store.session.context.skipped)
        recorder = recorder_of(sensor, store.session.context, journal_path(path))
    except BaseException:
        sensor.link.close()
        raise
    return LiveSession(recorder, store, engine, on_cue=person.on_cue if person else None, clock=sensor.clock)


def _open(
    plan: PlanDraft, efforts: tuple[Effort, ...], speed: float, cancelled: threading.Event | None
) -> tuple[OpenSensor, SimulatedPerson | None]:
    if plan.port is not None or plan.sensor != SIMULATED:
        known = plan.calibration or None
        sensor = open_sensor(plan.sensor, port=plan.port, calibration=known, cancelled=cancelled)
        return sensor, None
    short = tuple(msgspec.structs.replace(e, rest_before_s=SHORT_PAUSE_S, rest_after_s=0.2) for e in efforts)
    sensor = open_person(load_profile(SIMULATED), short, speed=speed)
    return sensor, SimulatedPerson(sensor.link.send)
