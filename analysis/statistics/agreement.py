"""Limits of agreement: how far two readings of the same person lie apart.

References
----------
Bland, J. M. and Altman, D. G. (1986), Statistical methods for assessing agreement between two methods of clinical
measurement, Lancet i, 307-310.
Carkeet, A. (2015), Exact parametric confidence intervals for Bland-Altman limits of agreement, Optometry and Vision
Science 92, e71-e80.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from analysis.statistics.distributions import check_confidence, noncentral_t_quantile, t_quantile
from analysis.statistics.measurement_error import TWO_SIDED_95
from analysis.statistics.ratings import checked_ratings

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitsOfAgreement:
    """The differences of pairs: their mean, and between which limits 95 of 100 of them are expected."""

    n: int
    bias: float
    """Mean of first - second, in the unit of the readings."""
    sd: float
    """Standard deviation of the differences."""
    low: float
    high: float
    bias_interval: Interval
    low_interval: Interval
    high_interval: Interval
    """The confidence intervals of bias and limits."""


def limits_of_agreement(
    first: ArrayLike,
    second: ArrayLike,
    *,
    sds: float = TWO_SIDED_95,
    confidence: float = 0.95,
    limits_by: Literal["exact", "1986"] = "exact",
) -> LimitsOfAgreement:
    """Return the limits of agreement of pairs of readings.

    Parameters
    ----------
    first, second : array_like, shape (n,)
        Readings of the same persons in the same order and unit; at least two, a NaN is refused.
    sds : float
        How many standard deviations the limits lie from the bias; Bland and Altman (1986) take 2.
    confidence : float
        Of the intervals of bias and limits.
    limits_by : {"exact", "1986"}
        Intervals of the limits by the noncentral t (Carkeet 2015), or by the standard error sqrt(3 / n) SD of
        Bland and Altman (1986), which is too narrow on the outer side when pairs are few.

    Raises
    ------
    ValueError
        If the readings differ in number, are fewer than two, or one is missing, or `sds` is not positive.

    Examples
    --------
    >>> found = limits_of_agreement([10.0, 12.0, 14.0, 16.0], [9.0, 12.0, 12.0, 15.0])
    >>> round(found.bias, 2), round(found.low, 2), round(found.high, 2)
    (1.0, -0.6, 2.6)
    """
    check_confidence(confidence)
    if not sds > 0.0:
        raise ValueError(f"sds must be positive, got {sds}")
    if np.shape(first) != np.shape(second):
        raise ValueError(f"first and second must be pairs, got the shapes {np.shape(first)} and {np.shape(second)}")
    pairs = checked_ratings(np.column_stack([first, second]))
    differences = pairs[:, 0] - pairs[:, 1]
    n, bias, sd = len(pairs), float(differences.mean()), float(differences.std(ddof=1))
    about = t_quantile(0.5 + confidence / 2.0, n - 1) * sd
    if limits_by == "exact":
        inner, outer = _exact_reach(n, sds, confidence, sd)
    else:
        inner = sds * sd - about * math.sqrt(3.0 / n)
        outer = sds * sd + about * math.sqrt(3.0 / n)
    return LimitsOfAgreement(
        n=n,
        bias=bias,
        sd=sd,
        low=bias - sds * sd,
        high=bias + sds * sd,
        bias_interval=(bias - about / math.sqrt(n), bias + about / math.sqrt(n)),
        low_interval=(bias - outer, bias - inner),
        high_interval=(bias + inner, bias + outer),
    )


def _exact_reach(n: int, sds: float, confidence: float, sd: float) -> Interval:
    """Return how far from the bias the interval of a limit begins and ends."""
    root = math.sqrt(n)
    tails = (0.5 - confidence / 2.0, 0.5 + confidence / 2.0)
    inner, outer = (noncentral_t_quantile(tail, n - 1, sds * root) * sd / root for tail in tails)
    return inner, outer
