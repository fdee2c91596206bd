"""One session being recorded: each trial judged, shown and saved as it ends."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from acquire.errors import AcquireError
from acquire.storage.journal import JournalWriter
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import (
    Failed,
    Finished,
    LinkBack,
    LinkHeard,
    LinkLost,
    LinkSilent,
    Recorder,
    RecorderEvent,
    TrialRecorded,
    Unsettled,
    broken_off,
)
from acquire.stream.recovery import JournalHeader
from acquire.stream.trial_detector import Phase
from acquire.values.records import SessionContext, Trial
from analysis.stored.judged import JudgedTrial
from ui.session.crash import journal_path, second_journal_path
from ui.session.open_sensor import OpenSensor
from ui.session.store import SessionStore


@dataclass(frozen=True, slots=True)
class Said:
    """Something to tell the user that is not a trial."""

    text: str


def recorder_of(
    sensor: OpenSensor, context: SessionContext, journal: Path, *, epoch: float | None = None, pause_s: float = 0.0
) -> Recorder:
    """Return a recorder of a sensor, with its journal; not yet started.

    Parameters
    ----------
    sensor : OpenSensor
        What is recorded.
    context : SessionContext
        What a recovery needs to know of the session.
    journal : Path
        The journal to begin.
    epoch : float, optional
        The second of the sensor's clock from which times count, where two sensors share one clock.
    pause_s : float
        Between two looks at the sensor.
    """
    header = JournalHeader(
        session=context,
        profile=sensor.profile,
        calibration=sensor.calibration,
        began=sensor.clock_began(),
        epoch=epoch,
    )
    return Recorder(
        sensor.link,
        Pipeline(sensor.profile, sensor.calibration, epoch=epoch),
        journal=JournalWriter(journal, header),
        reopen=sensor.reopen,
        give_up=sensor.give_up,
        pause_s=pause_s,
    )


def follow(
    recorder: Recorder, store: SessionStore, done: Callable[[], bool], *, second: Recorder | None = None
) -> Iterator[JudgedTrial | Said]:
    """Yield each judged trial, and what else is to be told, until `done`, the end of the link, or Ctrl-C.

    The trial under way at the end of the link or at Ctrl-C is judged and saved too; after `done` nothing more of the
    first sensor is, and what the second one is in the midst of is waited for.

    Raises
    ------
    AcquireError
        If the recorder cannot go on; what was recorded has been saved.
    """
    failure: AcquireError | None = None
    with interrupts() as interrupted:
        while not (interrupted.is_set() or (done() and not _in_effort(second))):
            event = _next_event(None if done() else recorder, second)
            if isinstance(event, TrialRecorded):
                yield store.add(event.trial)
            elif isinstance(event, Failed | Finished):
                failure = event.error if isinstance(event, Failed) else None
                break
            elif event is not None:
                yield Said(_words(event))
        for trial in _left(recorder, second, done):
            yield store.add(trial)
    for journal in (journal_path(store.path), second_journal_path(store.path)):
        journal.unlink(missing_ok=True)
    if failure is not None:
        raise failure


def _left(recorder: Recorder, second: Recorder | None, done: Callable[[], bool]) -> Iterator[Trial]:
    """Stop the recorders; yield what was under way, or, of the second after `done`, what it has whole."""
    first, other = recorder.stop(), [] if second is None else second.stop()
    for trial in first:
        if not done():
            yield trial
    for trial in other:
        if not done() or broken_off(trial) is None:
            yield trial


def _in_effort(recorder: Recorder | None) -> bool:
    return recorder is not None and recorder.pipeline.phase is Phase.EFFORT


def _next_event(*recorders: Recorder | None) -> RecorderEvent | None:
    """Return what happened next on any of the sensors; each comes in its turn."""
    there = [recorder for recorder in recorders if recorder is not None]
    events = (recorder.next_event(0.1 / len(there)) for recorder in there)
    return next((event for event in events if event is not None), None)


@contextlib.contextmanager
def interrupts() -> Iterator[threading.Event]:
    """Turn Ctrl-C and a polite kill into an event, so that a recording ends in good order; a second one is final."""
    asked = threading.Event()

    def ask(number: int, frame: FrameType | None) -> None:
        del number, frame
        if asked.is_set():
            raise KeyboardInterrupt
        asked.set()

    numbers = (signal.SIGINT, signal.SIGTERM)
    before = [signal.signal(number, ask) for number in numbers]
    try:
        yield asked
    finally:
        for number, handler in zip(numbers, before, strict=True):
            signal.signal(number, handler)


def _words(event: LinkLost | LinkBack | LinkSilent | LinkHeard | Unsettled) -> str:
    if isinstance(event, Unsettled):
        return "the sensor has moved ever since it was opened: hold it still for a second, so that its zero is known"
    if isinstance(event, LinkBack):
        return "the sensor is back; recording goes on"
    if isinstance(event, LinkHeard):
        return "the sensor sends; recording goes on"
    if isinstance(event, LinkLost):
        return f"{event.error}; what was recorded is kept, waiting for the sensor to come back"
    return str(event.error)
