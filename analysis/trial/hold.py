"""The hold: the longest run of the smoothed force that stays within a band about its own mean.

The band depends on the mean of the run and the mean on where the run begins and ends, so the search is
exhaustive: on a grid of short blocks every pair of ends is tried at once, and the ends of the winner are
then moved to the exact samples. A run whose mean is below half of the highest level is rest, not hold.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.values.records import FloatArray
from analysis.trial.windows import block_means, first_true, last_true

LEAST_LEVEL = 0.5
"""A hold's mean is at least this share of the highest level."""

MOST_BLOCKS = 600
"""The grid is made coarser for long traces, so that the search stays bounded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """Where a hold lies, as samples [start, stop), and its mean."""

    start: int
    stop: int
    mean: float


def longest_hold(smooth: FloatArray, *, band: float, block: int) -> Hold:
    """Return the longest run within plus and minus `band` of its mean.

    Parameters
    ----------
    smooth : ndarray, shape (n,)
        Smoothed force, N, with a highest level above 0.
    band : float
        Half width, as a share of the mean: 0.1 is ten per cent.
    block : int
        Samples in a block of the grid; about the length of the smoothing.

    Returns
    -------
    Hold

    References
    ----------
    Caldwell et al. 1974, Am Ind Hyg Assoc J 35:201-206: a steady exertion stays within 10 % of its mean
    (that figure from memory).

    Examples
    --------
    >>> force = np.concatenate([np.zeros(10), np.full(30, 100.0), np.zeros(10)])
    >>> longest_hold(force, band=0.1, block=5)
    Hold(start=10, stop=40, mean=100.0)
    """
    width = min(max(1, block, -(-len(smooth) // MOST_BLOCKS)), len(smooth))
    levels = block_means(smooth, width)
    if levels.max() <= 0.0:  # a spike in the last, broken block is all there is
        peak = int(np.argmax(smooth))
        return Hold(start=peak, stop=peak + 1, mean=float(smooth[peak]))
    high = np.flatnonzero(levels >= (1.0 - band) * LEAST_LEVEL * levels.max())
    low = int(high[0])
    start, stop = _longest_run(levels[low : int(high[-1]) + 1], band=band)
    return _exact(smooth, (low + start) * width, (low + stop) * width, band=band)


def _longest_run(levels: FloatArray, *, band: float) -> tuple[int, int]:
    """Return the ends [start, stop) of the longest run of blocks within the band about its mean."""
    count = len(levels)
    padded = np.concatenate([levels, np.full(count, np.nan)])
    # row i holds the levels from i on: padded[i], padded[i + 1], ...
    rows = np.lib.stride_tricks.sliding_window_view(padded, count)[:count]
    means = np.cumsum(rows, axis=1) / np.arange(1, count + 1)
    with np.errstate(invalid="ignore"):
        fits = np.maximum.accumulate(rows, axis=1) <= (1.0 + band) * means
        fits &= np.minimum.accumulate(rows, axis=1) >= (1.0 - band) * means
        fits &= means >= LEAST_LEVEL * levels.max()
    lengths = np.where(fits, np.arange(1, count + 1), 0).max(axis=1)
    longest = int(lengths.max())
    starts = np.flatnonzero(lengths == longest)
    start = int(starts[np.argmax(means[starts, longest - 1])]) if longest else int(np.argmax(levels))
    return start, start + max(longest, 1)


def _exact(smooth: FloatArray, start: int, stop: int, *, band: float) -> Hold:
    """Move the ends of a run to the samples at which the smoothed force enters and leaves the band."""
    mean = float(smooth[start:stop].mean())
    outside = np.abs(smooth - mean) > band * abs(mean)
    inside = start + int(np.argmin(np.abs(smooth[start:stop] - mean)))
    if outside[inside]:  # a spike: no sample is near the mean of its block
        inside = start + int(np.argmax(smooth[start:stop]))
        return Hold(start=inside, stop=inside + 1, mean=float(smooth[inside]))
    later = first_true(outside, inside)
    earlier = last_true(outside, 0, inside)
    end = len(smooth) if later is None else later
    begin = 0 if earlier is None else earlier + 1
    return Hold(start=begin, stop=end, mean=float(smooth[begin:end].mean()))
