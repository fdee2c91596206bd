"""Numbers as they are told: few figures, and never a power of ten."""

from __future__ import annotations


def figures(number: float, count: int) -> float:
    """Return a number to so many significant figures.

    Examples
    --------
    >>> figures(8412.7, 3)
    8410.0
    """
    return float(f"{number:.{count}g}")


def said(number: float, *, sign: bool = False) -> str:
    """Return a number in words for a table: four figures, thousands apart.

    Examples
    --------
    >>> said(1109733.2), said(0.012344), said(12.0, sign=True)
    ('1,110,000', '0.01234', '+12')
    """
    return f"{figures(number, 4):{'+' if sign else ''},.12g}"
