"""A straight line by least squares, with what is known of it: the arithmetic of a calibration.

The abscissae are taken as exact, all ordinates as equally uncertain, and their scatter about the line is the
only evidence of how uncertain they are.

References
----------
JCGM 100:2008, Guide to the expression of uncertainty in measurement, H.3.2 and H.3.3, equations H.13 to H.14.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True, kw_only=True)
class StraightLine:
    """``intercept + slope * x``, with standard uncertainties; these are NaN for two points, which leave no scatter."""

    intercept: float
    slope: float
    intercept_uncertainty: float
    slope_uncertainty: float
    correlation: float
    """Of intercept and slope: -1 to 1."""
    residual_sd: float
    """Standard deviation of the ordinates about the line."""
    degrees_of_freedom: int

    def at(self, x: float) -> float:
        """Return the line at an abscissa."""
        return self.intercept + self.slope * x


def fit_line(x: ArrayLike, y: ArrayLike) -> StraightLine:
    """Return the least-squares line through points.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Abscissae and ordinates, n at least 2.

    Raises
    ------
    ValueError
        If there are fewer than two points, a number is not finite, or all abscissae are the same.

    References
    ----------
    JCGM 100:2008, H.3.2 and H.3.3.

    Examples
    --------
    >>> line = fit_line([0.0, 1.0, 2.0, 3.0], [1.0, 3.0, 5.0, 7.0])
    >>> round(line.intercept, 9), round(line.slope, 9), line.degrees_of_freedom
    (1.0, 2.0, 2)
    """
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if xs.shape != ys.shape or xs.ndim != 1 or len(xs) < 2:
        raise ValueError(f"x and y must be two rows of at least 2 numbers, got {xs.shape} and {ys.shape}")
    if not (np.isfinite(xs).all() and np.isfinite(ys).all()):
        raise ValueError("x and y must be finite")
    middle = float(xs.mean())
    spread = float(((xs - middle) ** 2).sum())
    if not spread > 0.0:
        raise ValueError(f"x must hold two different numbers, got {xs[0]} at all {len(xs)} points")
    # about the middle, so that a large offset costs no digits
    slope = float((xs - middle) @ (ys - ys.mean())) / spread
    level = float(ys.mean())
    rest = ys - level - slope * (xs - middle)
    freedom = len(xs) - 2
    sd = math.sqrt(float(rest @ rest) / freedom) if freedom else math.nan
    square = spread / len(xs) + middle**2
    return StraightLine(
        intercept=level - slope * middle,
        slope=slope,
        intercept_uncertainty=sd * math.sqrt(square / spread),
        slope_uncertainty=sd / math.sqrt(spread),
        correlation=-middle / math.sqrt(square),
        residual_sd=sd,
        degrees_of_freedom=freedom,
    )
