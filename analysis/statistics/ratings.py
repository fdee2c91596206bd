"""Subjects by ratings, and where their differences come from: the two-way analysis of variance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from acquire.values.arrays import FloatArray

SAME = 1e-12
"""What is less than this share of another is rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanSquares:
    """The mean squares of `n` subjects, each rated `k` times, in the square of the unit of the ratings."""

    n: int
    k: int
    between: float
    """Between subjects, n - 1 degrees of freedom."""
    within: float
    """Within subjects, n (k - 1): ratings and error together."""
    ratings: float
    """Between ratings (judges, occasions, examiners), k - 1."""
    error: float
    """What is left, (n - 1)(k - 1)."""

    @property
    def error_df(self) -> int:
        """Degrees of freedom of the error."""
        return (self.n - 1) * (self.k - 1)


def checked_ratings(ratings: ArrayLike) -> FloatArray:
    """Return ratings as an array that is complete.

    Parameters
    ----------
    ratings : array_like, shape (n_subjects, k_ratings)
        One row a subject, one column a judge, occasion or examiner; at least two of both.

    Raises
    ------
    ValueError
        If a rating is missing, so that subjects differ in how many they have, or is not finite.

    Examples
    --------
    >>> checked_ratings([[1.0, 2.0], [3.0, float("nan")]])
    Traceback (most recent call last):
    ValueError: ratings must be complete, got nan for subject 2, rating 2: leave the subject out
    """
    try:
        values = np.ascontiguousarray(ratings, dtype=np.float64)
    except ValueError as cause:
        raise ValueError("ratings must be numbers, the same number of them for each subject") from cause
    if values.ndim != 2 or values.shape[0] < 2 or values.shape[1] < 2:
        raise ValueError(f"ratings must be at least 2 subjects by 2 ratings, got the shape {values.shape}")
    missing = np.argwhere(~np.isfinite(values))
    if len(missing):
        subject, rating = (int(place) for place in missing[0])
        raise ValueError(
            f"ratings must be complete, got {values[subject, rating]} for subject {subject + 1}, rating {rating + 1}:"
            " leave the subject out"
        )
    return values


def mean_squares(ratings: ArrayLike) -> MeanSquares:
    """Return the mean squares of a two-way analysis of variance without replication.

    Parameters
    ----------
    ratings : array_like, shape (n_subjects, k_ratings)
        As for `checked_ratings`; a NaN is refused.

    Raises
    ------
    ValueError
        As for `checked_ratings`.

    References
    ----------
    Shrout, P. E. and Fleiss, J. L. (1979), Intraclass correlations, Psychological Bulletin 86, 420-428, table 3.

    Examples
    --------
    >>> found = mean_squares([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]])
    >>> round(found.between, 2), round(found.within, 2), round(found.ratings, 2), round(found.error, 2)
    (11.24, 6.26, 32.49, 1.02)
    """
    values = checked_ratings(ratings)
    n, k = values.shape
    grand = values.mean()
    of_subjects = values.mean(axis=1, keepdims=True)
    of_ratings = values.mean(axis=0, keepdims=True)
    left = values - of_subjects - of_ratings + grand
    return MeanSquares(
        n=n,
        k=k,
        between=k * _squares(of_subjects - grand) / (n - 1),
        within=_squares(values - of_subjects) / (n * (k - 1)),
        ratings=n * _squares(of_ratings - grand) / (k - 1),
        error=_squares(left) / ((n - 1) * (k - 1)),
    )


def subjects_differ(ratings: FloatArray, squares: MeanSquares) -> bool:
    """Return whether the means of the subjects differ by more than rounding.

    Parameters
    ----------
    ratings : ndarray, shape (n_subjects, n_raters)
        Any unit, no NaN.
    squares : MeanSquares
        Of the same ratings.

    Examples
    --------
    >>> same = np.full((3, 2), 5.0)
    >>> subjects_differ(same, mean_squares(same))
    False
    """
    spread = float(np.ptp(ratings.mean(axis=1)))
    return spread > SAME * float(np.abs(ratings).max()) and squares.between > SAME * squares.within


def _squares(values: FloatArray) -> float:
    return float(np.sum(values * values))
