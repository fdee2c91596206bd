"""The file of one session while it is recorded: made or gone on with, and written whole after each trial."""

from __future__ import annotations

import contextlib
import itertools
import secrets
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from acquire.errors import ArchiveError
from acquire.storage.session_file import read_session, write_session
from acquire.values.calibration import Calibration
from acquire.values.records import Note, Person, Session, SessionContext, SetAside, Trial, TrialContext
from acquire.values.remarks import ProgramReason, TrialEnd
from analysis.trial.contacts import is_contact, press_of, usual_force
from analysis.trial.judged_trial import JudgedTrial, judge_trial
from analysis.trial.protocol import Protocol, protocol_json
from ui.version import program_version
from ui.words.judgement_json import judgement_json
from ui.words.local_time import local_now

HEAD_BYTES = 256
"""More than the lines of a session file that hold its checksums."""
PROGRAM = "Ramphold"
"""Who sets a trial aside that does not count."""


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


def describe(context: SessionContext) -> str:
    """Return a session in a few words."""
    person = context.person.code or "no code"
    return f"session {context.session}, person {person}{', invented data' if context.invented else ''}"


def cut_off(trial: Trial, protocol: Protocol) -> TrialEnd | None:
    """Return what ended the recording before the person had finished a trial; None when nothing did."""
    return None if trial.broken_off is None else judge_trial(trial, protocol).cut_off


def set_aside_by_program(trial: Trial, reason: ProgramReason | TrialEnd | None) -> Trial:
    """Return the trial set aside by the program for a reason; as it is without one."""
    if reason is None:
        return trial
    return replace(trial, set_aside=(SetAside(aside=True, reason=reason, by=PROGRAM, at=local_now()),))


class SessionStore:
    """The session file: written whole after each trial, so that it is never half written."""

    def __init__(self, path: Path, session: Session, protocol: Protocol) -> None:
        self.path = path
        self.session = session
        """The session with all its trials; ahead of the file while that cannot be written."""
        self.protocol = protocol
        self.journals_of = path
        """What the journals are named after: the file as it was named first."""
        self._in_file = session
        self._stamp = _stamp(path)

    @property
    def saved(self) -> bool:
        """Whether the file holds the session as it is here."""
        return self._in_file is self.session

    def take(self, trial: Trial) -> JudgedTrial:
        """Judge a trial and keep it here; `save` brings it to the file."""
        judged = judge_trial(trial, self.protocol, number=len(self.session.trials) + 1)
        verdict = {"protocol": protocol_json(self.protocol), **judgement_json(judged)}
        self.session = self.session.with_trial(trial.judged(verdict))
        return replace(judged, trial=self.session.trials[-1])

    def is_contact(self, trial: Trial) -> bool:
        """Tell whether a trial is a contact: by its shape, and by what this action of this side gave before.

        What broke off before it was over is none: nobody knows what it would have become.
        """
        if trial.broken_off is not None:
            return False
        usual = usual_force(self.session.trials, trial.context)
        return is_contact(press_of(trial.trace(), self.protocol), usual)

    def take_contact(self, contact: Trial) -> None:
        """Keep a contact here, without a verdict; `save` brings it to the file."""
        self.session = self.session.with_contact(contact)

    def save(self) -> None:
        """Write the file, unless it holds all already.

        A file that another program has changed meanwhile is left as it is: the session goes into one beside it, and
        `path` says which. A folder that was removed is made again.

        Raises
        ------
        ArchiveError
            If it cannot be written; all trials are still here, and may be saved later.
        """
        if self.saved:
            return
        if (now := _stamp(self.path)) is not None and now != self._stamp:
            self.path = free_beside(self.path)
        with contextlib.suppress(OSError):  # what is wrong with the folder shows when the file is written
            self.path.parent.mkdir(parents=True, exist_ok=True)
        write_session(self.path, self.session)
        self._in_file, self._stamp = self.session, _stamp(self.path)

    def add(self, trial: Trial) -> JudgedTrial:
        """Judge a trial, save the session with it, and return it judged; raises as `save`."""
        judged = self.take(trial)
        self.save()
        return judged

    def decide(self, index: int, decision: SetAside) -> None:
        """Set a trial aside or take it back, here; `save` brings it to the file."""
        self.session = self.session.with_decision(index, decision)

    def note(self, index: int, note: Note) -> None:
        """Add a note to a trial, here; `save` brings it to the file."""
        self.session = self.session.with_note(index, note)

    def leave_out(self, item: TrialContext) -> None:
        """Note that an item of the battery is left out, here; `save` brings it to the file."""
        self.session = self.session.with_skipped(item)

    def take_back_item(self, item: TrialContext) -> None:
        """Note that an item which was left out is not any more, here; `save` brings it to the file."""
        self.session = self.session.without_skipped(item)

    def has(self, trial: Trial) -> bool:
        """Tell whether a trial or contact with the very same samples has been saved."""
        return any(_same(trial, saved) for saved in (*self.session.trials, *self.session.contacts))


def _stamp(path: Path) -> tuple[int, bytes] | None:
    """Return size and head of a file, which holds the checksums of all of it; None where there is no such file."""
    try:
        with path.open("rb") as file:
            return path.stat().st_size, file.read(HEAD_BYTES)
    except OSError:
        return None


def free_beside(path: Path) -> Path:
    """Return the path of a file that is not there: the same name with a number.

    Examples
    --------
    >>> free_beside(Path("no-such-folder/p7.h5")).name
    'p7-2.h5'
    """
    numbered = (path.with_name(f"{path.stem}-{number}{path.suffix}") for number in itertools.count(2))
    return next(each for each in numbered if not each.exists())


def _same(one: Trial, other: Trial) -> bool:
    return one.counts.shape == other.counts.shape and bool((one.counts == other.counts).all())


def open_store(
    path: Path, context: SessionContext, protocol: Protocol, *, resume: bool, calibration: Calibration | None = None
) -> SessionStore:
    """Return the store of a new session, or of one to go on with.

    Raises
    ------
    ArchiveError
        If the file exists and is not to be resumed, or is the session of another person or sensor, or was recorded
        with another calibration; if it is a folder, or its folder does not exist.
    """
    check_out(path, resume=resume)
    if not path.exists():
        return SessionStore(path, Session(context=context), protocol)
    session = read_session(path)
    known = _gone_on_with(path, session.context, context)
    if calibration is not None:
        _check_calibration(path, session, calibration)
    return SessionStore(path, replace(session, context=known), protocol)


def _check_calibration(path: Path, session: Session, now: Calibration) -> None:
    """Refuse another calibration than the session was recorded with: its trials could not be compared."""
    before = [trial.calibration for trial in session.trials]
    if before and not any(_same_slope(each, now) for each in before):
        raise ArchiveError(
            f"{path}: was recorded with {_named(before[-1])}, not with {_named(now)}: give that calibration with "
            "--calibration, or choose another session file"
        )


def _same_slope(one: Calibration, other: Calibration) -> bool:
    return (one.newtons_per_count, one.date) == (other.newtons_per_count, other.date)


def _named(calibration: Calibration) -> str:
    if calibration.date is None:
        return "the nominal sensitivity"
    serial = f" of {calibration.serial}" if calibration.serial else ""
    return f"the calibration{serial} of {calibration.date}"


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
