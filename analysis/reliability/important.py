"""The smallest change that matters to a person (MCID), where one is published: beside the detectable change, never it.

A change may be beyond error and matter to nobody, or matter and be lost in error.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass

from acquire.values.units import ForceUnit
from analysis.reliability.change import Change
from analysis.reliability.published import PublishedChange, load_published
from analysis.results.quantities import Unit

IN_NEWTONS = {"N": 1.0, "kgf": ForceUnit.KILOGRAM_FORCE.newtons, "lbf": ForceUnit.POUND_FORCE.newtons}


class Beside(enum.StrEnum):
    """Where a change lies beside the smallest that matters."""

    BELOW = "below"
    WITHIN = "within"
    """Within the published range."""
    ABOVE = "above"


@dataclass(frozen=True, slots=True, kw_only=True)
class Important:
    """A change beside one that was found to matter."""

    row: PublishedChange
    low: float
    high: float
    """In the unit of the scores."""
    beside: Beside


def important(change: Change) -> tuple[Important, ...]:
    """Return the published changes that matter, beside a change of the same action, held alike.

    Parameters
    ----------
    change : Change
        Of forces or torques. A row in per cent is a share of the earlier score.

    References
    ----------
    The sources are in the rows of ``analysis/data/reliability/important.csv``.

    Examples
    --------
    A knee by hand that gains 60 N: 5.2 kgf, 51 N, were found to matter to people with COPD.

    >>> import datetime as dt, msgspec
    >>> from analysis.reliability.change import change as between
    >>> from analysis.results.scores import Score
    >>> march, june = (dt.datetime(2026, month, 1, tzinfo=dt.UTC) for month in (3, 6))
    >>> first = Score(person="P-01", when=march, action="knee-extension", side="left", value=210.0)
    >>> (found,) = important(between(first, msgspec.structs.replace(first, when=june, value=270.0)))
    >>> round(found.low, 1), found.beside.value
    (51.0, 'above')
    """
    kind = change.later.kind
    rows = (row for row in important_rows() if (row.action, row.method) == (kind.action, kind.method))
    return tuple(found for row in rows if (found := _beside(row, change, kind.unit)) is not None)


def important_rows() -> tuple[PublishedChange, ...]:
    """Return what comes with the program.

    Examples
    --------
    >>> [(row.unit, row.high) for row in important_rows()]
    [('kgf', 5.2), ('%', 12.6)]
    """
    return load_published("important").rows


def _beside(row: PublishedChange, change: Change, unit: Unit) -> Important | None:
    factor = _factor(row, change, unit)
    if factor is None:
        return None
    low, high, size = factor * (row.low or row.high), factor * row.high, abs(change.difference)
    place = Beside.BELOW if size < low else Beside.ABOVE if size >= high else Beside.WITHIN
    return Important(row=row, low=low, high=high, beside=place)


def _factor(row: PublishedChange, change: Change, unit: Unit) -> float | None:
    """Return what turns a row into the unit of the scores; None where nothing does."""
    if row.unit == "%":
        return change.earlier.value / 100.0
    if unit is Unit.NEWTON:
        return IN_NEWTONS.get(row.unit)
    return 1.0 if row.unit == unit.value else None
