"""One examiner against all others, like with like: within the same action and method.

**Shares** (rejected, each fault). Trials of one stratum, an action and a method, are a fourfold table: this examiner or
others, with or without. The Mantel-Haenszel test asks whether the tables together differ from chance, the standardised
share says by how much: all others' shares, weighted by this examiner's strata, are what was expected. Trials of a
session share a person and a day, so the variance is multiplied by how much more the sessions of one examiner differ
than chance lets them.

**Numbers** (ramp time, jerk, ...). The unit is the mean of a session's stratum; the van Elteren test compares ranks
within strata.

References
----------
Mantel and Haenszel 1959, J Natl Cancer Inst 22:719-748 (from memory); checked against statsmodels.
van Elteren 1960, Bull Int Stat Inst 37:351-361 (from memory).
Spiegelhalter 2005, Stat Med 24:1185-1202 (funnels, and the multiplicative factor for over-dispersion).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from acquire.values.arrays import BoolArray, FloatArray, IndexArray
from analysis.statistics.proportions import wilson_interval

LEAST_TRIALS = 20
LEAST_SESSIONS = 5
"""With fewer nothing is said of an examiner: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareFound:
    """How often something happens to one examiner, and to all others in the same strata."""

    count: int
    trials: int
    interval: tuple[float, float]
    """Of the share, by Wilson."""
    expected: float
    """The share of all others in this examiner's strata; NaN where there are no others."""
    standardised: float
    """Share that this examiner would have in the strata of all together: overall share times found over expected."""
    p: float
    """Of the stratified test; NaN where nothing can be compared."""

    @property
    def share(self) -> float:
        """Of the trials."""
        return self.count / self.trials


def compare_share(mine: BoolArray, has: BoolArray, stratum: IndexArray, *, spread: float = 1.0) -> ShareFound:
    """Compare how often something happens to one examiner with all others.

    Parameters
    ----------
    mine, has : ndarray of bool, shape (n,)
        Which trials are this examiner's, and which have it.
    stratum : ndarray of int, shape (n,)
        Trials that may be compared, such as those of one action and method, have the same number.
    spread : float
        How many times more the sessions differ than chance explains, see `over_dispersion`.

    Raises
    ------
    ValueError
        If none of the trials is this examiner's.

    Examples
    --------
    Six of ten trials have the fault, against two of ten of the other examiners.

    >>> mine = np.arange(20) < 10
    >>> has = np.array([True] * 6 + [False] * 4 + [True] * 2 + [False] * 8)
    >>> found = compare_share(mine, has, np.zeros(20, dtype=np.intp))
    >>> found.count, found.trials, found.expected, round(found.p, 2)
    (6, 10, 0.2, 0.18)
    """
    trials, count = int(mine.sum()), int((mine & has).sum())
    if not trials:
        raise ValueError("mine must hold at least one trial")
    tables = _tables(mine, has, stratum)
    expected, observed, p = _mantel_haenszel(tables, spread)
    overall = float(has.mean())
    return ShareFound(
        count=count,
        trials=trials,
        interval=wilson_interval(count, trials),
        expected=expected,
        standardised=overall * observed / expected if expected > 0.0 else math.nan,
        p=p,
    )


@dataclass(frozen=True, slots=True)
class _Tables:
    """A fourfold table a stratum, shape (strata,) each."""

    mine: FloatArray
    mine_with: FloatArray
    others: FloatArray
    others_with: FloatArray


def _tables(mine: BoolArray, has: BoolArray, stratum: IndexArray) -> _Tables:
    size = int(stratum.max()) + 1

    def counted(which: BoolArray) -> FloatArray:
        return np.bincount(stratum[which], minlength=size).astype(np.float64)

    found = _Tables(counted(mine), counted(mine & has), counted(~mine), counted(~mine & has))
    both = (found.mine > 0) & (found.others > 0)
    return _Tables(found.mine[both], found.mine_with[both], found.others[both], found.others_with[both])


def _mantel_haenszel(tables: _Tables, spread: float) -> tuple[float, float, float]:
    """Return the share expected and found in the strata that can be compared, and the two-sided p."""
    from scipy import stats  # noqa: PLC0415 (heavy)

    here = float(tables.mine.sum())
    if not here:
        return math.nan, math.nan, math.nan
    expected = float((tables.mine * tables.others_with / tables.others).sum()) / here
    observed = float(tables.mine_with.sum()) / here
    whole, with_it = tables.mine + tables.others, tables.mine_with + tables.others_with
    mean = tables.mine * with_it / whole
    variance = float(
        (tables.mine * tables.others * with_it * (whole - with_it) / (whole**2 * np.maximum(whole - 1.0, 1.0))).sum()
    )
    if variance <= 0.0:
        return expected, observed, math.nan
    off = max(0.0, abs(float((tables.mine_with - mean).sum())) - 0.5)
    return expected, observed, float(2.0 * stats.norm.sf(off / math.sqrt(spread * variance)))


