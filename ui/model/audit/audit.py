"""What Audit shows: the archive, the selected examiner, the order of the table, and the trials behind a number."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from acquire.values.arrays import BoolArray, IndexArray
from analysis.audit.archive_audit import Audit
from analysis.audit.ceilings import PILE
from analysis.audit.examiners import REJECTED, ExaminerAudit, session_starts
from analysis.audit.table import FactTable
from analysis.reliability.retest import Reliability
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.protocol import Protocol
from ui.model.audit.work import read_trials
from ui.model.plan.remembered import AuditChoice
from ui.words.phrase import Phrase

MOST_CURVES = 12
"""More would lie on one another."""

COLUMNS = ("examiner", "sessions", "trials", "rejected", "interval", "expected", "says")
NUMBERS = ("sessions", "trials", "rejected", "interval", "expected")
"""The columns that hold numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Behind:
    """Trials behind a number or a point."""

    what: Phrase
    """What they have in common; the name of a fault, a number or a unit is filled in by whoever says it."""
    trials: tuple[tuple[str, int], ...]
    """File in the archive and number of each that is shown, the latest first."""
    files: tuple[str, ...]
    """What the audit calls the file of each: a number where it is blind."""
    count: int
    """How many there are in all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadTrial:
    """One of them, read again."""

    file: str
    """What the audit calls its file."""
    number: int
    judged: JudgedTrial


@dataclass(frozen=True, slots=True, kw_only=True)
class BehindRead:
    """What could be read of them."""

    trials: tuple[ReadTrial, ...]
    gone: tuple[str, ...]
    """Files of which something could not be read again, as the audit calls them."""


class AuditModel:
    """An audit as it is looked at.

    Parameters
    ----------
    choice : AuditChoice
        What was audited last.

    Attributes
    ----------
    choice : AuditChoice
        What is chosen.
    audit : Audit or None
        What was found; None until an audit is done.
    audited : AuditChoice or None
        What that is of.
    """

    def __init__(self, choice: AuditChoice | None = None) -> None:
        self.choice = choice or AuditChoice()
        self.audit: Audit | None = None
        self.audited: AuditChoice | None = None
        self._code: str | None = None
        self._column, self._down = "says", True

    # what is chosen

    def choose_folder(self, folder: Path) -> None:
        """Choose another archive; what was found in the last one is of no use any more."""
        self._change(folder=str(folder))
        self.audit = self.audited = self._code = None

    def judge_by(self, protocol: str) -> None:
        """Choose a protocol for the next audit."""
        self._change(protocol=protocol)

    def set_blind(self, blind: bool) -> None:
        """Choose whether codes are replaced by numbers; what was found is dropped, for it shows the others."""
        self._change(blind=blind)
        self.audit = self.audited = self._code = None

    @property
    def stale(self) -> bool:
        """Whether what is shown is not what is chosen."""
        return self.audit is not None and self.audited != self.choice

    def found(self, audit: Audit, choice: AuditChoice) -> None:
        """Take what an audit found; the examiner that is looked at stays, where there is one of that name."""
        self.audit, self.audited = audit, choice
        codes = [examiner.code for examiner in self.examiners]
        if self._code not in codes:
            self._code = codes[0] if codes else None

    # who is looked at

    @property
    def examiners(self) -> tuple[ExaminerAudit, ...]:
        """All examiners, in the order that was chosen."""
        found = self.audit.examiners if self.audit else ()
        by_name = sorted(found, key=lambda examiner: in_order(examiner.code))
        return tuple(sorted(by_name, key=_KEYS[self._column], reverse=self._down))

    @property
    def order(self) -> tuple[str, bool]:
        """The column that the examiners are sorted by, and whether the largest comes first."""
        return self._column, self._down

    def sort(self, column: str) -> None:
        """Sort by a column, largest first where it holds numbers; the other way round when it is already."""
        self._down = not self._down if column == self._column else column != "examiner"
        self._column = column

    @property
    def selected(self) -> ExaminerAudit | None:
        """The examiner that is looked at."""
        return next((examiner for examiner in self.examiners if examiner.code == self._code), None)

    def select(self, code: str) -> None:
        """Look at an examiner."""
        self._code = code

    def next(self) -> None:
        """Look at the next one, and round."""
        codes = [examiner.code for examiner in self.examiners]
        if self._code in codes:
            self._code = codes[(codes.index(self._code) + 1) % len(codes)]

    # the trials behind

    def behind_share(self, code: str) -> Behind | None:
        """Return the selected examiner's trials that have a fault, or are rejected; None where there are none."""
        found = self._mine()
        if found is None:
            return None
        table, mine = found
        has = table.rejected if code == REJECTED else table.faults.get(code, np.zeros(len(table), dtype=bool))
        return self._latest(Phrase("audit.behind.share", {"fault": code}), np.flatnonzero(mine & has))

    def behind_number(self, name: str) -> Behind | None:
        """Return the selected examiner's trials that lie nearest to the median of a number: what is usual."""
        found, examiner = self._mine(), self.selected
        if found is None or examiner is None or name not in examiner.numbers:
            return None
        table, mine = found
        values = table.technique[name]
        off = np.abs(values - examiner.numbers[name].found.quartiles[1])
        known = np.flatnonzero(mine & ~np.isnan(values))
        rows = known[np.argsort(off[known], kind="stable")]
        return self._behind(Phrase("audit.behind.number", {"number": name}), rows[:MOST_CURVES], len(rows))

    def behind_ceiling(self) -> Behind | None:
        """Return the selected examiner's hand-held trials that pile up; None where none do."""
        found, examiner = self._mine(), self.selected
        if found is None or examiner is None or examiner.ceiling is None:
            return None
        table, mine = found
        low, high = (share * examiner.ceiling.force_n for share in PILE)
        piled = (table.plateau_n >= low) & (table.plateau_n <= high) & table.method.where("hand")
        what = Phrase("audit.behind.ceiling", {"force": examiner.ceiling.force_n})
        return self._latest(what, np.flatnonzero(mine & piled))

    def behind_session(self, at_s: float) -> Behind | None:
        """Return the selected examiner's trials of the session that began at a time."""
        found = self._mine()
        if found is None:
            return None
        table, mine = found
        files = np.flatnonzero(session_starts(table) == at_s)
        rows = np.flatnonzero(mine & np.isin(table.file.codes, files))
        return self._behind(Phrase("audit.behind.session", {"day": at_s}), rows[:MOST_CURVES], len(rows))

    def behind_pair(self, study: Reliability, index: int) -> Behind | None:
        """Return the trials of one person of a study by its examiners, of the action, side and method of the study."""
        table = self.audit.table if self.audit else None
        if table is None:
            return None
        person, kind = study.persons[index], study.kind
        alike = table.action.where(kind.action) & table.method.where(kind.method) & table.side.where(kind.side or "")
        theirs = np.any([table.examiner.where(code) for code in study.ratings], axis=0)
        rows = np.flatnonzero(table.person.where(person) & alike & theirs)
        return self._latest(Phrase("audit.behind.pair", {"person": person}), rows)

    def read(self, behind: Behind) -> BehindRead:
        """Read trials of the archive again, and judge them; takes a moment, so that it is done in a thread."""
        audit, choice = self.audit, self.audited
        if audit is None or choice is None:
            return BehindRead(trials=(), gone=())
        return _read(Path(choice.folder), behind, audit.protocol)

    def _mine(self) -> tuple[FactTable, BoolArray] | None:
        if self.audit is None or self._code is None:
            return None
        return self.audit.table, self.audit.table.examiner.where(self._code)

    def _latest(self, what: Phrase, rows: IndexArray) -> Behind | None:
        table = self.audit.table if self.audit else None
        if table is None:
            return None
        order = np.argsort(-np.nan_to_num(table.started_s[rows]), kind="stable")
        return self._behind(what, rows[order[:MOST_CURVES]], len(rows))

    def _behind(self, what: Phrase, rows: IndexArray, count: int) -> Behind | None:
        audit = self.audit
        if audit is None or not len(rows):
            return None
        files = audit.table.file.codes[rows]
        return Behind(
            what=what,
            trials=tuple(zip((audit.paths[file] for file in files), audit.table.number[rows].tolist(), strict=True)),
            files=tuple(audit.table.file.words[file] for file in files),
            count=count,
        )

    def _change(self, **changed: object) -> None:
        self.choice = msgspec.structs.replace(self.choice, **changed)


