"""What Review shows: the trials of a stored file, which is looked at, which lie under it, and which are set aside.

A file is judged by the protocol it was recorded under. Another one may be chosen, for this file alone: the next file is
judged by its own again.

A session file keeps what was decided about its trials: each decision is appended to the trial, with who, when and
why, and the file is written whole. Nothing is ever deleted, and no verdict that was stored is ever changed: to judge
by another protocol changes what is shown, not what is stored.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from acquire.errors import ArchiveError, TraceFileError
from acquire.storage.session_file import read_session, write_session
from acquire.values.records import Session, SetAside, Trial
from analysis.results.settings import load_result_settings
from analysis.results.summary import SessionSummary
from analysis.stored.results import summarise_session
from analysis.stored.traces import looks_like_session, read_file
from analysis.trial.judged_trial import JudgedTrial, judge_trial
from analysis.trial.protocol import Protocol, known_protocols, load_protocol
from ui.model.review.recorded import Recorded, found_again, recorded_of, recorded_under
from ui.session.crash import journal_path
from ui.session.store import SessionStore

MOST_BESIDE = 50
"""So many protocol files beside a session are looked into."""

ANY_RATE_HZ = 1000.0
"""A text file that can be read with this rate lacks nothing but its rate."""


class RateNeededError(TraceFileError):
    """A trace of force alone: it can be read once its sample rate is given."""

    def __init__(self, path: Path) -> None:
        super().__init__(f"{path}: has one column, the force, so its sample rate is needed")
        self.path = path


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opened:
    """A file that has been read."""

    path: Path
    session: Session | None
    """None for a trace as text."""
    trials: tuple[Trial, ...]
    origins: tuple[float, ...]
    """The file's time at the first sample of each trial, s."""
    contacts: int = 0
    """How often something pressed the pad that was no effort; kept in the file, and not judged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredVerdict:
    """What a trial came to when it was recorded."""

    verdict: str
    protocol: str
    hash: str


class ReviewModel:
    """The trials of one file, as Review shows them.

    Parameters
    ----------
    own : callable
        Returns the paths of the user's own protocol files; the protocol of a session is looked for among these, those
        chosen here, and those that lie beside the session.
    """

    def __init__(self, *, own: Callable[[], Sequence[str]] = tuple) -> None:
        self._own = own
        self._picked: tuple[str, ...] = ()
        self.protocol = load_protocol()
        """What the trials are judged by: the protocol of the file, unless another one is `chosen`."""
        self.recorded: Recorded | None = None
        """The protocol the file was recorded under, by name and hash; None where it does not say."""
        self.chosen = False
        """Whether the user chose another protocol than that of the file; that ends with the file."""
        self.settings = load_result_settings()
        """What sets and the report are scored by."""
        self.opened: Opened | None = None
        self.trials: tuple[JudgedTrial, ...] = ()
        """Every trial of the file, those set aside too, judged by `protocol`."""
        self.selected: int | None = None
        """The trial that is looked at."""
        self.alike = True
        """Whether the other trials of the same action and side lie under the selected one."""
        self.kept: frozenset[int] = frozenset()
        """Trials that lie under the selected one, whichever that is."""
        self._store: SessionStore | None = None
        self._summed: tuple[tuple[JudgedTrial, ...], SessionSummary] | None = None

    # files

    def open(self, path: Path, *, rate_hz: float | None = None) -> None:
        """Show a session file or a CSV trace; when that fails, what was shown stays.

        Raises
        ------
        RateNeededError
            If the file holds force alone and `rate_hz` is not given.
        TraceFileError, ArchiveError
            If the file cannot be read; names file and line or key.
        """
        self._take(_read_session(path) if looks_like_session(path) else _read_trace(path, rate_hz))
        self._store = None

    def follow(self, store: SessionStore) -> None:
        """Show a session that is being recorded; decisions then go through its store, which writes the file too.

        Call it again to see the trials that have come since.
        """
        again = self._store is store
        before = self.selected
        self._take(_of_session(store.path, store.session), self.protocol if again else store.protocol)
        self._store = store
        if again and before is not None and before < len(self.trials):
            self.selected = before

    def judge_by(self, name_or_path: str) -> None:
        """Judge every trial of this file by another protocol; what is stored with the trials stays as it is.

        Raises
        ------
        ProtocolError
            If there is no such protocol, or a key of it is wrong.
        """
        protocol = load_protocol(name_or_path)  # a file may have been edited since it was read
        if name_or_path not in known_protocols():
            self._picked = (name_or_path, *self._picked)
        self._judge(protocol)

    def judge_as_recorded(self) -> None:
        """Judge by the protocol of the file again."""
        self._judge(self._protocol_of(self.recorded, self.opened))

    @property
    def otherwise(self) -> int:
        """How many trials were recorded under other limits than they are judged by now."""
        stored = [recorded_of(each.trial) for each in self.trials]
        return sum(each is not None and each.hash != self.protocol.hash for each in stored)

    @property
    def can_go_back(self) -> bool:
        """Whether the protocol that the file was recorded under is on this computer."""
        return self.recorded is not None and self._found(self.recorded, self.opened) is not None

    @property
    def summary(self) -> SessionSummary | None:
        """What the session comes to as its trials are judged now; None for a trace as text."""
        session = None if self.opened is None else self.opened.session
        if session is None:
            return None
        if self._summed is None or self._summed[0] is not self.trials or self._summed[1].settings != self.settings:
            summed = summarise_session(session, self.protocol, trials=self.trials, settings=self.settings)
            self._summed = self.trials, summed
        return self._summed[1]

    def score_by(self, name_or_path: str) -> None:
        """Score the report of the session by other settings.

        Raises
        ------
        SettingsError
            If there are no such settings, or a key of them is wrong.
        """
        self.settings = load_result_settings(name_or_path)

    # what is looked at

    def select(self, index: int) -> None:
        """Look at a trial.

        Raises
        ------
        IndexError
            If there is none of this number.
        """
        self._trial(index)
        self.selected = index

    def next(self) -> None:
        """Look at the next trial, after the last one at the first."""
        if self.trials:
            self.selected = 0 if self.selected is None else (self.selected + 1) % len(self.trials)

    def keep(self, index: int, kept: bool) -> None:
        """Let a trial lie under the selected one, whichever that is, or no longer."""
        self._trial(index)
        self.kept = self.kept | {index} if kept else self.kept - {index}

    @property
    def overlaid(self) -> tuple[int, ...]:
        """The trials that lie under the selected one: those that are kept, and the like when `alike` is on."""
        if self.selected is None:
            return ()
        like = {i for i, trial in enumerate(self.trials) if self.alike and self._like(trial) and not self.is_aside(i)}
        return tuple(sorted((like | self.kept) - {self.selected}))

    def _like(self, other: JudgedTrial) -> bool:
        if self.selected is None:
            return False
        mine, theirs = self.trials[self.selected].trial.context, other.trial.context
        return (mine.action, mine.side) == (theirs.action, theirs.side)

    # what was decided

    @property
    def can_decide(self) -> bool:
        """Whether trials can be set aside: a trace as text keeps no decisions."""
        return self.opened is not None and self.opened.session is not None

    @property
    def examiner(self) -> str:
        """The examiner of the session, empty when not known."""
        session = self.opened.session if self.opened else None
        return (session.context.examiner or "") if session else ""

    def is_aside(self, index: int) -> bool:
        """Return whether a trial is set aside."""
        return self._trial(index).trial.is_aside

    def set_aside(self, index: int, reason: str, by: str, at: datetime) -> None:
        """Set a trial aside and write the file.

        Parameters
        ----------
        index : int
            Of `trials`.
        reason, by : str
            Why, and the code of the examiner; neither may be empty.
        at : datetime
            When, with its zone.

        Raises
        ------
        ArchiveError
            If the file keeps no decisions, cannot be written, has changed, or is being recorded elsewhere; nothing
            is decided then.
        ValueError
            If reason or examiner is empty, `at` lacks its zone, or the trial is set aside already.
        """
        self._decide(index, SetAside(aside=True, reason=reason.strip(), by=by.strip(), at=at))

    def take_back(self, index: int, reason: str, by: str, at: datetime) -> None:
        """Take a trial back that was set aside; the rest as `set_aside`."""
        self._decide(index, SetAside(aside=False, reason=reason.strip(), by=by.strip(), at=at))

    def stored_verdict(self, index: int) -> StoredVerdict | None:
        """Return what a trial came to when it was recorded; None when nothing is stored."""
        trial = self._trial(index).trial
        kept: Any = trial.verdict
        if not kept or "verdict" not in kept:
            return None
        by = recorded_of(trial) or Recorded("", "")
        return StoredVerdict(verdict=str(kept["verdict"]), protocol=by.name, hash=by.hash)

    # inside

    def _trial(self, index: int) -> JudgedTrial:
        if not 0 <= index < len(self.trials):
            raise IndexError(f"there is no trial {index + 1}: the file holds {len(self.trials)}")
        return self.trials[index]

    def _take(self, opened: Opened, protocol: Protocol | None = None) -> None:
        recorded = recorded_under(opened.trials)
        usual = self._protocol_of(recorded, opened)
        protocol = protocol or usual
        self.trials = _judged(opened, protocol)
        self.opened, self.recorded, self.protocol = opened, recorded, protocol
        self.chosen = protocol.hash != usual.hash
        self.selected = 0 if self.trials else None
        self.kept = frozenset()

    def _found(self, recorded: Recorded, opened: Opened | None) -> Protocol | None:
        """Return the protocol that a file was recorded under; None where it is not on this computer."""
        beside = () if opened is None else sorted(map(str, opened.path.parent.glob("*.toml")))[:MOST_BESIDE]
        return found_again(recorded, (*self._picked, *self._own(), *beside))

    def _protocol_of(self, recorded: Recorded | None, opened: Opened | None) -> Protocol:
        """Return the protocol of a file; where it is not on this computer that of its name, else the standard one."""
        if recorded is None:
            return load_protocol()
        found = self._found(recorded, opened)
        if found is not None:
            return found
        return load_protocol(recorded.name) if recorded.name in known_protocols() else load_protocol()

    def _judge(self, protocol: Protocol) -> None:
        if self.opened is not None:
            self.trials = _judged(self.opened, protocol)
            self.chosen = protocol.hash != self._protocol_of(self.recorded, self.opened).hash
        self.protocol = protocol

    def _decide(self, index: int, decision: SetAside) -> None:
        trial = self._trial(index).trial
        if not decision.reason or not decision.by:
            raise ValueError("a decision needs a reason and the code of the examiner")
        if self.is_aside(index) == decision.aside:
            raise ValueError(f"trial {index + 1} is {'' if decision.aside else 'not '}set aside already")
        opened, session = self._present()
        if not (index < len(session.trials) and _same(session.trials[index], trial)):
            raise ArchiveError(f"{opened.path}: has changed since it was opened: open it again")
        session = session.with_decision(index, decision)
        decided = session.trials[index]
        write_session(opened.path, session)
        if self._store is not None:
            self._store.session = session
        self.opened = replace(opened, session=session, trials=_with(opened.trials, index, decided))
        self.trials = _with(self.trials, index, replace(self.trials[index], trial=decided))

    def _present(self) -> tuple[Opened, Session]:
        """Return what is open and its session as it is now, trials that came since among it."""
        opened = self.opened
        if opened is None or opened.session is None:
            raise ArchiveError(f"{opened.path if opened else 'nothing'}: a trace as text keeps no decisions")
        if self._store is not None:
            return opened, self._store.session
        if journal_path(opened.path).exists():
            raise ArchiveError(
                f"{opened.path}: its recording is under way or was cut off: end it or go on with it first"
            )
        return opened, read_session(opened.path)


def _judged(opened: Opened, protocol: Protocol) -> tuple[JudgedTrial, ...]:
    numbered = enumerate(zip(opened.trials, opened.origins, strict=True), start=1)
    return tuple(
        judge_trial(trial, protocol, number=number, name=opened.path.stem, origin=origin)
        for number, (trial, origin) in numbered
    )


def _with(values: tuple[Any, ...], index: int, value: object) -> tuple[Any, ...]:
    """Return the values with one of them replaced."""
    return (*values[:index], value, *values[index + 1 :])


def _same(one: Trial, other: Trial) -> bool:
    return np.array_equal(one.time, other.time) and np.array_equal(one.counts, other.counts)


def _read_session(path: Path) -> Opened:
    return _of_session(path, read_session(path))


def _of_session(path: Path, session: Session) -> Opened:
    return Opened(
        path=path,
        session=session,
        trials=session.trials,
        origins=(0.0,) * len(session.trials),
        contacts=len(session.contacts),
    )


def _read_trace(path: Path, rate_hz: float | None) -> Opened:
    try:
        stored = read_file(path, rate_hz=rate_hz)
    except TraceFileError:
        if rate_hz is None and _lacks_only_its_rate(path):
            raise RateNeededError(path) from None
        raise
    return Opened(
        path=path,
        session=None,
        trials=stored.trials,
        origins=tuple(stored.origin(trial) for trial in stored.trials),
        contacts=len(stored.contacts),
    )


def _lacks_only_its_rate(path: Path) -> bool:
    try:
        read_file(path, rate_hz=ANY_RATE_HZ)
    except TraceFileError:
        return False
    return True
