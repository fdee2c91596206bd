"""One examiner against all others, like with like: within the same action and method.

What happens in one session, or to one person who comes again, is alike: same hands, same habits, same day. So the unit
is the *cluster*, all trials of one person with one examiner (a session, where no person is named), never the trial.

**Shares** (rejected, each fault). What is expected of a trial is the share of all in its stratum, an action and a
method. The total of a cluster is how many of its trials have it, less what was expected of them. All others' shares,
weighted by this examiner's strata, say what the others would have had.

**Numbers** (ramp time, steepest rise, ...). The same with ranks within strata in the place of "has it or not".

The totals are compared as `analysis.statistics.clustered` tells.

References
----------
van Elteren 1960, Bull Int Stat Inst 37:351-361 (ranks within strata, each weighted by 1 / (its size + 1); from memory).
Spiegelhalter 2005, Stat Med 24:1185-1202 (funnels, and over-dispersion).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from acquire.values.arrays import BoolArray, FloatArray, IndexArray
from analysis.statistics.clustered import Clusters, clustered_p, clusters_of, effective_number, intraclass
from analysis.statistics.proportions import score_interval

LEAST_TRIALS = 20
LEAST_SESSIONS = 5
"""With fewer nothing is said of an examiner: common practice, no source."""


class Totals(NamedTuple):
    """The totals of clusters in one respect, the same for every examiner."""

    clusters: Clusters
    correlation: float
    """How alike the trials of a cluster are, 0 to 1."""
    of: IndexArray
    """The cluster of each trial, shape (n,)."""

    def whose(self, mine: BoolArray) -> BoolArray:
        """Return which clusters hold trials of `mine`, shape (clusters,)."""
        return np.asarray(np.bincount(self.of, weights=mine) > 0)


def share_totals(has: BoolArray, stratum: IndexArray, cluster: IndexArray) -> Totals:
    """Return how many trials of each cluster have something, less what is expected of their strata.

    Parameters
    ----------
    has : ndarray of bool, shape (n,)
        Which trials have it.
    stratum : ndarray of int, shape (n,)
        Trials that may be compared, such as those of one action and method, have the same number.
    cluster : ndarray of int, shape (n,)
        From 0 up, none left out: trials that are alike, such as those of one person with one examiner.

    Examples
    --------
    >>> totals = share_totals(np.array([True, True, False, False]), np.zeros(4, dtype=np.intp), np.array([0, 0, 1, 1]))
    >>> totals.clusters.off.tolist(), totals.correlation
    ([1.0, -1.0], 1.0)
    """
    share = _by_stratum(has, stratum)
    return _totals(has - share[stratum], (share * (1.0 - share))[stratum], cluster)


def rank_totals(values: FloatArray, stratum: IndexArray, cluster: IndexArray) -> Totals:
    """Return how far the ranks of a cluster's values are off the middle of their strata.

    Parameters
    ----------
    values : ndarray, shape (n,)
        A number in any unit; a trial where it is NaN says nothing.
    stratum, cluster : ndarray of int, shape (n,)
        As in `share_totals`.

    Examples
    --------
    >>> rank_totals(np.array([3.0, np.nan, 7.0, 5.0]), np.zeros(4, dtype=np.intp), np.arange(4)).clusters.off.tolist()
    [-0.25, 0.0, 0.25, 0.0]
    """
    from scipy import stats  # noqa: PLC0415 (heavy)

    off, variance = np.zeros(len(values)), np.zeros(len(values))
    there = ~np.isnan(values)
    for kind in np.unique(stratum[there]):
        here = there & (stratum == kind)
        ranks = stats.rankdata(values[here])
        off[here] = (ranks - ranks.mean()) / (len(ranks) + 1.0)
        variance[here] = off[here].var()
    return _totals(off, variance, cluster)


def _totals(off: FloatArray, variance: FloatArray, cluster: IndexArray) -> Totals:
    clusters = clusters_of(off, variance, cluster)
    return Totals(clusters, intraclass(clusters), cluster)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareFound:
    """How often something happens to one examiner, and to all others in the same strata."""

    count: int
    trials: int
    effective: float
    """How many independent trials would say as much."""
    interval: tuple[float, float]
    """Of the share, by Wilson with the effective number."""
    expected: float
    """The share of all others in this examiner's strata; NaN where there are no others."""
    p: float
    """That the clusters are off as everybody's are; NaN where nothing can be compared."""

    @property
    def share(self) -> float:
        """Of the trials."""
        return self.count / self.trials


