"""Shares of trials or persons: how sure one is, and which of several stands out.

References
----------
Newcombe, R. G. (1998), Two-sided confidence intervals for the single proportion: comparison of seven methods,
Statistics in Medicine 17, 857-872: the interval of Wilson (method 3).
Spiegelhalter, D. J. (2005), Funnel plots for comparing institutional performance, Statistics in Medicine 24,
1185-1202: the limits of the funnel.
Benjamini, Y. and Hochberg, Y. (1995), Controlling the false discovery rate, Journal of the Royal Statistical
Society B 57, 289-300.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from acquire.values.arrays import FloatArray
from analysis.statistics.distributions import check_confidence, normal_two_sided


def score_interval(share: float, n: float, *, confidence: float = 0.95) -> tuple[float, float]:
    """Return the confidence interval of a share by Wilson's score, where the number may be an effective one.

    Parameters
    ----------
    share : float
        0 to 1.
    n : float
        Of how many, above 0; not whole where observations are alike.
    confidence : float
        Two-sided.

    Raises
    ------
    ValueError
        If `share` is not within 0 to 1, or `n` is not above 0.

    References
    ----------
    Newcombe (1998), method 3.

    Examples
    --------
    >>> [round(limit, 4) for limit in score_interval(81 / 263, 263.0)], [round(x, 2) for x in score_interval(0.3, 7.5)]
    ([0.2553, 0.3662], [0.09, 0.64])
    """
    check_confidence(confidence)
    if not 0.0 <= share <= 1.0 or not n > 0.0:
        raise ValueError(f"share must lie within 0 to 1, and n be above 0, got {share} and {n}")
    z = normal_two_sided(confidence)
    middle = share + z**2 / (2.0 * n)
    reach = z * math.sqrt(share * (1.0 - share) / n + (z / (2.0 * n)) ** 2)
    low, high = (middle - reach) / (1.0 + z**2 / n), (middle + reach) / (1.0 + z**2 / n)
    return max(0.0, min(low, share)), min(1.0, max(high, share))  # at 0 and 1 they meet, but for rounding


def funnel_limits(
    share: float, n: int, *, confidence: float = 0.95, limits_by: Literal["exact", "score"] = "exact"
) -> tuple[float, float]:
    """Return between which shares a unit of size `n` is expected when its true share is that of all.

    Parameters
    ----------
    share : float
        Of all together, 0 to 1.
    n : int
        The size of the unit, at least 1.
    confidence : float
        Of the two-sided limits; funnels are drawn at 0.95 and 0.998.
    limits_by : {"exact", "score"}
        By the binomial distribution, interpolated between counts; or by the normal one, which leaves out exactly
        the units whose Wilson interval leaves out `share`.

    Returns
    -------
    tuple of float
        Lower and upper limit, within 0 to 1.

    Raises
    ------
    ValueError
        If `share` is not within 0 to 1, or `n` is below 1.

    References
    ----------
    Spiegelhalter (2005), appendix A.1: (r - a) / n, with r the smallest count whose cumulative probability
    reaches the tail, and a how far it reaches beyond.

    Examples
    --------
    >>> [round(limit, 3) for limit in funnel_limits(0.2, 50)]
    [0.084, 0.307]
    """
    check_confidence(confidence)
    if not 0.0 <= share <= 1.0 or n < 1:
        raise ValueError(f"share must lie within 0 to 1, and n be at least 1, got {share} and {n}")
    if limits_by == "score":
        reach = normal_two_sided(confidence) * math.sqrt(share * (1.0 - share) / n)
        return max(0.0, share - reach), min(1.0, share + reach)
    tails = (0.5 - confidence / 2.0, 0.5 + confidence / 2.0)
    low, high = (_binomial_limit(tail, share, n) for tail in tails)
    return low, high


def _binomial_limit(tail: float, share: float, n: int) -> float:
    from scipy import stats  # noqa: PLC0415

    if share in {0.0, 1.0}:
        return share
    count = float(stats.binom.ppf(tail, n, share))
    reached, before = (float(stats.binom.cdf(least, n, share)) for least in (count, count - 1.0))
    return min(1.0, max(0.0, (count - (reached - tail) / (reached - before)) / n))


def false_discovery_adjusted(p_values: ArrayLike) -> FloatArray:
    """Return p values adjusted so that those at or below a rate hold, on average, no larger share of false ones.

    Parameters
    ----------
    p_values : array_like, shape (n,)
        Of independent or positively dependent tests, 0 to 1; a NaN is refused.

    Returns
    -------
    ndarray, shape (n,)
        In the same order, never smaller than what was given.

    Raises
    ------
    ValueError
        If one is missing or not within 0 to 1.

    References
    ----------
    Benjamini and Hochberg (1995).

    Examples
    --------
    >>> false_discovery_adjusted([0.01, 0.04, 0.03]).round(3).tolist()
    [0.03, 0.04, 0.04]
    """
    from scipy import stats  # noqa: PLC0415

    known = np.asarray(p_values, dtype=np.float64)
    if known.ndim != 1 or not ((known >= 0.0) & (known <= 1.0)).all():
        raise ValueError("p_values must be 1-D, complete and within 0 to 1")
    adjusted: FloatArray = np.asarray(stats.false_discovery_control(known) if len(known) else known)
    return adjusted
