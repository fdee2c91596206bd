"""The hold: the longest run of the smoothed force that stays within a band about its own mean.

The band depends on the mean of the run and the mean on where the run begins and ends, so neither end can
be found without the other. The search is exact all the same. A run that is found at once says how long the
longest is at least. On a grid of short blocks, each stretch of whole blocks that such a run may hold is
either proved impossible or not: the mean of the run is that of the whole blocks, but for the two broken
ones at the ends, of which is known that they too lie within the band about the mean. What is possible is
tried sample by sample, the longest first, until nothing that is left can hold a longer run. A run whose
mean is below half of the highest level is rest, not hold.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from acquire.values.arrays import BoolArray, FloatArray, IndexArray

LEAST_LEVEL = 0.5
"""A hold's mean is at least this share of the highest level."""

BLOCKS = 100
"""The grid has about so many blocks."""

GUESSES = 4
"""A mean and the run about it are taken from each other so often, before the search begins."""

ROUNDING = 1e-9
"""Nothing is ruled out by less than this share: sums taken in another order differ a little."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """Where a hold lies, as samples [start, stop), and its mean."""

    start: int
    stop: int
    mean: float


def longest_hold(smooth: FloatArray, *, band: float) -> Hold:
    """Return the longest run within plus and minus `band` of its mean; of equally long ones the highest.

    Parameters
    ----------
    smooth : ndarray, shape (n,)
        Smoothed force, N, no NaN.
    band : float
        Half width, as a share of the mean, below 1: 0.1 is ten per cent.

    Returns
    -------
    Hold
        The highest sample alone where nothing lasts.

    References
    ----------
    Caldwell et al. 1974, Am Ind Hyg Assoc J 35:201-206: a steady exertion stays within a band about its mean
    (from memory).

    Examples
    --------
    >>> force = np.concatenate([np.zeros(10), np.full(30, 100.0), np.zeros(10)])
    >>> longest_hold(force, band=0.1)
    Hold(start=10, stop=40, mean=100.0)
    """
    peak = int(np.argmax(smooth))
    top = float(smooth[peak])
    if top <= 0.0:
        return Hold(start=peak, stop=peak + 1, mean=top)
    # the lowest sample of a hold is within the band of a mean that is half of the top at least
    high = np.flatnonzero(smooth >= (1.0 - band) * LEAST_LEVEL * top)
    low = int(high[0])
    force = smooth[low : int(high[-1]) + 1]
    total = np.empty(len(force) + 1)
    total[0] = 0.0
    np.cumsum(force, out=total[1:])
    run = _longest(_Search(force=force, total=total, band=band, least=LEAST_LEVEL * top))
    return Hold(start=low + run.start, stop=low + run.stop, mean=float(force[run.start : run.stop].mean()))


class _Search(NamedTuple):
    """What a run is looked for in."""

    force: FloatArray
    total: FloatArray
    """Sum of the force before each sample, shape (n + 1,)."""
    band: float
    least: float
    """The least mean of a hold, N."""

    def keeps(self, mean: FloatArray, lowest: FloatArray, highest: FloatArray) -> BoolArray:
        """Tell which runs are high enough and within the band about their mean."""
        fits = (highest <= (1.0 + self.band) * mean) & (lowest >= (1.0 - self.band) * mean)
        return np.asarray(fits & (mean >= self.least))


class _Run(NamedTuple):
    start: int
    stop: int
    mean: float

    def better(self, other: _Run) -> _Run:
        """Return the longer of two runs, the higher of equally long ones, the first of equal ones."""
        mine, others = self.stop - self.start, other.stop - other.start
        if mine != others:
            return self if mine > others else other
        apart = abs(self.mean - other.mean) > ROUNDING * abs(self.mean)
        return max(self, other, key=lambda run: (run.mean if apart else 0.0, -run.start))


NOTHING = _Run(0, 0, 0.0)


def _longest(search: _Search) -> _Run:
    """Return the longest run of all."""
    peak = int(np.argmax(search.force))
    best = _Run(peak, peak + 1, float(search.force[peak]))
    known = _some_run(search)
    width = max(1, -(-len(search.force) // BLOCKS))
    firsts, counts, most = _possible(search, width, known)
    for place in np.argsort(-most, kind="stable").tolist():
        if most[place] < max(known, best.stop - best.start):
            break
        start = int(firsts[place]) * width
        best = best.better(_around(search, start, start + int(counts[place]) * width, width))
    if best.stop - best.start < 2 * width:  # a run that holds no whole block could be as long
        best = best.better(_within(search, 2 * width))
    return best


def _some_run(search: _Search) -> int:
    """Return the samples of a run that is found at once; 1 where none is."""
    force, longest = search.force, 1
    mean = float(search.total[-1]) / len(force)
    for _ in range(GUESSES):
        outside = np.flatnonzero(np.abs(force - mean) > search.band * mean)
        edges = np.concatenate([[-1], outside, [len(force)]])
        place = int(np.argmax(np.diff(edges)))
        run = force[edges[place] + 1 : edges[place + 1]]
        if len(run) <= longest:
            break
        mean = float(run.mean())
        if search.keeps(run.mean(), run.min(), run.max()):
            longest = len(run)
    return longest


def _possible(search: _Search, width: int, known: int) -> tuple[IndexArray, IndexArray, IndexArray]:
    """Return the whole blocks that a run of `known` samples or more may hold: first, count, and its most samples."""
    blocks = len(search.force) // width
    fewest = max(1, -(-known // width) - 2)  # a run holds all of its blocks but the first and the last
    if blocks < fewest:
        none = np.empty(0, dtype=np.intp)
        return none, none, none
    levels = search.force[: blocks * width].reshape(-1, width)
    counts = np.arange(fewest, blocks + 1)
    firsts = np.arange(blocks - fewest + 1)[:, None]
    # row i: the blocks from i on, of growing count; past the last block nothing fits
    lowest = _growing(levels.min(axis=1), fewest, np.minimum, -np.inf)
    highest = _growing(levels.max(axis=1), fewest, np.maximum, np.inf)
    sums = search.total[np.minimum(firsts + counts, blocks) * width] - search.total[firsts * width]
    inside, broken = counts * width, 2.0 * width * search.band
    least, most = sums / (inside + broken), np.where(inside > broken, sums / np.maximum(inside - broken, 1.0), np.inf)
    fits = (highest <= (1.0 + search.band + ROUNDING) * most) & (lowest >= (1.0 - search.band - ROUNDING) * least)
    row, column = np.nonzero(fits & (most >= (1.0 - ROUNDING) * search.least))
    count = counts[column]
    after = np.minimum(len(search.force) - (row + count) * width, width)
    return row, count, np.where(row > 0, width, 0) + count * width + after


def _growing(levels: FloatArray, fewest: int, extreme: np.ufunc, beyond: float) -> FloatArray:
    """Return, for each first block, the extremes of the `fewest` blocks from it on, of one more, and so on."""
    rows = len(levels) - fewest + 1
    padded = np.concatenate([levels, np.full(rows - 1, beyond)])
    growing = np.lib.stride_tricks.sliding_window_view(padded[fewest - 1 :], rows).copy()
    growing[:, 0] = extreme.reduce(np.lib.stride_tricks.sliding_window_view(levels, fewest), axis=1)
    return np.asarray(extreme.accumulate(growing, axis=1))


def _around(search: _Search, inner_start: int, inner_stop: int, width: int) -> _Run:
    """Return the longest run that holds the samples given, and up to `width` more on either side."""
    force = search.force
    begin, end = max(0, inner_start - width), min(len(force), inner_stop + width)
    inner = force[inner_start:inner_stop]
    head = np.concatenate([[0.0], force[begin:inner_start][::-1]])
    tail = np.concatenate([[0.0], force[inner_stop:end]])
    head[0] = tail[0] = inner.min()
    lowest = np.minimum(np.minimum.accumulate(head)[:, None], np.minimum.accumulate(tail))
    head[0] = tail[0] = inner.max()
    highest = np.maximum(np.maximum.accumulate(head)[:, None], np.maximum.accumulate(tail))
    starts, stops = inner_start - np.arange(len(head)), inner_stop + np.arange(len(tail))
    lengths = stops - starts[:, None]
    means = (search.total[stops] - search.total[starts][:, None]) / lengths
    return _best(search.keeps(means, lowest, highest), lengths, means, starts)


def _within(search: _Search, most: int) -> _Run:
    """Return the longest run of up to `most` samples, by trying all."""
    force = search.force
    most = min(most, len(force))
    low, high = (np.concatenate([force, np.full(most - 1, beyond)]) for beyond in (-np.inf, np.inf))
    lowest = np.minimum.accumulate(np.lib.stride_tricks.sliding_window_view(low, most), axis=1)
    highest = np.maximum.accumulate(np.lib.stride_tricks.sliding_window_view(high, most), axis=1)
    starts, lengths = np.arange(len(force)), np.arange(1, most + 1)
    stops = np.minimum(starts[:, None] + lengths, len(force))
    means = (search.total[stops] - search.total[starts][:, None]) / lengths
    return _best(search.keeps(means, lowest, highest), np.broadcast_to(lengths, means.shape), means, starts)


def _best(fits: BoolArray, lengths: IndexArray, means: FloatArray, starts: IndexArray) -> _Run:
    """Return the longest of the runs that fit, the first of the highest of equally long ones; rows are starts."""
    kept = np.where(fits, lengths, 0)
    longest = int(kept.max())
    best = NOTHING
    if longest:
        for row, column in zip(*np.nonzero(kept == longest), strict=True):
            start = int(starts[row])
            best = best.better(_Run(start, start + longest, float(means[row, column])))
    return best
