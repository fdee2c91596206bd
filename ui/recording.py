"""One session being recorded: each trial judged, shown and saved as it ends; what a crash left is saved first."""

from __future__ import annotations

import contextlib
import secrets
import signal
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType

import msgspec

from acquire.archive.session_file import read_session, write_session
from acquire.claim import claimed
from acquire.errors import AcquireError, ArchiveError
from acquire.journal import JournalWriter, holds_nothing
from acquire.pipeline import Pipeline
from acquire.recorder import (
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
)
from acquire.records import Person, Session, SessionContext, SetAside, Trial, TrialContext
from acquire.recovery import JournalHeader, Recovery, recover
from analysis.protocol import Protocol
from ui.arguments import program_version
from ui.judged import JudgedTrial, judge_trial, protocol_json
from ui.opening import OpenSensor

EMPTY_SUFFIX = ".empty"
"""A journal that holds nothing is put aside under its name with this."""


@dataclass(frozen=True, slots=True)
class Said:
    """Something to tell the user that is not a trial."""

    text: str


def journal_path(session_path: Path) -> Path:
    """Return where the journal of a session file lies."""
    return session_path.with_name(session_path.name + ".journal")


def second_journal_path(session_path: Path) -> Path:
    """Return where the journal of a session's second sensor lies."""
    return session_path.with_name(session_path.name + ".second.journal")


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


def new_context(
    *, person: Person, examiner: str | None, sensor: str, cautions: datetime | None, invented: bool = False
) -> SessionContext:
    """Return the context of a session that begins now."""
    return SessionContext(
        session=secrets.token_hex(8),
        started=datetime.now(UTC),
        person=person,
        examiner=examiner,
        sensor=sensor,
        cautions_acknowledged=cautions,
        program_version=program_version(),
        invented=invented,
    )


class SessionStore:
    """The session file: written whole after each trial, so that it is never half written."""

    def __init__(self, path: Path, session: Session, protocol: Protocol) -> None:
        self.path = path
        self.session = session
        """The session with all its trials; ahead of the file while that cannot be written."""
        self.protocol = protocol
        self._in_file = session

    @property
    def saved(self) -> bool:
        """Whether the file holds the session as it is here."""
        return self._in_file is self.session

    def take(self, trial: Trial) -> JudgedTrial:
        """Judge a trial and keep it here; `save` brings it to the file."""
        judged = judge_trial(trial, self.protocol)
        verdict = {"protocol": protocol_json(self.protocol), **judged.as_json()}
        self.session = self.session.with_trial(trial.judged(verdict))
        return replace(judged, trial=self.session.trials[-1])

    def save(self) -> None:
        """Write the file, unless it holds all already.

        Raises
        ------
        ArchiveError
            If it cannot be written; all trials are still here, and may be saved later.
        """
        if not self.saved:
            write_session(self.path, self.session)
            self._in_file = self.session

    def add(self, trial: Trial) -> JudgedTrial:
        """Judge a trial, save the session with it, and return it judged; raises as `save`."""
        judged = self.take(trial)
        self.save()
        return judged

    def decide(self, index: int, decision: SetAside) -> None:
        """Set a trial aside or take it back, here; `save` brings it to the file."""
        self.session = self.session.with_decision(index, decision)

    def leave_out(self, item: TrialContext) -> None:
        """Note that an item of the battery is left out, here; `save` brings it to the file."""
        self.session = self.session.with_left_out(item)

    def has(self, trial: Trial) -> bool:
        """Tell whether a trial with the very same samples has been saved."""
        return any(_same(trial, saved) for saved in self.session.trials)


def _same(one: Trial, other: Trial) -> bool:
    return one.counts.shape == other.counts.shape and bool((one.counts == other.counts).all())


def open_store(path: Path, context: SessionContext, protocol: Protocol, *, resume: bool) -> SessionStore:
    """Return the store of a new session, or of one to go on with.

    Raises
    ------
    ArchiveError
        If the file exists and is not to be resumed, or is the session of another person or sensor; if it is a folder,
        or its folder does not exist.
    """
    check_out(path, resume=resume)
    if not path.exists():
        return SessionStore(path, Session(context=context), protocol)
    session = read_session(path)
    return SessionStore(path, replace(session, context=_gone_on_with(path, session.context, context)), protocol)


def _gone_on_with(path: Path, kept: SessionContext, now: SessionContext) -> SessionContext:
    """Return the context of a session that is gone on with; what it did not say is taken from what is said now."""
    if kept.sensor and now.sensor and kept.sensor != now.sensor:
        raise ArchiveError(
            f"{path}: was recorded with the sensor {kept.sensor}, not {now.sensor}; choose another session file"
        )
    return msgspec.structs.replace(
        kept,
        person=_same_person(path, kept.person, now.person),
        examiner=kept.examiner or now.examiner,
        cautions_acknowledged=kept.cautions_acknowledged or now.cautions_acknowledged,
    )


