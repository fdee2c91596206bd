"""Numbers and names as a report writes them: in a language, with forces in a unit."""

from __future__ import annotations

import datetime as dt
import math
import re

from acquire.values.records import Side
from acquire.values.units import ForceUnit, from_newtons
from analysis.results.quantities import Unit
from analysis.statistics.uncertainty import Budget
from ui.model.review.text import DIGITS, action_name
from ui.words.conventions import localised
from ui.words.words import NOTHING, Words

NO_INTERVAL = "*"
"""Marks an uncertainty of which a component could not be evaluated."""

_COUNTERPART = {
    ForceUnit.NEWTON: Unit.NEWTON,
    ForceUnit.KILOGRAM_FORCE: Unit.KILOGRAM_FORCE,
    ForceUnit.POUND_FORCE: Unit.POUND_FORCE,
}


class Wording:
    """Writes words and numbers.

    Examples
    --------
    >>> wording = Wording(Words("de"), ForceUnit.NEWTON)
    >>> wording.number(0.046, 2), wording.force(212.34), wording.joined("knee-extension", "left")
    ('0,05', '212,3', 'Knieextension, links')
    """

    def __init__(self, words: Words, unit: ForceUnit) -> None:
        self.words, self.unit = words, unit

    def __call__(self, key: str, **values: object) -> str:
        """Return a word of the report, its gaps filled in."""
        return self.words(f"report.{key}", **values)

    # numbers

    def number(self, value: float | None, digits: int, *, signed: bool = False) -> str:
        """Return a number with so many digits after the mark; a dash for None."""
        return self.words.number(value, digits, signed=signed)

    def force(self, force_n: float | None) -> str:
        """Return a force in the unit of the report, without the unit."""
        return NOTHING if force_n is None else self.number(from_newtons(force_n, self.unit), DIGITS[self.unit])

    def strength(self, value: float | None, unit: Unit, *, signed: bool = False) -> str:
        """Return a score; a force in newtons is written in the unit of the report."""
        if value is not None and unit is Unit.NEWTON:
            return self.number(from_newtons(value, self.unit), DIGITS[self.unit], signed=signed)
        return self.number(value, 1 if unit in _ONE_DIGIT else 2, signed=signed)

    def symbol(self, unit: Unit) -> str:
        """Return what `strength` writes a score in."""
        shown = _COUNTERPART[self.unit] if unit is Unit.NEWTON else unit
        return self("unit.body_weight") if shown is Unit.PERCENT_BODY_WEIGHT else shown.value

    def with_uncertainty(
        self, value: float | None, budget: Budget | None, *, newtons: bool = False, most: int = 2, unit: str = ""
    ) -> str:
        """Return a value and its expanded uncertainty, this to two significant digits, that to the same place.

        Both end at `most` places after the mark; a unit given follows them. Where a source of error could not be
        evaluated the value stands alone, marked: the rest would make the least known value look like the surest.

        References
        ----------
        JCGM 100:2008, 7.2.6: an uncertainty has at most two significant digits, the value ends at the same place.
        """
        if value is None or budget is None:
            return NOTHING
        divisor = self.unit.newtons if newtons else 1.0
        if not budget.complete:
            return f"{self.number(value / divisor, DIGITS[self.unit] if newtons else 1)}{unit}{NO_INTERVAL}"
        reach = budget.expanded / divisor
        digits = min(most, places(reach))
        return f"{self.number(value / divisor, digits)} ± {self.number(reach, digits)}{unit}"

    def marked(self, sentence: str) -> str:
        """Return a sentence that was made with decimal points with the decimal mark of the language."""
        return _DECIMALS.sub(lambda found: localised(found[0], self.words.language), sentence)

    # names

    def day(self, when: dt.date) -> str:
        """Return a day as the language writes it."""
        return self.words.day(when)

    def moment(self, when: dt.datetime) -> str:
        """Return a moment to the minute, in the zone it was written with."""
        return self.words.moment(when)

    def action(self, key: str | None) -> str:
        """Return what an action is called."""
        return action_name(key, self.words) or self("no_action")

    def side(self, side: Side | None) -> str:
        """Return a side, or a dash."""
        return NOTHING if side is None else self.words(f"test.{side}")

    def joined(self, action: str | None, side: Side | None) -> str:
        """Return action and side in one phrase."""
        name = self.action(action)
        return name if side is None else f"{name}, {self.side(side)}"

    def listed(self, group: str, values: tuple[str, ...]) -> str:
        """Return the words of several enum values."""
        return ", ".join(self(f"{group}.{value}") for value in values)


_DECIMALS = re.compile(r"\d\.\d")

_ONE_DIGIT = frozenset({Unit.NEWTON_METRE, Unit.PERCENT_BODY_WEIGHT, Unit.KILOGRAM_FORCE, Unit.POUND_FORCE})


def places(reach: float) -> int:
    """Return how many places after the mark leave an uncertainty two significant digits, none to four.

    Examples
    --------
    >>> places(14.6), places(6.14), places(0.137), places(0.0)
    (0, 1, 2, 1)
    """
    if not (math.isfinite(reach) and reach > 0.0):
        return 1
    first = math.floor(math.log10(reach))
    if round(reach, 1 - first) >= 10.0 ** (first + 1):  # 9.97 is written 10
        first += 1
    return min(4, max(0, 1 - first))
