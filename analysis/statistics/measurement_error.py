"""How much a reading varies when nothing has changed: standard error, detectable change, coefficient of variation.

References
----------
Weir, J. P. (2005), Quantifying test-retest reliability using the intraclass correlation coefficient and the SEM,
Journal of Strength and Conditioning Research 19, 231-240: both ways to the standard error, and the change.
Bland, J. M. and Altman, D. G. (1996), Measurement error, British Medical Journal 313, 744: within-subject deviation;
Measurement error proportional to the mean, British Medical Journal 313, 106: the coefficient of variation, logarithms.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from analysis.statistics.distributions import check_confidence, chi_squared_quantile, t_quantile
from analysis.statistics.ratings import checked_ratings, mean_squares

TWO_SIDED_95 = 1.96
"""As the papers print it, not the quantile to all its digits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardError:
    """The standard error of measurement (SEM), in the unit of the ratings, with its confidence limits."""

    value: float
    low: float
    high: float
    df: int
    """Degrees of freedom it rests on."""
    way: Literal["sqrt(MSE)"] = "sqrt(MSE)"
    """How it was found: from the error of the two-way analysis of variance."""


def standard_error(ratings: ArrayLike, *, confidence: float = 0.95) -> StandardError:
    """Return the standard error of measurement from the error that subjects and ratings leave.

    A shift of all subjects from one rating to the next, such as learning, is not part of it.

    Parameters
    ----------
    ratings : array_like, shape (n_subjects, k_ratings)
        A NaN is refused.
    confidence : float
        Of the two-sided limits, which rest on chi squared.

    Raises
    ------
    ValueError
        If a rating is missing, or there are fewer than two subjects or ratings.

    References
    ----------
    Weir (2005): SEM = sqrt(MSE).

    Examples
    --------
    >>> trials = [(146, 140), (148, 152), (170, 152), (90, 99), (157, 145), (156, 153), (176, 167), (205, 218)]
    >>> round(standard_error(trials).value, 1)
    7.6
    """
    check_confidence(confidence)
    squares = mean_squares(ratings)
    df = squares.error_df
    total = squares.error * df
    return StandardError(
        value=math.sqrt(squares.error),
        low=math.sqrt(total / chi_squared_quantile(0.5 + confidence / 2.0, df)),
        high=math.sqrt(total / chi_squared_quantile(0.5 - confidence / 2.0, df)),
        df=df,
    )


def standard_error_from_icc(ratings: ArrayLike, icc: float) -> float:
    """Return the standard error of measurement as SD sqrt(1 - ICC), with the deviation of all ratings together.

    It depends on which form of the correlation is taken; most papers print it this way.

    Parameters
    ----------
    ratings : array_like, shape (n_subjects, k_ratings)
        A NaN is refused.
    icc : float
        A correlation of the same ratings, at most 1.

    Raises
    ------
    ValueError
        If a rating is missing, there are fewer than two subjects or ratings, or `icc` is above 1.

    References
    ----------
    Weir (2005).

    Examples
    --------
    >>> trials = [(146, 140), (148, 152), (170, 152), (90, 99), (157, 145), (156, 153), (176, 167), (205, 218)]
    >>> round(standard_error_from_icc(trials, 0.947), 1)
    7.3
    """
    if not icc <= 1.0:
        raise ValueError(f"icc must be at most 1, got {icc}")
    return float(np.std(checked_ratings(ratings), ddof=1)) * math.sqrt(1.0 - icc)


def minimal_detectable_change(sem: float, df: float = math.inf) -> float:
    """Return the change between two readings that chance exceeds in 5 of 100 cases (MDC95).

    Parameters
    ----------
    sem : float
        Standard error of measurement, in any unit.
    df : float
        Degrees of freedom that it was found with; infinite for an error that is known, which gives the usual 1.96.

    Raises
    ------
    ValueError
        If the error is negative or not finite, or `df` is not above 0.

    References
    ----------
    Weir (2005): 1.96 x sqrt(2) x SEM; two readings, each with its error. Student's t in place of 1.96 where the error
    itself was found with few degrees of freedom: JCGM 100:2008, G.3.2.

    Examples
    --------
    >>> round(minimal_detectable_change(7.5569), 2)
    20.95
    >>> round(minimal_detectable_change(7.5569, df=7), 2)
    25.27
    """
    if not (math.isfinite(sem) and sem >= 0.0):
        raise ValueError(f"sem must be finite and not negative, got {sem}")
    factor = TWO_SIDED_95 if math.isinf(df) else t_quantile(0.975, df)
    return factor * math.sqrt(2.0) * sem


def within_subject_cv_pct(ratings: ArrayLike) -> float:
    """Return the coefficient of variation within subjects, by root mean square, %.

    Parameters
    ----------
    ratings : array_like, shape (n_subjects, k_ratings)
        Each subject with a mean above 0; a NaN is refused.

    Raises
    ------
    ValueError
        If a rating is missing, there are fewer than two subjects or ratings, or a mean is not positive.

    References
    ----------
    Bland and Altman (1996), BMJ 313, 106: the squares are averaged, as variances are, not the coefficients.

    Examples
    --------
    >>> round(within_subject_cv_pct([(100.0, 110.0), (200.0, 190.0)]), 3)
    5.408
    """
    values = checked_ratings(ratings)
    means = values.mean(axis=1)
    if not (means > 0.0).all():
        raise ValueError(f"each subject must have a mean above 0, got {means.min()}")
    return float(100.0 * np.sqrt(np.mean(values.var(axis=1, ddof=1) / means**2)))
