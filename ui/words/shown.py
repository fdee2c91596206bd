"""Numbers with their units in a sentence: forces in the unit of the user, and a number beside its limit."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from acquire.values.units import ForceUnit, from_newtons
from analysis.trial.number import Kind, Number
from ui.words.conventions import localised

_SPEC = re.compile(r"(\+?)(?:\.(\d)f)?(ms)?")
MOST_DIGITS = 4
"""After the decimal sign, of a number that is written as it is."""


class Shown(NamedTuple):
    """A number for the gap of a sentence, ``{measured:.1f}``: without digits in the gap, with no more than it needs.

    A force gets its unit, and one digit more where the unit is not the newton: the others are larger. Seconds become
    milliseconds by ``{measured:.0fms}``.

    Examples
    --------
    >>> limit = Shown(115.0, Kind.PERCENT)
    >>> limit.written("", "en"), Shown(115.04, Kind.PERCENT, beside=115.0).written(".0f", "de")
    ('115', '115,04')
    >>> Shown(250.0, Kind.FORCE, unit=ForceUnit.POUND_FORCE).written("+.0f", "en")
    '+56.2 lbf'
    """

    value: float
    kind: Kind
    unit: ForceUnit = ForceUnit.NEWTON
    beside: float | None = None
    """The number that it must not look like."""

    def written(self, spec: str, language: str) -> str:
        """Return the number as a language writes it, with so many digits at least that it differs from the other."""
        found = _SPEC.fullmatch(spec)
        if found is None:
            raise ValueError(f"gap of a number must say its digits as in {{limit:+.1f}}, got {spec}")
        sign, digits, milli = found.groups()
        value, beside, symbol = self.value, self.beside, ""
        if milli:
            value, beside = 1000.0 * value, None if beside is None else 1000.0 * beside
        if self.kind is Kind.FORCE:
            value, symbol = from_newtons(value, self.unit), f" {self.unit.symbol}"
            beside = None if beside is None else from_newtons(beside, self.unit)
            digits = str(int(digits or 0) + (self.unit is not ForceUnit.NEWTON))
        if digits is None:
            text = f"{value:{sign}.{MOST_DIGITS}f}".rstrip("0").rstrip(".")
        else:
            places = int(digits) if beside is None else digits_apart(value, beside, digits=int(digits))
            text = f"{round(value, places) + 0.0:{sign}.{places}f}"  # no minus before nothing
        return localised(text, language) + symbol


def gaps(numbers: Iterable[Number], unit: ForceUnit = ForceUnit.NEWTON) -> dict[str, object]:
    """Return what fills the gaps of a sentence, by name: `measured` is told from its `limit`, `count` takes a plural.

    Examples
    --------
    >>> found = gaps((Number("measured", 115.04, Kind.PERCENT), Number("limit", 115.0, Kind.PERCENT)))
    >>> "{measured:.0f}", found["measured"].written(".0f", "en")
    ('{measured:.0f}', '115.04')
    """
    named = {each.name: each for each in numbers}
    found: dict[str, object] = {name: Shown(each.value, each.kind, unit) for name, each in named.items()}
    if {"measured", "limit"} <= named.keys():
        (_, measured, kind), (_, limit, _) = named["measured"], named["limit"]
        found["measured"] = Shown(measured, kind, unit, beside=limit)
        found["limit"] = Shown(limit, kind, unit, beside=measured if kind is Kind.FORCE else None)
    counts = [int(each.value) for each in named.values() if each.kind is Kind.COUNT]
    return found | {"count": counts[0]} if counts else found


def digits_apart(measured: float, limit: float, *, digits: int = 0) -> int:
    """Return how many digits after the decimal sign tell a number from its limit.

    Parameters
    ----------
    measured, limit : float
        In one unit.
    digits : int
        At least; four more at most.

    Examples
    --------
    >>> digits_apart(115.3, 115.0), digits_apart(3.46, 3.5, digits=1), digits_apart(7.0, 5.0)
    (1, 2, 0)
    """
    apart = (
        places for places in range(digits, digits + MOST_DIGITS) if round(measured, places) != round(limit, places)
    )
    return next(apart, digits + MOST_DIGITS)
