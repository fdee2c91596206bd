"""Quantiles of the distributions that intervals are made of.

They come from `scipy.special`, which is imported when first needed: `scipy.stats` gives the same numbers and takes
three times as long to import.

References
----------
Virtanen, P. et al. (2020), SciPy 1.0, Nature Methods 17, 261-272.
"""

from __future__ import annotations

from statistics import NormalDist

STANDARD_NORMAL = NormalDist()


def check_confidence(confidence: float) -> None:
    """Refuse a confidence that is no share between 0 and 1.

    Raises
    ------
    ValueError
        If it is not above 0 and below 1.

    Examples
    --------
    >>> check_confidence(95)
    Traceback (most recent call last):
    ValueError: confidence must lie between 0 and 1, got 95
    """
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence must lie between 0 and 1, got {confidence}")


def normal_two_sided(confidence: float = 0.95) -> float:
    """Return how many standard deviations about the mean of a normal distribution hold a share of it.

    Examples
    --------
    >>> round(normal_two_sided(0.95), 4)
    1.96
    """
    check_confidence(confidence)
    return STANDARD_NORMAL.inv_cdf(0.5 + confidence / 2.0)


def t_quantile(share: float, df: float) -> float:
    """Return the quantile of Student's t.

    Examples
    --------
    >>> round(t_quantile(0.975, 16), 3)
    2.12
    """
    from scipy import special  # noqa: PLC0415 (heavy)

    return float(special.stdtrit(df, share))


def t_share_below(value: float, df: float) -> float:
    """Return the share of Student's t below a value.

    Examples
    --------
    >>> t_share_below(0.0, 9)
    0.5
    """
    from scipy import special  # noqa: PLC0415

    return float(special.stdtr(df, value))


def noncentral_t_quantile(share: float, df: float, noncentrality: float) -> float:
    """Return the quantile of the noncentral t.

    Examples
    --------
    >>> round(noncentral_t_quantile(0.975, 16, 0.0), 3)
    2.12
    """
    from scipy import special  # noqa: PLC0415

    return float(special.nctdtrit(df, noncentrality, share))


def f_quantile(share: float, df_above: float, df_below: float) -> float:
    """Return the quantile of F; the degrees of freedom need not be whole.

    Examples
    --------
    >>> round(f_quantile(0.95, 5, 18), 3)
    2.773
    """
    from scipy import special  # noqa: PLC0415

    return float(special.fdtri(df_above, df_below, share))


def chi_squared_quantile(share: float, df: float) -> float:
    """Return the quantile of chi squared.

    Examples
    --------
    >>> round(chi_squared_quantile(0.95, 1), 3)
    3.841
    """
    from scipy import special  # noqa: PLC0415

    return float(special.chdtri(df, 1.0 - share))
