"""How much the difference between sides differs from one session to the next: of one's own persons, or published.

The uncertainty of one session says how well that session is known; what a difference must exceed to be more than chance
is what it changes by when nothing has changed. One's own is worked out from persons tested twice, by the logarithm of
left over right.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import msgspec

from acquire.values.records import Method
from analysis.reliability.published import PublishedChange, load_published
from analysis.reliability.retest import retest_reliability
from analysis.results.scores import Score


class SideError(msgspec.Struct, frozen=True, kw_only=True):
    """The minimal detectable change of a difference between sides."""

    points: float
    """Percentage points."""
    persons: int | None = None
    """Of one's own data."""
    published: PublishedChange | None = None


def published_side_errors() -> tuple[PublishedChange, ...]:
    """Return what comes with the program.

    Examples
    --------
    >>> [(row.action, row.method, row.high) for row in published_side_errors()]
    [('knee-extension', 'belt', 22.9)]
    """
    return load_published("side-index").rows


def side_errors(scores: Iterable[Score]) -> dict[tuple[str, Method], SideError]:
    """Return the detectable change of the difference between sides by action and method.

    Parameters
    ----------
    scores : iterable of Score
        Forces of persons tested again, see `analysis.reliability.retest`; of both sides on each occasion.

    Returns
    -------
    dict
        One's own where there are persons enough, else what is published.

    References
    ----------
    Parkinson 2021, J Sports Sci Med 20:594-617, for the indices; Weir 2005 for the change, here by Student's t.

    Examples
    --------
    >>> round(side_errors([])["knee-extension", "belt"].points, 1)
    22.9
    """
    found = {(row.action, row.method): SideError(points=row.high, published=row) for row in published_side_errors()}
    for study in retest_reliability(_quotients(scores)):
        if study.numbers is not None:
            points = -100.0 * math.expm1(-study.numbers.mdc95_log)
            key = (study.kind.action, study.kind.method)
            found[key] = SideError(points=points, persons=len(study.persons))
    return found


def _quotients(scores: Iterable[Score]) -> list[Score]:
    """Return left over right of each occasion where both are there, as scores of no side."""
    sides: dict[tuple[object, ...], dict[str, Score]] = {}
    for score in scores:
        if score.side is not None and not score.unit.needs_lever_arm:
            key = (score.person, score.when, score.kind._replace(side=None))
            sides.setdefault(key, {})[score.side] = score
    both = [each for each in sides.values() if len(each) == 2]
    return [
        msgspec.structs.replace(
            each["left"], side=None, value=each["left"].value / each["right"].value, lever_arm_m=None
        )
        for each in both
        if min(score.value for score in each.values()) > 0.0
    ]