def over_dispersion(has: BoolArray, group: IndexArray, session: IndexArray) -> float:
    """Return how many times more the sessions of a group differ in their shares than chance explains, at least 1.

    Parameters
    ----------
    has : ndarray of bool, shape (n,)
        Which trials have it.
    group : ndarray of int, shape (n,)
        Trials whose share should be equal, such as an examiner's of one action, have the same number.
    session : ndarray of int, shape (n,)
        The trials of a session have the same number.

    Examples
    --------
    Four sessions of five trials, each with one or two faults, are as equal as chance lets them be.

    >>> session = np.arange(20) // 5
    >>> over_dispersion(np.isin(np.arange(20), [0, 5, 6, 10, 15]), np.zeros(20, dtype=np.intp), session)
    1.0

    In half of the sessions every trial has the fault, in the other half none.

    >>> over_dispersion(session % 2 == 0, np.zeros(20, dtype=np.intp), session) > 5.0
    True
    """
    first, of_unit = _units(group, session)
    n = np.bincount(of_unit).astype(np.float64)
    count = np.bincount(of_unit, weights=has).astype(np.float64)
    kind = group[first]
    share = np.bincount(kind, weights=count) / np.maximum(np.bincount(kind, weights=n), 1.0)
    expected = n * share[kind]
    variance = expected * (1.0 - share[kind])
    inside = variance > 0.0
    freedom = int(inside.sum()) - len(np.unique(kind[inside]))
    if freedom < 1:
        return 1.0
    chi = float(((count[inside] - expected[inside]) ** 2 / variance[inside]).sum())
    return max(1.0, chi / freedom)


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberFound:
    """One number of the technique, of one examiner and of all others in the same strata."""

    sessions: int
    quartiles: tuple[float, float, float]
    """Of this examiner's trials."""
    others: float
    """The median of all others, weighted by this examiner's strata; NaN where there are none."""
    p: float
    """Of the stratified rank test over the means of sessions; NaN where nothing can be compared."""


def compare_number(mine: BoolArray, values: FloatArray, stratum: IndexArray, session: IndexArray) -> NumberFound | None:
    """Compare a number of one examiner with all others; None where this examiner has none.

    Parameters
    ----------
    mine : ndarray of bool, shape (n,)
        Which trials are this examiner's.
    values : ndarray, shape (n,)
        The number, in any unit; NaN where a trial has none.
    stratum, session : ndarray of int, shape (n,)
        Trials that may be compared have the same stratum; the trials of a session have the same session.

    Examples
    --------
    >>> mine = np.arange(20) < 10
    >>> ramp_s = np.where(mine, 1.9, 1.4)
    >>> found = compare_number(mine, ramp_s, np.zeros(20, dtype=np.intp), np.arange(20) // 2)
    >>> found.sessions, found.quartiles[1], found.others, found.p < 0.05
    (5, 1.9, 1.4, True)
    """
    there = ~np.isnan(values)
    mine, values, stratum, session = mine[there], values[there], stratum[there], session[there]
    if not mine.any():
        return None
    quartiles = np.percentile(values[mine], [25.0, 50.0, 75.0])
    medians = [
        (int((mine & here).sum()), float(np.median(values[others])))
        for kind in np.unique(stratum[mine])
        if (others := (here := stratum == kind) & ~mine).any()
    ]
    weight = sum(count for count, _ in medians)
    return NumberFound(
        sessions=len(np.unique(session[mine])),
        quartiles=(float(quartiles[0]), float(quartiles[1]), float(quartiles[2])),
        others=sum(count * median for count, median in medians) / weight if weight else math.nan,
        p=_van_elteren(*_session_means(mine, values, stratum, session)),
    )


def _session_means(
    mine: BoolArray, values: FloatArray, stratum: IndexArray, session: IndexArray
) -> tuple[BoolArray, FloatArray, IndexArray]:
    """Return the mean of each session's stratum: whose it is, its value and its stratum."""
    first, of_unit = _units(stratum, session)
    means = np.bincount(of_unit, weights=values) / np.bincount(of_unit)
    return mine[first], means, stratum[first]


def _units(group: IndexArray, session: IndexArray) -> tuple[IndexArray, IndexArray]:
    """Return, for each session of each group, its first trial, and for each trial, its session of its group."""
    keys = group.astype(np.int64) * (int(session.max()) + 1) + session
    _, first, of_unit = np.unique(keys, return_index=True, return_inverse=True)
    return first, of_unit


def _van_elteren(mine: BoolArray, values: FloatArray, stratum: IndexArray) -> float:
    """Return the two-sided p of the rank test within strata, each weighted by 1 / (its size + 1)."""
    from scipy import stats  # noqa: PLC0415 (heavy)

    total = variance = 0.0
    for kind in np.unique(stratum[mine]):
        here = stratum == kind
        m, n = int((mine & here).sum()), int(here.sum())
        if m == n or n < 2:
            continue
        ranks = stats.rankdata(values[here])
        weight = 1.0 / (n + 1.0)
        total += weight * (float(ranks[mine[here]].sum()) - m * (n + 1) / 2.0)
        variance += weight**2 * m * (n - m) / (n * (n - 1.0)) * float(((ranks - ranks.mean()) ** 2).sum())
    return float(2.0 * stats.norm.sf(abs(total) / math.sqrt(variance))) if variance > 0.0 else math.nan
