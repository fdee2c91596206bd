"""Long traces made short for drawing: the lowest and the highest sample of each column of pixels.

A screen that is 1200 pixels wide shows no more of a minute at 10 kHz than, in each column, from where to where
the trace goes. So two samples a column, in the order in which they came, draw the same picture as 600,000, and
the shortest spike is still there: a screen that thins by every n-th sample, or by means, loses it.

References
----------
Jugel, Jerzak, Hackenbroich and Markl 2014, M4: a visualization-oriented time series data aggregation, Proc VLDB
Endow 7:797-808. They keep the first and last sample of a column as well, which sets the pixels between two
columns exactly right; the extremes are what must not be lost (from memory).
"""

from __future__ import annotations

import numpy as np

from acquire.values.arrays import BoolArray, FloatArray, IndexArray


def columns(
    time: FloatArray, force: FloatArray, *, start: float, stop: float, width: int
) -> tuple[FloatArray, FloatArray]:
    """Return the points of one polyline that shows a part of a trace on so many columns of pixels.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Seconds, increasing, evenly spaced or not.
    force : ndarray, shape (n,)
        Any unit; NaN where a sample was lost. A step in time alone is no gap.
    start, stop : float
        The part that is shown, s.
    width : int
        Columns of pixels from `start` to `stop`, at least 1.

    Returns
    -------
    x, y : ndarray, shape (m,)
        Points of the trace itself, in the order of time: the lowest and the highest sample of each column, and one
        sample on either side of the part, so that the line runs on to the edges; at most 2 `width` + 2. Where that
        would be more points than there are samples, all samples. A NaN in `y` breaks the line: there is one wherever
        a lost sample lies between two points. A point between two breaks comes twice, so that a line of no length
        marks it.

    Raises
    ------
    ValueError
        If `time` and `force` differ in shape, `stop` is not above `start`, or `width` is not positive.

    Examples
    --------
    >>> time = np.arange(8.0)
    >>> force = np.array([0.0, 1.0, 9.0, 2.0, 3.0, 4.0, -5.0, 6.0])
    >>> x, y = columns(time, force, start=0.0, stop=8.0, width=2)
    >>> x.tolist(), y.tolist()
    ([0.0, 2.0, 6.0, 7.0], [0.0, 9.0, -5.0, 6.0])
    """
    if time.shape != force.shape or time.ndim != 1:
        raise ValueError(f"time and force must be 1-D and alike, got {time.shape} and {force.shape}")
    if not stop > start:
        raise ValueError(f"stop must be above start, got {start} s to {stop} s")
    if width < 1:
        raise ValueError(f"width must be at least 1, got {width} columns")
    first, last = int(np.searchsorted(time, start, "left")), int(np.searchsorted(time, stop, "right"))
    if last - first <= 2 * width:
        shown = np.arange(max(0, first - 1), min(len(time), last + 1))
    else:
        edges = np.linspace(start, stop, width + 1)[:-1]
        inside = first + _extremes(force[first:last], np.searchsorted(time[first:last], edges))
        before, after = np.arange(max(0, first - 1), first), np.arange(last, min(len(time), last + 1))
        shown = np.concatenate([before, inside, after])
    return _broken_at_gaps(time, force, shown)


def _extremes(force: FloatArray, begins: IndexArray) -> IndexArray:
    """Return the lowest and the highest sample of each column that has samples, in the order of time."""
    begins = np.unique(begins[begins < len(force)])  # an empty column begins where the next one does
    least, most = np.minimum.reduceat(force, begins), np.maximum.reduceat(force, begins)
    if np.isnan(least).any():  # these two pass over lost samples, and take twice as long
        least, most = np.fmin.reduceat(force, begins), np.fmax.reduceat(force, begins)
    found = np.stack([_first_at(force, least, begins), _first_at(force, most, begins)], axis=1)
    return np.sort(found, axis=1).ravel()


def _first_at(force: FloatArray, levels: FloatArray, begins: IndexArray) -> IndexArray:
    """Return the first sample at which each column has its level; its first of all where all are lost."""
    lengths = np.diff(begins, append=len(force))
    hits = np.append(np.flatnonzero(force == np.repeat(levels, lengths)), 0)
    return np.where(np.isnan(levels), begins, hits[np.searchsorted(hits[:-1], begins)])


def _broken_at_gaps(time: FloatArray, force: FloatArray, shown: IndexArray) -> tuple[FloatArray, FloatArray]:
    """Return the samples as points, with a NaN between two of them where a sample was lost."""
    x, y = time[shown], force[shown]
    lost = np.flatnonzero(np.isnan(force[shown[0] : shown[-1] + 1])) if len(shown) else shown
    if not len(lost):
        return x, y
    before = np.searchsorted(lost, shown - shown[0], "right")
    between = np.flatnonzero(np.diff(before) > 0) + 1
    broken = between[~np.isnan(y[between]) & ~np.isnan(y[between - 1])]
    return _lone_twice(np.insert(x, broken, x[broken]), np.insert(y, broken, np.nan))


def _lone_twice(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the points with those doubled that have a break on either side."""
    gone: BoolArray = np.concatenate([[True], np.isnan(y), [True]])
    lone = ~gone[1:-1] & gone[:-2] & gone[2:]
    times = np.where(lone, 2, 1)
    return np.repeat(x, times), np.repeat(y, times)
