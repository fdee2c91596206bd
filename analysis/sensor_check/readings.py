"""Stretches of the stream as the sensor sent it, the mean of one, and whether it was still.

The noise of a sensor is rarely white: a hum, a slow filter and creep tie one sample to the next, and then the
standard deviation over the square root of their number promises too much. So a stretch is cut into fifths of a
second, which hold ten or twelve whole periods of the mains, and the scatter of their means is the evidence.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from acquire.values.arrays import FloatArray

READING_BLOCK_S = 0.2
FEW_BLOCKS = 4
"""The scatter of fewer means says nothing."""

STILL_SDS = 5.2
"""Means of a still sensor differ by less than so many of their standard deviations: 99 of 100 times, for ten means
(the range of ten normal values; checked against another library)."""
MAD_TO_SD = 1.4826
"""Of a normal distribution: standard deviation over median absolute deviation."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """One stretch of the stream."""

    time: FloatArray
    """Seconds of the stream, shape (n,), increasing."""
    counts: FloatArray
    """What the sensor sent, shape (n,)."""

    def __post_init__(self) -> None:
        if self.time.shape != self.counts.shape or self.time.ndim != 1 or len(self.time) < 2:
            raise ValueError(
                f"time and counts must be two rows of at least 2, got {self.time.shape} and {self.counts.shape}"
            )

    @property
    def seconds(self) -> float:
        """From the first sample to the last."""
        return float(self.time[-1] - self.time[0])

    def within(self, start: float, stop: float) -> Readings:
        """Return the part from one second of the stream to another, both ends included."""
        low, high = np.searchsorted(self.time, start, side="left"), np.searchsorted(self.time, stop, side="right")
        return Readings(time=self.time[low:high], counts=self.counts[low:high])


class Mean(NamedTuple):
    """The mean of a stretch, and how well it is known from the stretch itself."""

    counts: float
    standard_counts: float
    """Standard uncertainty, type A."""
    degrees_of_freedom: int


def mean_of(readings: Readings) -> Mean:
    """Return the mean of a stretch.

    Parameters
    ----------
    readings : Readings
        A still stretch.

    References
    ----------
    JCGM 100:2008, 4.2.3: the experimental standard deviation of the mean, here of means of fifths of a second.

    Examples
    --------
    >>> time = np.arange(1000) / 500.0
    >>> mean_of(Readings(time=time, counts=100.0 + np.floor(time / 0.2 + 1e-9) % 2)).counts
    100.5
    """
    values = block_means(readings.time, readings.counts)
    if len(values) < FEW_BLOCKS:
        values = readings.counts
    spread = float(values.std(ddof=1)) / math.sqrt(len(values))
    return Mean(float(readings.counts.mean()), spread, len(values) - 1)


def block_means(time: FloatArray, values: FloatArray, *, block_s: float = READING_BLOCK_S) -> FloatArray:
    """Return the means of blocks of time; a last one that is less than half full belongs to the one before.

    Parameters
    ----------
    time, values : ndarray, shape (n,)
        Seconds, increasing and finite, and what is averaged; n at least 1. A NaN makes the mean of its block NaN.
    block_s : float
        Length of a block, s.

    Examples
    --------
    >>> block_means(np.arange(5.0), np.array([1.0, 3.0, 5.0, 7.0, 9.0]), block_s=2.0).tolist()
    [2.0, 6.0, 9.0]
    """
    numbers = np.floor((time - time[0]) / block_s + 1e-9).astype(int)
    counts = np.bincount(numbers)
    if len(counts) > 1 and counts[-1] < 0.5 * counts[:-1].mean():
        numbers[numbers == len(counts) - 1] -= 1
        counts = np.bincount(numbers)
    sums = np.bincount(numbers, weights=values)
    filled = counts > 0
    return np.asarray(sums[filled] / counts[filled])


def moved(time: FloatArray, force: FloatArray) -> float:
    """Return how far the means of fifths of a second differ.

    Parameters
    ----------
    time, force : ndarray, shape (n,)
        Seconds and any unit; n at least 1. With a NaN among the forces the answer is NaN.

    Examples
    --------
    >>> time = np.arange(2000) / 1000.0
    >>> moved(time, np.where(time < 1.0, 0.0, 3.0))
    3.0
    """
    return float(np.ptp(block_means(time, force)))


def moved_by_noise(time: FloatArray, force: FloatArray) -> float:
    """Return how far such means of a still sensor may differ, from what its noise did to an unloaded one.

    The scatter comes from the median step between neighbouring means, so that neither a drift nor a touch adds to it.

    Parameters
    ----------
    time, force : ndarray, shape (n,)
        Of the unloaded sensor, seconds and any unit. With a NaN among the forces the answer is NaN.

    Examples
    --------
    >>> time = np.arange(30_000) / 1000.0
    >>> noise = np.random.default_rng(1).normal(0.0, 1.0, 30_000)
    >>> round(moved_by_noise(time, noise + time), 1)  # about 5.2 / sqrt(200)
    0.4
    """
    means = block_means(time, force)
    if len(means) < FEW_BLOCKS:
        return 0.0
    steps = np.diff(means)
    return STILL_SDS * MAD_TO_SD * float(np.median(np.abs(steps - np.median(steps)))) / math.sqrt(2.0)