def _read(folder: Path, behind: Behind, protocol: Protocol) -> BehindRead:
    """Read each file once, and report one that is gone or has lost trials."""
    judged: dict[tuple[str, int], JudgedTrial] = {}
    for file in dict.fromkeys(file for file, _ in behind.trials):
        wanted = tuple(trial for trial in behind.trials if trial[0] == file)
        found = read_trials(folder, wanted, protocol)
        judged |= zip(wanted, found, strict=True) if len(found) == len(wanted) else ()
    named = list(zip(behind.trials, behind.files, strict=True))
    return BehindRead(
        trials=tuple(
            ReadTrial(file=file, number=trial[1], judged=judged[trial]) for trial, file in named if trial in judged
        ),
        gone=tuple(dict.fromkeys(file for trial, file in named if trial not in judged)),
    )


def in_order(code: str) -> tuple[tuple[str, int], ...]:
    """Return what sorts codes as people do.

    Examples
    --------
    >>> sorted(["EX-10", "EX-2", "EX-1"], key=in_order)
    ['EX-1', 'EX-2', 'EX-10']
    """
    return tuple((word, int(digits or 0)) for word, digits in re.findall(r"(\D*)(\d*)", code) if word or digits)


def findings(examiner: ExaminerAudit) -> int:
    """Return how many things stand out; -1 where there is too little to tell."""
    if not examiner.enough:
        return -1
    shares = sum(share.finding for share in examiner.shares.values())
    numbers = sum(number.finding for number in examiner.numbers.values())
    return shares + numbers + (examiner.ceiling is not None)


def _share(examiner: ExaminerAudit) -> float:
    return examiner.shares[REJECTED].found.share


def _expected(examiner: ExaminerAudit) -> float:
    return float(np.nan_to_num(examiner.shares[REJECTED].found.expected, nan=-1.0))


_KEYS: dict[str, Callable[[ExaminerAudit], Any]] = {
    "examiner": lambda examiner: in_order(examiner.code),
    "sessions": lambda examiner: examiner.sessions,
    "trials": lambda examiner: examiner.trials,
    "rejected": _share,
    "interval": lambda examiner: examiner.shares[REJECTED].found.interval[1],
    "expected": _expected,
    "says": findings,
}