def compare_share(mine: BoolArray, has: BoolArray, stratum: IndexArray, totals: Totals) -> ShareFound:
    """Compare how often something happens to one examiner with all others.

    Parameters
    ----------
    mine, has : ndarray of bool, shape (n,)
        Which trials are this examiner's, and which have it.
    stratum : ndarray of int, shape (n,)
        Trials that may be compared have the same number.
    totals : Totals
        Of `has`, see `share_totals`.

    Raises
    ------
    ValueError
        If none of the trials is this examiner's.

    Examples
    --------
    Six of ten trials have the fault, against two of ten of the other examiners, in sessions of two.

    >>> mine, stratum = np.arange(20) < 10, np.zeros(20, dtype=np.intp)
    >>> has = np.isin(np.arange(20), [0, 1, 2, 4, 5, 8, 12, 17])
    >>> found = compare_share(mine, has, stratum, share_totals(has, stratum, np.arange(20) // 2))
    >>> found.count, found.trials, found.expected, round(found.p, 2)
    (6, 10, 0.2, 0.23)
    """
    trials, count = int(mine.sum()), int((mine & has).sum())
    if not trials:
        raise ValueError("mine must hold at least one trial")
    whose = totals.whose(mine)
    effective = effective_number(trials, totals.clusters.of(whose), totals.correlation)
    expected = _of_others(mine, has, stratum)
    return ShareFound(
        count=count,
        trials=trials,
        effective=effective,
        interval=score_interval(count / trials, effective),
        expected=expected,
        p=math.nan if math.isnan(expected) else _p(totals, whose),
    )


def _p(totals: Totals, whose: BoolArray) -> float:
    return clustered_p(totals.clusters, whose, correlation=totals.correlation)


def _by_stratum(values: FloatArray | BoolArray, stratum: IndexArray) -> FloatArray:
    """Return the mean of each stratum."""
    return np.asarray(np.bincount(stratum, weights=values) / np.maximum(np.bincount(stratum), 1))


def _of_others(mine: BoolArray, has: BoolArray, stratum: IndexArray) -> float:
    """Return the others' share in the strata of this examiner's trials; NaN where nobody else tests them."""
    size = int(stratum.max()) + 1
    here, there = (np.bincount(stratum[which], minlength=size) for which in (mine, ~mine))
    share = np.bincount(stratum[~mine & has], minlength=size) / np.maximum(there, 1)
    both = (here > 0) & (there > 0)
    return float((here * share)[both].sum() / here[both].sum()) if both.any() else math.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberFound:
    """One number of the technique, of one examiner and of all others in the same strata."""

    sessions: int
    quartiles: tuple[float, float, float]
    """Of this examiner's trials."""
    others: float
    """The median of all others, weighted by this examiner's strata; NaN where there are none."""
    p: float
    """Of the ranks within strata, by clusters; NaN where nothing can be compared."""


def compare_number(
    mine: BoolArray, values: FloatArray, stratum: IndexArray, session: IndexArray, totals: Totals
) -> NumberFound | None:
    """Compare a number of one examiner with all others; None where this examiner has none.

    Parameters
    ----------
    mine : ndarray of bool, shape (n,)
        Which trials are this examiner's.
    values : ndarray, shape (n,)
        The number, in any unit; NaN where a trial has none.
    stratum, session : ndarray of int, shape (n,)
        Trials that may be compared have the same stratum; the trials of a session have the same session.
    totals : Totals
        Of `values`, see `rank_totals`.

    Examples
    --------
    >>> mine, session, stratum = np.arange(20) < 10, np.arange(20) // 2, np.zeros(20, dtype=np.intp)
    >>> ramp_s = np.where(mine, 1.9, 1.4)
    >>> found = compare_number(mine, ramp_s, stratum, session, rank_totals(ramp_s, stratum, session))
    >>> found.sessions, found.quartiles[1], found.others, found.p < 0.05
    (5, 1.9, 1.4, True)
    """
    there = ~np.isnan(values)
    whose = totals.whose(mine & there)
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
        p=_p(totals, whose) if weight else math.nan,
    )
