"""The facts of an archive as columns: one row a trial, so that hundreds of thousands stay small."""

from __future__ import annotations

from array import array
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from acquire.values.arrays import BoolArray, FloatArray, IndexArray
from analysis.audit.facts import TrialFacts
from analysis.trial.technique import NAMES

Codes = NDArray[np.int32]
UNNAMED = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WordColumn:
    """A column of words: each row holds the number of its word."""

    words: tuple[str, ...]
    codes: Codes
    """Shape (n,), into `words`."""

    def where(self, word: str) -> BoolArray:
        """Return which rows hold a word."""
        if word not in self.words:
            return np.zeros(len(self.codes), dtype=bool)
        return np.asarray(self.codes == self.words.index(word))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FactTable:
    """One row a trial that nobody set aside, in the order of files and trials."""

    file: WordColumn
    number: Codes
    """Of the trial in its file, from 1."""
    person: WordColumn
    examiner: WordColumn
    action: WordColumn
    """Empty where a trial was of any action."""
    method: WordColumn
    side: WordColumn
    sensor: WordColumn
    started_s: FloatArray
    """Seconds since 1970, NaN where unknown."""
    rejected: BoolArray
    faults: dict[str, BoolArray]
    """Which trials each fault rejects, by its code."""
    technique: dict[str, FloatArray]
    """By the names of `analysis.trial.technique`, NaN where a trace cannot show it."""
    plateau_n: FloatArray
    rest_s: FloatArray
    zero_n: FloatArray
    newtons_per_count: FloatArray

    def __len__(self) -> int:
        return len(self.number)

    def strata(self) -> IndexArray:
        """Return a number for each row, the same for the same action by the same method: what may be compared."""
        return grouped(self.action, self.method)

    def clusters(self) -> IndexArray:
        """Return a number for each row, the same for the same person and examiner, or session where nobody is named."""
        named = np.array([bool(word) for word in self.person.words])[self.person.codes]
        session = WordColumn(
            words=("", *self.file.words), codes=np.where(named, 0, self.file.codes + 1).astype(np.int32)
        )
        return grouped(self.examiner, self.person, session)


class _Words:
    """A column of words as it grows."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}
        self._codes = array("i")

    def add(self, word: str) -> None:
        self._codes.append(self._numbers.setdefault(word, len(self._numbers)))

    def column(self) -> WordColumn:
        return WordColumn(words=tuple(self._numbers), codes=np.frombuffer(self._codes, dtype=np.int32))


def grouped(*columns: WordColumn) -> IndexArray:
    """Return a number for each row, the same for rows whose words are the same in all columns.

    Returns
    -------
    ndarray of int, shape (n,)
        From 0 up.

    Examples
    --------
    >>> action = WordColumn(codes=np.array([0, 0, 1]), words=("hip-flexion", "knee-flexion"))
    >>> method = WordColumn(codes=np.array([0, 1, 0]), words=("hand", "belt"))
    >>> grouped(action).tolist(), grouped(action, method).tolist()
    ([0, 0, 1], [0, 1, 2])
    """
    keys = np.zeros(len(columns[0].codes), dtype=np.int64)
    for column in columns:
        keys = keys * (len(column.words) + 1) + column.codes
    return np.asarray(np.unique(keys, return_inverse=True)[1].astype(np.intp))


NUMBERS = ("started_s", "plateau_n", "rest_s", "zero_n", "newtons_per_count")
WORDS = ("file", "person", "examiner", "action", "method", "side", "sensor")


def fact_table(sessions: Iterable[tuple[str, Iterable[TrialFacts]]]) -> FactTable:
    """Return the trials of an archive as columns.

    Parameters
    ----------
    sessions : iterable of (str, iterable of TrialFacts)
        File and trials; those that were set aside are left out.
    """
    words = {name: _Words() for name in WORDS}
    numbers = {name: array("d") for name in (*NUMBERS, *NAMES)}
    number, rejected = list[int](), list[bool]()
    faults: dict[str, list[int]] = {}
    for file, trials in sessions:
        for trial in trials:
            if trial.aside:
                continue
            for name, word in zip(WORDS, _words_of(file, trial), strict=True):
                words[name].add(word)
            for name in NUMBERS:
                numbers[name].append(_number(getattr(trial, name)))
            for name in NAMES:
                numbers[name].append(_number(getattr(trial.technique, name)))
            for code in trial.faults:
                faults.setdefault(code, []).append(len(number))
            number.append(trial.number)
            rejected.append(not trial.accepted)
    columns: dict[str, Any] = {name: np.frombuffer(values) for name, values in numbers.items()}
    spoken: dict[str, Any] = {name: growing.column() for name, growing in words.items()}
    return FactTable(
        **spoken,
        **{name: columns[name] for name in NUMBERS},
        number=np.array(number, dtype=np.int32),
        rejected=np.array(rejected, dtype=bool),
        faults={code: _marked(rows, len(number)) for code, rows in sorted(faults.items())},
        technique={name: columns[name] for name in NAMES},
    )


def _words_of(file: str, trial: TrialFacts) -> tuple[str, ...]:
    return file, trial.person, trial.examiner, trial.action or "", trial.method, trial.side or "", trial.sensor


def _number(value: float | None) -> float:
    return np.nan if value is None else float(value)


def _marked(rows: list[int], count: int) -> BoolArray:
    marked = np.zeros(count, dtype=bool)
    marked[rows] = True
    return marked
