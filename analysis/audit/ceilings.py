"""Plateaus that pile up at one value: the most that an examiner's own hands can hold.

Where an examiner is weaker than the person, the plateau says what the examiner can hold. Such plateaus pile up at one
value whoever pushes and whatever the action, and nothing lies above, while other examiners, or a belt, find higher
forces in the same actions. Both are asked for: fewer above the value than others' forces let expect, and more just
below it.

The rule is one of ours, no source. How often it finds what was put into invented archives, and how often it cries
wolf, is in DEVELOPERS.md.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from acquire.values.arrays import FloatArray

LEAST_PERSONS = 12
"""Plateaus of so many persons, actions and sides are needed."""
QUANTILES = (0.75, 0.8, 0.85, 0.9, 0.95)
"""Where the top of the pile is looked for among an examiner's plateaus."""
PILE = (0.94, 1.04)
"""From where to where a pile reaches, as shares of its middle: hands vary by a few per cent."""
ALPHA = 0.002
"""For each of the two, over all quantiles."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ceiling:
    """A pile of plateaus."""

    force_n: float
    """The middle of the pile."""
    count: int
    """Plateaus in the pile."""
    of: int
    """Plateaus held by hand, the best of each person, action and side."""
    expected_above: float
    """How many of them others' forces let expect above the pile; hardly any are."""
    others_n: float
    """What others' forces are on average where they are above the pile: what a belt would be expected to show."""
    actions: tuple[str, ...]
    """Whose plateaus are in the pile."""


def find_ceiling(mine: Mapping[str, FloatArray], others: Mapping[str, FloatArray]) -> Ceiling | None:
    """Return the ceiling at which an examiner's plateaus pile up; None where they do not, or are too few to tell.

    Parameters
    ----------
    mine : mapping of str to ndarray
        By action, the plateau forces that this examiner held by hand, N, shape (n,), one of each person and side;
        none is NaN.
    others : mapping of str to ndarray
        By action, those of all other examiners, by hand or belt, N, shape (m,).

    Examples
    --------
    >>> chance = np.random.default_rng(1)
    >>> free = {"knee-extension": chance.lognormal(5.9, 0.3, 200)}
    >>> find_ceiling({"knee-extension": chance.lognormal(5.9, 0.3, 40)}, free) is None
    True
    >>> held = np.minimum(chance.lognormal(5.9, 0.3, 40), 300.0 * chance.normal(1.0, 0.015, 40))
    >>> abs(find_ceiling({"knee-extension": held}, free).force_n - 300.0) < 6.0
    True
    """
    known = {action: mine[action] for action in mine if len(mine[action]) and len(others.get(action, ()))}
    if sum(len(values) for values in known.values()) < LEAST_PERSONS:
        return None
    pooled = np.concatenate(list(known.values()))
    found = [pile for force in np.quantile(pooled, QUANTILES) if (pile := _pile_at(float(force), known, others))]
    return max(found, key=lambda pile: pile.count, default=None)


def _pile_at(force: float, mine: Mapping[str, FloatArray], others: Mapping[str, FloatArray]) -> Ceiling | None:
    """Return the pile at a force, when there is one."""
    from scipy import stats  # noqa: PLC0415 (heavy)

    low, high = (share * force for share in PILE)
    pooled = np.concatenate(list(mine.values()))
    within, above = int(((pooled >= low) & (pooled <= high)).sum()), int((pooled > high).sum())
    expected = _expected(mine, others, low, high)
    expected_within, expected_above = (float(np.sum(column)) for column in zip(*expected, strict=True))
    limit = ALPHA / len(QUANTILES)
    too_few_above = float(stats.poisson.cdf(above, expected_above))
    too_many_within = float(stats.poisson.sf(within - 1, max(expected_within, 1e-9)))
    if too_few_above > limit or too_many_within > limit:
        return None
    in_pile = pooled[(pooled >= low) & (pooled <= high)]
    higher = np.concatenate([others[action][others[action] > high] for action in mine])
    return Ceiling(
        force_n=float(np.median(in_pile)),
        count=within,
        of=len(pooled),
        expected_above=expected_above,
        others_n=float(higher.mean()),
        actions=tuple(action for action in mine if ((mine[action] >= low) & (mine[action] <= high)).any()),
    )


def _expected(
    mine: Mapping[str, FloatArray], others: Mapping[str, FloatArray], low: float, high: float
) -> list[tuple[float, float]]:
    """Return for each action how many within and above a pile others' forces let expect."""

    def each() -> Iterator[tuple[float, float]]:
        for action, values in mine.items():
            theirs = others[action]
            within = float(((theirs >= low) & (theirs <= high)).mean())
            yield len(values) * within, len(values) * float((theirs > high).mean())

    return list(each())
