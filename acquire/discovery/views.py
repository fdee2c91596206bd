"""The ways to read text lines as a table, and the one in which a column answers the push best."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from acquire.discovery.capture import Capture, Task
from acquire.discovery.counters import Counter, counter, running_median, unwrapped
from acquire.discovery.findings import Confidence
from acquire.discovery.push import Answer, answer
from acquire.discovery.scale import UNIT_WORDS
from acquire.discovery.table import Column, Lines, Table, tables
from acquire.errors import DiscoveryError, DiscoveryFailure
from acquire.sensor.clock_columns import CLOCK_COLUMNS
from acquire.values.arrays import FloatArray
from acquire.values.units import ForceUnit

ALIKE = 0.98
"""Correlation of columns that say the same."""
ASSUMED_HZ = 80.0
"""To cut a file without times into stretches; nothing else is made of it."""


@dataclass(frozen=True, kw_only=True, eq=False)
class View:
    """One way to read the lines."""

    table: Table
    time: FloatArray
    """Seconds of the rows."""
    counters: dict[int, Counter]
    """What counts, by its place in the line."""
    answers: dict[int, Answer]
    """How each column that may be the force answered the push."""

    @cached_property
    def merit(self) -> tuple[float, ...]:
        """How much speaks for this way, to be compared."""
        pushed = any(seen.pushed is not None for seen in self.answers.values())
        return (float(pushed), float(bool(self.answers)), float(len(self.counters)), self.table.share)

    @cached_property
    def force(self) -> int:
        """The column of the force: of those that say the same as the clearest, counts before decimal numbers."""
        clearest = max(self.answers, key=lambda at: (self.answers[at].pushed is not None, self.answers[at].strength))
        return next((at for at in self._alike(clearest) if self.table.columns[at].integer), clearest)

    @cached_property
    def beside(self) -> int | None:
        """A column that says with a point what the force says in counts."""
        if not self.table.columns[self.force].integer:
            return None
        return next((at for at in self._alike(self.force) if not self.table.columns[at].integer), None)

    @cached_property
    def clock(self) -> tuple[FloatArray, float] | None:
        """The device's clock at each row, without its turns, NaN where damaged; and its steps a second."""
        for at, counted in self.counters.items():
            if counted.name in CLOCK_COLUMNS:
                return unwrapped(self.table.columns[at].filled), CLOCK_COLUMNS[counted.name].steps_per_s
        return None

    @cached_property
    def unit(self) -> tuple[ForceUnit | None, str]:
        """The unit that stands as a word beside the decimal number, and where."""
        number = self.force if self.beside is None else self.beside
        for at in (number + 1, number - 1):
            column = self.table.columns[at] if 0 <= at < len(self.table.columns) else None
            word = "" if column is None or column.is_number else re.sub(r"[^a-z]", "", column.example.lower())
            if column is not None and word in UNIT_WORDS:
                return UNIT_WORDS[word], f"by the word beside it, {column.example!r}"
        return None, ""

    def _alike(self, force: int) -> list[int]:
        """Return the columns that go up and down with one, that one too, from left to right."""
        pushed = [at for at, seen in self.answers.items() if seen.pushed is not None or at == force]
        reference = self.table.columns[force]
        return [at for at in pushed if at == force or _correlation(self.table.columns[at], reference) >= ALIKE]


def best_view(lines: Lines, capture: Capture, *, rate_hz: float | None) -> View:
    """Return the way to read some lines in which a column answers the push best.

    Parameters
    ----------
    lines : Lines
        Of the capture, with numbers in them.
    capture : Capture
        For arrivals, and for what was asked when.
    rate_hz : float, optional
        What the user says.

    Raises
    ------
    DiscoveryError
        NO_NUMBERS, where no column can be a force, or a comma is a decimal comma.
    """
    view = max((_view(table, capture, rate_hz) for table in tables(lines)), key=lambda each: each.merit)
    if not view.answers:
        raise DiscoveryError(
            "no column of numbers can be a force: each of them counts, or there are too few lines; "
            "let the program look for longer, and see that the sensor measures",
            reason=DiscoveryFailure.NO_NUMBERS,
        )
    _refuse_decimal_comma(view)
    return view


def _view(table: Table, capture: Capture, rate_hz: float | None) -> View:
    arrivals = capture.arrivals(table.ends) if capture.timed else None
    numbers = {at: column for at, column in enumerate(table.columns) if column.is_number}
    found = {at: counted for at, column in numbers.items() if (counted := counter(column, arrivals)) is not None}
    view = View(table=table, time=np.empty(0), counters=_one_of_each(found), answers={})
    times = _times(view, arrivals, rate_hz)
    forces = {at: column for at, column in numbers.items() if at not in found}
    lively = {at: column for at, column in forces.items() if not column.constant}
    quiet, push = capture.told(Task.QUIET), capture.told(Task.PUSH)
    answers = {at: answer(times, column.values, quiet, push) for at, column in (lively or forces).items()}
    return replace(view, time=times, answers={at: seen for at, seen in answers.items() if seen is not None})


def _one_of_each(found: dict[int, Counter]) -> dict[int, Counter]:
    """Keep one line number and the finest clock; the format has room for no more."""
    clocks = [at for at, counted in found.items() if counted.name in CLOCK_COLUMNS]
    finest = max(clocks, key=lambda at: CLOCK_COLUMNS[found[at].name].steps_per_s, default=None)
    first = next((at for at, counted in found.items() if counted.name == "seq"), None)
    kept = {finest, first}
    return {at: counted if at in kept or counted.name == "-" else _spare(counted.name) for at, counted in found.items()}


def _spare(name: str) -> Counter:
    return Counter(name="-", confidence=Confidence.SURE, why=f"another {name}, not needed, ignored")


def _times(view: View, arrivals: FloatArray | None, rate_hz: float | None) -> FloatArray:
    """Return seconds for the rows: of arrival, else by the clock, else counted."""
    if arrivals is not None:
        return arrivals
    if view.clock is not None:
        ticks, steps_per_s = view.clock
        rows, there = np.arange(len(ticks)), np.isfinite(ticks)
        return np.asarray(np.maximum.accumulate(np.interp(rows, rows[there], ticks[there] / steps_per_s)))
    return np.arange(len(view.table.ends)) / (rate_hz or ASSUMED_HZ)


def _correlation(one: Column, other: Column) -> float:
    """Return how closely two columns go together, up or down, damaged numbers set aside."""
    return abs(float(np.corrcoef(running_median(one.filled), running_median(other.filled))[0, 1]))


def _refuse_decimal_comma(view: View) -> None:
    """Refuse a number that the comma cut in two, such as 12,05."""
    if view.table.separator != ",":
        return
    for left in {view.force, view.force - 1} - view.counters.keys() - {-1}:
        pair = view.table.columns[left : left + 2]
        if len(pair) == 2 and pair[0].integer and pair[1].padded:
            raise DiscoveryError(
                f"the comma in numbers such as {pair[0].example},{pair[1].example} seems to be a decimal comma: "
                "set the sensor to a decimal point, since the format wants one (hardware_notes/wire_formats.md)",
                reason=DiscoveryFailure.NO_NUMBERS,
            )
