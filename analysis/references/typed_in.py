"""A table that a user types in: an empty one to begin with, and what looks like a slip of the key in a full one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from analysis.references.tables import MeanRow, ReferenceRow, ReferenceTable

EMPTY = """\
# title: WHAT THE TABLE IS OF
# source: WHOM TO CITE, WITH PAGES OR DOI
# population: WHO WAS MEASURED, AND HOW MANY
# verified: typed in from the printed table, and compared with it again
# kind: mean
# unit: N | kgf | lbf | N/kg | % body weight | N m | N m/kg
# method: make | break | not stated
# instrument: hand-held | belt | fixed | several | not stated
# position: supine | seated | prone | side-lying | standing | not stated
# score: peak | plateau | best-1s | best-0.5s | not stated
# score-of: best | mean | median | not stated
# sd: published
# caution: WHAT TO BEAR IN MIND; LEAVE THE LINE OUT WHERE NOTHING IS
action,sex,age_from,age_to,side,n,mean,sd
"""
"""Of each key that offers several words, one is to be left."""

USUAL_CV_PCT = (10.0, 50.0)
"""Persons differ by 20 to 30 % of their mean (Benfica 2018, Braz J Phys Ther 22:355-369); half or twice is odd."""

ODD_FACTOR = 4.0
"""Means of one action that differ by more between rows are of different units, or a digit is wrong: our value."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A row that looks like a slip of the key."""

    row: MeanRow
    cv_pct: float | None = None
    """The deviation as a share of the mean, where that is odd."""
    others: float | None = None
    """The middle mean of the other rows of the action, where this one is far from it."""


def doubts(table: ReferenceTable) -> tuple[Doubt, ...]:
    """Return the rows of a table that look like a slip of the key: a line is right in form, and may be wrong in digits.

    Examples
    --------
    >>> from analysis.references.tables import load_table
    >>> doubts(load_table("alvarenga-2019"))
    ()
    """
    return tuple(_doubts([row for row in table.rows if isinstance(row, MeanRow)]))


def _doubts(rows: list[MeanRow]) -> Iterator[Doubt]:
    low, high = USUAL_CV_PCT
    for row in rows:
        share = None if row.sd is None else 100.0 * row.sd / row.mean
        others = sorted(each.mean for each in rows if each.action == row.action and each is not row)
        middle = others[len(others) // 2] if len(others) > 1 else None
        odd_share = share if share is not None and not low <= share <= high else None
        far = middle if middle is not None and not 1.0 / ODD_FACTOR < row.mean / middle < ODD_FACTOR else None
        if odd_share is not None or far is not None:
            yield Doubt(row=row, cv_pct=odd_share, others=far)


def actions_of(rows: tuple[ReferenceRow, ...]) -> tuple[str, ...]:
    """Return the actions that a table has, in order.

    Examples
    --------
    >>> from analysis.references.tables import load_table
    >>> actions_of(load_table("sarabon-2021").rows)
    ('knee-extension', 'knee-flexion')
    """
    return tuple(dict.fromkeys(row.action for row in rows))
