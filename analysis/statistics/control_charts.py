"""Control charts that see a small, lasting shift: the exponentially weighted moving average and the cumulative sum.

References
----------
Montgomery, D. C., Introduction to Statistical Quality Control, chapter 9: both charts; tables 9.1 and 9.10.
Lucas, J. M. and Crosier, R. B. (1982), Fast initial response for CUSUM quality-control schemes: give your CUSUM a
head start, Technometrics 24, 199-205.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from acquire.values.arrays import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EwmaChart:
    """An exponentially weighted moving average and its control limits, each of shape (n,)."""

    average: FloatArray
    low: FloatArray
    high: FloatArray
    """In the unit of the values; wider with each value, up to a steady width."""
    out: BoolArray
    """Where the average is beyond a limit."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CusumChart:
    """The upper and the lower cumulative sum, each of shape (n,), in standard deviations."""

    above: FloatArray
    """How far the values have run above the target, less the slack; never below 0."""
    below: FloatArray
    run_above: IntArray
    """For how many values the upper sum has been above 0 without a break."""
    run_below: IntArray
    out: BoolArray
    """Where a sum exceeds the decision limit."""

    def shift_after(self) -> int | None:
        """Return after how many values the shift behind the first signal began; None without a signal.

        References
        ----------
        Montgomery, section 9.1.2: the signal's position less the run of its sum.
        """
        if not self.out.any():
            return None
        first = int(np.argmax(self.out))
        run = self.run_above if self.above[first] >= self.below[first] else self.run_below
        return first + 1 - int(run[first])


def ewma(values: ArrayLike, *, target: float, sd: float, weight: float = 0.1, width: float = 2.7) -> EwmaChart:
    """Return the chart of an exponentially weighted moving average.

    Parameters
    ----------
    values : array_like, shape (n,)
        In the order of time, finite.
    target : float
        Where the values should lie; the average begins there.
    sd : float
        Their standard deviation when all is well.
    weight : float
        Of the newest value, above 0, at most 1. With the default and its width, chance alone gives a signal about
        every 500 values.
    width : float
        Of the limits, in standard deviations of the average.

    Raises
    ------
    ValueError
        If values are not 1-D or not finite, or a parameter is out of its range.

    References
    ----------
    Montgomery, equations 9.22 to 9.26; table 9.10 has weight 0.1 and width 2.7.

    Examples
    --------
    >>> chart = ewma([9.45, 7.99], target=10.0, sd=1.0)
    >>> chart.average.round(4).tolist(), chart.low.round(2).tolist()
    ([9.945, 9.7495], [9.73, 9.64])
    """
    known = _checked(values, target, sd)
    if not 0.0 < weight <= 1.0:
        raise ValueError(f"weight must be above 0 and at most 1, got {weight}")
    _check_positive(width, "width")
    average = np.empty_like(known)
    level = target
    for index, value in enumerate(known):
        level = average[index] = weight * value + (1.0 - weight) * level
    age = np.arange(1, len(known) + 1)
    reach = width * sd * np.sqrt(weight / (2.0 - weight) * (1.0 - (1.0 - weight) ** (2 * age)))
    low, high = target - reach, target + reach
    return EwmaChart(average=average, low=low, high=high, out=(average < low) | (average > high))


def cusum(
    values: ArrayLike, *, target: float, sd: float, slack: float = 0.5, limit: float = 5.0, head_start: float = 0.0
) -> CusumChart:
    """Return the chart of the two-sided cumulative sum.

    Parameters
    ----------
    values : array_like, shape (n,)
        In the order of time, finite.
    target : float
        Where the values should lie.
    sd : float
        Their standard deviation when all is well.
    slack : float
        What is taken off each step, in standard deviations: half of the shift to be seen.
    limit : float
        The decision limit, in standard deviations.
    head_start : float
        Where both sums begin, in standard deviations; half of the limit sees a shift that is there from the
        start sooner (Lucas and Crosier 1982).

    Raises
    ------
    ValueError
        If values are not 1-D or not finite, or a parameter is out of its range.

    References
    ----------
    Montgomery, equations 9.2 and 9.3.

    Examples
    --------
    >>> cusum([0.8, 1.9, 1.4], target=0.0, sd=1.0, head_start=2.5).above.round(1).tolist()
    [2.8, 4.2, 5.1]
    """
    known = _checked(values, target, sd)
    _check_positive(limit, "limit")
    if not slack >= 0.0:
        raise ValueError(f"slack must not be negative, got {slack}")
    if not 0.0 <= head_start < limit:
        raise ValueError(f"head_start must lie between 0 and the limit, {limit}, got {head_start}")
    steps = (known - target) / sd
    above, run_above = _sums(steps - slack, head_start)
    below, run_below = _sums(-steps - slack, head_start)
    out = (above > limit) | (below > limit)
    return CusumChart(above=above, below=below, run_above=run_above, run_below=run_below, out=out)


def _sums(steps: FloatArray, start: float) -> tuple[FloatArray, IntArray]:
    """Return the sum that starts anew whenever it falls to 0, and how long it has been above."""
    sums, runs = np.empty_like(steps), np.empty(len(steps), dtype=np.int64)
    total, run = start, 0
    for index, step in enumerate(steps):
        total = max(0.0, total + step)
        run = run + 1 if total > 0.0 else 0
        sums[index], runs[index] = total, run
    return sums, runs


def _checked(values: ArrayLike, target: float, sd: float) -> FloatArray:
    known = np.asarray(values, dtype=np.float64)
    if known.ndim != 1 or not np.isfinite(known).all():
        raise ValueError(f"values must be finite and 1-D, got the shape {known.shape}")
    if not np.isfinite(target):
        raise ValueError(f"target must be finite, got {target}")
    _check_positive(sd, "sd")
    return known


def _check_positive(value: float, name: str) -> None:
    if not (np.isfinite(value) and value > 0.0):
        raise ValueError(f"{name} must be positive, got {value}")
