"""Intraclass correlations: which share of the differences between readings is a difference between persons.

========  =====================================================================================
ICC(1,1)  each person is rated by other judges; one rating
ICC(2,1)  all persons are rated by the same judges, a sample of many; one rating; agreement
ICC(3,1)  all persons are rated by the same judges, the only ones of interest; one rating; consistency
ICC(.,k)  the same for the mean of the k ratings
========  =====================================================================================

Occasions take the place of judges in a test and retest. The forms of a mean follow from those of one rating, value
and limits alike, by the formula of Spearman and Brown.

References
----------
Shrout, P. E. and Fleiss, J. L. (1979), Intraclass correlations: uses in assessing rater reliability,
Psychological Bulletin 86, 420-428: the forms and their limits.
McGraw, K. O. and Wong, S. P. (1996), Forming inferences about some intraclass correlation coefficients,
Psychological Methods 1, 30-46: the limits of the mean of k.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple

from numpy.typing import ArrayLike

from analysis.statistics.distributions import check_confidence, f_quantile
from analysis.statistics.ratings import MeanSquares, checked_ratings, mean_squares, subjects_differ

IccForm = Literal["ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Icc:
    """One form, with its confidence limits.

    Subjects that differ less than chance give negative numbers, down to minus infinity for the mean of k.
    """

    form: IccForm
    value: float
    low: float
    high: float


class _Limits(NamedTuple):
    value: float
    low: float
    high: float

    def of_mean(self, k: int) -> _Limits:
        """Return the same for the mean of k ratings."""
        return _Limits(*(_stepped_up(share, k) for share in self))


def _stepped_up(share: float, k: int) -> float:
    """Return the correlation of the mean of k ratings from that of one: Spearman and Brown's formula."""
    left = 1.0 + (k - 1) * share
    return k * share / left if left > 0.0 else -math.inf


def intraclass_correlations(ratings: ArrayLike, *, confidence: float = 0.95) -> dict[IccForm, Icc]:
    """Return the six forms of the intraclass correlation.

    Parameters
    ----------
    ratings : array_like, shape (n_subjects, k_ratings)
        One row a subject, one column a judge, occasion or examiner; a NaN is refused.
    confidence : float
        Of the two-sided limits, which rest on F.

    Raises
    ------
    ValueError
        If a rating is missing, there are fewer than two subjects or ratings, or the subjects do not differ at
        all, so that nothing is to be told apart.

    Examples
    --------
    >>> judged = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
    >>> found = intraclass_correlations(judged)
    >>> [round(icc.value, 2) for icc in found.values()]
    [0.17, 0.29, 0.71, 0.44, 0.62, 0.91]
    """
    check_confidence(confidence)
    values = checked_ratings(ratings)
    squares = mean_squares(values)
    if not subjects_differ(values, squares):
        raise ValueError("ratings must differ between subjects: the means of all subjects are the same")
    tail = 0.5 + confidence / 2.0
    return {icc.form: icc for icc in _forms(squares, tail)}


def _forms(squares: MeanSquares, tail: float) -> Iterator[Icc]:
    """Yield the forms of one rating, then those of the mean."""
    one = _consistency(squares, squares.within, squares.n * (squares.k - 1), tail)
    two = _agreement(squares, tail)
    three = _consistency(squares, squares.error, squares.error_df, tail)
    singles: dict[IccForm, _Limits] = {"ICC(1,1)": one, "ICC(2,1)": two, "ICC(3,1)": three}
    means: dict[IccForm, _Limits] = {
        "ICC(1,k)": one.of_mean(squares.k),
        "ICC(2,k)": two.of_mean(squares.k),
        "ICC(3,k)": three.of_mean(squares.k),
    }
    for form, found in (singles | means).items():
        yield Icc(form=form, value=found.value, low=found.low, high=found.high)


def _consistency(squares: MeanSquares, noise: float, noise_df: int, tail: float) -> _Limits:
    """Return forms 1 and 3: their F is that of the subjects over the noise."""
    n, k, between = squares.n, squares.k, squares.between
    below = noise * f_quantile(tail, n - 1, noise_df)
    above = noise / f_quantile(tail, noise_df, n - 1)
    return _Limits(*((between - level) / (between + (k - 1) * level) for level in (noise, below, above)))


def _agreement(squares: MeanSquares, tail: float) -> _Limits:
    """Return form 2, whose degrees of freedom are Satterthwaite's."""
    n, k, between, judges, error = squares.n, squares.k, squares.between, squares.ratings, squares.error
    value = (between - error) / (between + (k - 1) * error + k * (judges - error) / n)
    of_judges = k * value * judges
    of_error = (n * (1.0 + (k - 1) * value) - k * value) * error
    parts = of_judges**2 / (k - 1) + of_error**2 / squares.error_df
    df = (of_judges + of_error) ** 2 / parts if parts > 0.0 else 0.0
    # never fewer than its poorer part has; the formula may say so where subjects differ less than chance
    df = max(df, min(k - 1, squares.error_df))
    noise = k * judges + (k * n - k - n) * error
    below, above = f_quantile(tail, n - 1, df), f_quantile(tail, df, n - 1)
    low = n * (between - below * error) / (below * noise + n * between)
    high = n * (above * between - error) / (noise + n * above * between)
    return _Limits(value, low, high)
