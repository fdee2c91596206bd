"""Recording from the command line: a session until it is over, or Ctrl-C."""

from __future__ import annotations

import contextlib
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType

from acquire.storage.journal import JournalWriter
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import Recorder
from acquire.stream.recovery import JournalHeader
from acquire.values.records import SessionContext, TrialContext
from ui.session.engine import Engine
from ui.session.events import SessionEvent, Trouble
from ui.session.live import LiveSession
from ui.session.open_sensor import OpenSensor
from ui.session.store import SessionStore

LOOK_S = 0.03
"""Between two looks at what the recorder has, where nobody watches a trace."""


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
        cancel_reopen=sensor.cancel_reopen,
        pause_s=pause_s,
    )


def events_of(session: LiveSession, each_look: Callable[[], bool] = lambda: True) -> Iterator[SessionEvent]:
    """Yield what happens in a session until all is done, the sensor has nothing more, or Ctrl-C; then save it.

    Parameters
    ----------
    session : LiveSession
        Ended here. The trial under way is judged and saved too; hands-free, nothing more of the first sensor is after
        the last trial that was asked for, and what the second one is in the midst of is waited for.
    each_look : callable
        Is called after each look at the sensor; ends the recording by returning false.

    Raises
    ------
    AcquireError
        If the recorder cannot go on, after what was recorded has been saved; or if it cannot be saved.
    """
    with interrupts() as interrupted:
        while not (interrupted.is_set() or _is_over(session)):
            happened = session.tick()
            # that nothing more will come is the end, and no trouble
            yield from (event for event in happened if not (session.finished and isinstance(event, Trouble)))
            if not each_look():
                break
            time.sleep(LOOK_S)
        yield from session.stop()
    session.close()
    if session.failure is not None:
        raise session.failure


def every_effort(recorder: Recorder, store: SessionStore, *planned: TrialContext) -> Iterator[SessionEvent]:
    """Yield what happens while every effort is recorded, whatever it is; as `events_of`.

    Parameters
    ----------
    recorder : Recorder
        Not yet started.
    store : SessionStore
        Where trials go.
    planned : TrialContext
        What the efforts will be, in order.
    """
    if planned:
        recorder.plan(*planned)
    engine = Engine(planned[:1] or (TrialContext(),), store.protocol, hands_free=True)
    return events_of(LiveSession(recorder, store, engine, plan=lambda _: None))


def _is_over(session: LiveSession) -> bool:
    done = session.engine.hands_free and session.complete and not session.second_in_effort
    return session.finished or done


class Asked:
    """Whether the end was asked for. No `threading.Event`: set by a signal during a wait, it waits for itself."""

    def __init__(self) -> None:
        self._asked = False

    def is_set(self) -> bool:
        """Tell whether it was asked for."""
        return self._asked

    def set(self) -> None:
        """Ask for it."""
        self._asked = True

    def clear(self) -> None:
        """Forget that it was asked for."""
        self._asked = False


@contextlib.contextmanager
def interrupts() -> Iterator[Asked]:
    """Turn Ctrl-C and a polite kill into a flag, so that a recording ends in good order; a second one is final."""
    asked = Asked()

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
