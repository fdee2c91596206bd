"""Whether one group of clusters differs from all, where what lies within a cluster is alike.

The trials of one session come from one person on one day. Taken as independent they are far too sure of themselves, so
the cluster is the unit: its total off what was expected, over the standard deviation of that total. Were the group like
all others, any cluster could have been any of its own, and its total would be one of those that come out when the
clusters change places. That *permutation distribution* needs no normal law, which a rare event in a few clusters does
not follow: its first three moments are exact and give the p value by the Pearson type III curve; one that is small is
found anew by drawing from the distribution itself.

References
----------
Gail MH, Mark SD, Carroll RJ, Green SB, Pee D (1996), On design considerations and randomization-based inference for
community intervention trials, Statistics in Medicine 15:1069-1092 (permuting the totals of clusters; from memory).
Mielke PW, Berry KJ (2007), Permutation Methods: a Distance Function Approach, 2nd ed., Springer (exact moments of a
linear permutation statistic, and Pearson type III by three of them; from memory).
Korn EL, Graubard BI (1998), Confidence intervals for proportions with small expected number of positive counts
estimated from survey data, Survey Methodology 24:193-201 (effective number, with the degrees of freedom; from memory).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from acquire.values.arrays import BoolArray, FloatArray, IndexArray

LEAST_CLUSTERS = 3
"""In either group."""
DRAWS = ((0.2, 999), (0.02, 9_999))
"""A p value below the first of each is found anew by so many draws ..."""
BATCH = 4_000_000
"""Random numbers at a time."""
FEW = 10
"""Of so many times more clusters, drawing with or without putting back is the same."""
LEAST_SKEW = 1e-4
LARGE = 200
"""... unless both groups have more clusters than this: then the curve is as good."""


class Clusters(NamedTuple):
    """Totals of clusters; arrays of shape (clusters,)."""

    off: FloatArray
    """How far the total is off what was expected."""
    apart: FloatArray
    """Variance of the total if what lies within the cluster were independent."""
    alike: FloatArray
    """Variance of the total if all that lies within it were the same."""

    def of(self, which: BoolArray) -> Clusters:
        """Return some of the clusters; `which` of shape (clusters,)."""
        return Clusters(*(each[which] for each in self))


def clusters_of(off: FloatArray, variance: FloatArray, cluster: IndexArray) -> Clusters:
    """Return the totals of clusters.

    Parameters
    ----------
    off : ndarray, shape (n,)
        How far each observation is off what was expected, any unit, finite.
    variance : ndarray, shape (n,)
        Of each observation.
    cluster : ndarray of int, shape (n,)
        From 0 up, none left out.

    Examples
    --------
    >>> clusters_of(np.array([0.5, 0.5, -0.5]), np.full(3, 0.25), np.array([0, 0, 1])).off.tolist()
    [1.0, -0.5]
    """
    total, apart, steps = (
        np.bincount(cluster, weights=each).astype(np.float64) for each in (off, variance, np.sqrt(variance))
    )
    return Clusters(total, apart, steps**2)


def intraclass(clusters: Clusters) -> float:
    """Return how alike the observations of a cluster are, 0 to 1, from how far the totals of clusters are off.

    Parameters
    ----------
    clusters : Clusters
        Shape (clusters,).

    Examples
    --------
    Ten clusters of four: in half of them all have it, in the other half none.

    >>> off = np.repeat([0.5, -0.5] * 5, 4)
    >>> intraclass(clusters_of(off, np.full(40, 0.25), np.repeat(np.arange(10), 4)))
    1.0
    """
    room = float((clusters.alike - clusters.apart).sum())
    if not room > 0.0:
        return 0.0
    found = float((clusters.off**2 - clusters.apart).sum()) / room
    return min(max(found, 0.0), 1.0)


def variances(clusters: Clusters, correlation: float) -> FloatArray:
    """Return the variance of each total, given how alike the observations of a cluster are.

    Parameters
    ----------
    clusters : Clusters
        Shape (clusters,).
    correlation : float
        See `intraclass`.

    Returns
    -------
    ndarray, shape (clusters,)

    Examples
    --------
    >>> variances(clusters_of(np.zeros(4), np.ones(4), np.zeros(4, dtype=np.intp)), 0.5).tolist()
    [10.0]
    """
    return np.asarray((1.0 - correlation) * clusters.apart + correlation * clusters.alike)


def effective_number(n: int, clusters: Clusters, correlation: float) -> float:
    """Return how many independent observations say as much as these, with an allowance for few clusters.

    Parameters
    ----------
    n : int
        Observations.
    clusters : Clusters
        Those that hold them.
    correlation : float
        How alike the observations of a cluster are, 0 to 1.

    References
    ----------
    Korn and Graubard (1998).

    Examples
    --------
    Four clusters of five that are all the same are as good as four observations, and fewer for being four only.

    >>> same = clusters_of(np.zeros(20), np.full(20, 0.25), np.repeat(np.arange(4), 5))
    >>> round(effective_number(20, same, 0.0), 1), round(effective_number(20, same, 1.0), 1)
    (8.7, 1.7)
    """
    from scipy import special  # noqa: PLC0415 (heavy)

    apart = float(clusters.apart.sum())
    effect = float(variances(clusters, correlation).sum()) / apart if apart > 0.0 else 1.0
    allowance = 1.0
    if 1 < len(clusters.off) < n:
        allowance = (special.stdtrit(n - 1, 0.975) / special.stdtrit(len(clusters.off) - 1, 0.975)) ** 2
    return float(n / max(effect, 1.0) * allowance)


def clustered_p(clusters: Clusters, mine: BoolArray, *, correlation: float, seed: int = 0) -> float:
    """Return the two-sided p value that some clusters are off as all are.

    Parameters
    ----------
    clusters : Clusters
        Shape (clusters,).
    mine : ndarray of bool, shape (clusters,)
        Which are of the group that is looked at.
    correlation : float
        How alike the observations of a cluster are, see `intraclass`.
    seed : int
        Of the draws, so that the same data say the same.

    Returns
    -------
    float
        NaN where either group has fewer than `LEAST_CLUSTERS`, or nothing is off.

    Examples
    --------
    Three of twenty clusters are further off than all others: there are 1140 ways to choose three.

    >>> off = np.array([5.0, 4.0, 6.0] + [-1.0, 0.0, 1.0, -0.5] * 4 + [0.5])
    >>> clusters = Clusters(off, np.ones(20), np.ones(20))
    >>> clustered_p(clusters, np.arange(20) < 3, correlation=0.0) < 0.01
    True
    """
    spread = variances(clusters, correlation)
    known = spread > 0.0
    mine, scale = mine[known], np.sqrt(spread[known])
    here, there = int(mine.sum()), int((~mine).sum())
    if min(here, there) < LEAST_CLUSTERS:
        return math.nan
    off = clusters.off[known] / scale
    found = float((scale[mine] * off[mine]).sum())
    p = _pearson_p(found, np.where(mine, scale, 0.0), off)
    for below, draws in DRAWS:
        if p < below and min(here, there) <= LARGE:
            p = _drawn_p(p, found, _sums(scale[mine], off, draws, seed))
    return p


def _pearson_p(found: float, weight: FloatArray, off: FloatArray) -> float:
    """Return p by the Pearson type III curve with the exact moments of sum(weight * off in any order)."""
    n = len(off)
    one, other = weight - weight.mean(), off - off.mean()
    variance = float((one**2).sum() * (other**2).sum()) / (n - 1)
    if not variance > 0.0:
        return math.nan
    third = n * float((one**3).sum() * (other**3).sum()) / ((n - 1) * (n - 2))
    skew = third / variance**1.5
    z = (found - n * weight.mean() * off.mean()) / math.sqrt(variance)
    below, above = _pearson_tails(z, skew)
    return min(1.0, 2.0 * min(below, above))


def _pearson_tails(z: float, skew: float) -> tuple[float, float]:
    """Return how much of a Pearson type III curve of mean 0 and deviation 1 lies below z, and how much above."""
    from scipy import special  # noqa: PLC0415 (heavy)

    if abs(skew) < LEAST_SKEW:
        return float(special.ndtr(z)), float(special.ndtr(-z))
    shape = 4.0 / skew**2  # a gamma curve, mirrored where the skew is negative
    at = max(0.0, shape + z * math.sqrt(shape) * math.copysign(1.0, skew))
    low, high = float(special.gammainc(shape, at)), float(special.gammaincc(shape, at))
    return (low, high) if skew > 0.0 else (high, low)


def _drawn_p(p: float, found: float, sums: FloatArray) -> float:
    """Return p from sums that were drawn; what was found counts as one of them. Beyond them all, p stays if smaller."""
    slack = 1e-9 * float(np.abs(sums).max())
    beyond = min(int((sums >= found - slack).sum()), int((sums <= found + slack).sum()))
    drawn = min(1.0, 2.0 * (beyond + 1) / (len(sums) + 1))
    return drawn if beyond else min(p, drawn)


def _sums(weight: FloatArray, off: FloatArray, draws: int, seed: int) -> FloatArray:
    """Return the sum for each draw of which clusters are the group's; shape (draws,)."""
    rng = np.random.default_rng(seed)
    n, here = len(off), len(weight)
    most = max(1, BATCH // (n if n <= FEW * here else here))
    batches = [_drawn(n, here, min(most, draws - at), rng) for at in range(0, draws, most)]
    return np.concatenate([off[each] @ weight for each in batches])


def _drawn(n: int, here: int, draws: int, rng: np.random.Generator) -> IndexArray:
    """Return which clusters take the places of the group's, none twice; of so many that it makes no odds, perhaps."""
    if n > FEW * here:
        return np.asarray(rng.integers(n, size=(draws, here), dtype=np.intp))
    chosen = rng.random((draws, n), dtype=np.float32).argpartition(here - 1, axis=1)[:, :here]
    return np.asarray(rng.permuted(chosen, axis=1))