def _same_person(path: Path, kept: Person, now: Person) -> Person:
    unsaid = msgspec.structs.asdict(Person())
    said = {key: value for key, value in msgspec.structs.asdict(now).items() if value != unsaid[key]}
    for key, value in said.items():
        before = getattr(kept, key)
        if before not in (value, unsaid[key]):
            raise ArchiveError(
                f"{path}: is the session of a person with {key} {before}, not {value}; choose another session file"
            )
    return msgspec.structs.replace(kept, **said)


def check_out(path: Path, *, resume: bool) -> None:
    """Refuse a session file that would be lost, or could not be written, before a sensor is opened.

    Raises
    ------
    ArchiveError
        As `open_store`.
    """
    if path.is_dir():
        raise ArchiveError(f"{path}: is a folder; say with --out which file to write")
    if not path.parent.is_dir():
        raise ArchiveError(f"{path.parent}: there is no such folder; create it or choose another --out")
    if path.exists() and not resume:
        raise ArchiveError(f"{path}: exists already; add --resume to go on with it, or choose another --out")


def put_empty_aside(path: Path) -> list[Path]:
    """Put the journals of a session aside that hold nothing, and return their new names.

    A program that was killed in the moment in which it began a journal leaves such a one.
    """
    moved = []
    for journal in _journals(path):
        if holds_nothing(journal):
            with claimed(journal):
                moved.append(journal.replace(journal.with_name(journal.name + EMPTY_SUFFIX)))
    return moved


def _journals(path: Path) -> list[Path]:
    return [journal for journal in (journal_path(path), second_journal_path(path)) if journal.exists()]


def recover_store(path: Path, protocol: Protocol) -> tuple[SessionStore, int] | None:
    """Save the trials that a crash left in its journals; return the store and how many, or None without a journal.

    Raises
    ------
    ArchiveError
        If another program is recording this session, a journal or the session file cannot be read, or the file cannot
        be written. The journals then stay as they are.
    """
    journals = _journals(path)
    if not journals:
        return None
    with contextlib.ExitStack() as ours:
        for journal in journals:
            ours.enter_context(claimed(journal))
        store, number = _recovered(path, journals, protocol)
        for journal in journals:
            journal.unlink()
    return store, number


def _recovered(path: Path, journals: list[Path], protocol: Protocol) -> tuple[SessionStore, int]:
    found = [_read(journal) for journal in journals]
    session = read_session(path) if path.exists() else Session(context=found[0].session)
    store = SessionStore(path, session, protocol)
    missing = [trial for each in found for trial in each.trials if not store.has(trial)]
    for trial in sorted(missing, key=_began):
        store.add(trial)
    return store, len(missing)


def _read(journal: Path) -> Recovery:
    try:
        return recover(journal)
    except ArchiveError as error:
        raise ArchiveError(f"{error}; move it away to begin anew, or choose another session file") from error


def _began(trial: Trial) -> datetime:
    return trial.context.started or datetime.min.replace(tzinfo=UTC)


def follow(
    recorder: Recorder, store: SessionStore, done: Callable[[], bool], *, second: Recorder | None = None
) -> Iterator[JudgedTrial | Said]:
    """Yield each judged trial, and what else is to be told, until `done`, the end of the link, or Ctrl-C.

    The trial under way at the end of the link or at Ctrl-C is judged and saved too; after `done` nothing is.

    Raises
    ------
    AcquireError
        If the recorder cannot go on; what was recorded has been saved.
    """
    failure: AcquireError | None = None
    with interrupts() as interrupted:
        while not (done() or interrupted.is_set()):
            event = _next_event(recorder, second)
            if isinstance(event, TrialRecorded):
                yield store.add(event.trial)
            elif isinstance(event, Failed):
                failure = event.error
                break
            elif isinstance(event, Finished):
                break
            elif event is not None:
                yield Said(_words(event))
        for trial in _stopped(recorder, second):
            if not done():
                yield store.add(trial)
    for journal in (journal_path(store.path), second_journal_path(store.path)):
        journal.unlink(missing_ok=True)
    if failure is not None:
        raise failure


def _stopped(*recorders: Recorder | None) -> list[Trial]:
    """Stop the recorders and return the trials that were under way."""
    return [trial for recorder in recorders if recorder is not None for trial in recorder.stop()]


def _next_event(recorder: Recorder, second: Recorder | None) -> RecorderEvent | None:
    """Return what happened next on either sensor; each comes in its turn."""
    if second is None:
        return recorder.next_event(0.1)
    return recorder.next_event(0.05) or second.next_event(0.05)


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


def describe(context: SessionContext) -> str:
    """Return a session in a few words."""
    person = context.person.code or "no code"
    return f"session {context.session}, person {person}{', invented data' if context.invented else ''}"
