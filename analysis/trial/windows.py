"""Means over windows and the times of crossings: the arithmetic that the measures share."""

from __future__ import annotations

import numpy as np

from acquire.values.arrays import BoolArray, FloatArray

LEVEL_BLOCK_S = 0.05
"""Length of the blocks on which levels, stretches and drops are looked for."""


def moving_mean(values: FloatArray, width: int) -> FloatArray:
    """Return the centred moving mean; near the ends the window holds only what is there.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Any unit, no NaN.
    width : int
        Samples in a window, at least 1.

    Raises
    ------
    ValueError
        If `width` is less than 1.

    Examples
    --------
    >>> moving_mean(np.array([0.0, 3.0, 6.0, 9.0]), 3).tolist()
    [1.5, 3.0, 6.0, 7.5]
    """
    if width < 1:
        raise ValueError(f"width must be at least 1 sample, got {width}")
    count = len(values)
    if width == 1 or not count:
        return values.copy()
    total = np.empty(count + 1)
    total[0] = 0.0
    np.cumsum(values, out=total[1:])
    before, after = (width - 1) // 2, width // 2 + 1
    if width >= count:
        places = np.arange(count)
        low, high = np.maximum(places - before, 0), np.minimum(places + after, count)
        return np.asarray((total[high] - total[low]) / (high - low))
    means = np.empty(count)
    means[before : count - after + 1] = (total[width:] - total[:-width]) / width
    head = np.arange(after, before + after)
    means[:before] = total[head] / head
    tail = np.arange(width - 1, before, -1)
    means[count - after + 1 :] = (total[count] - total[count - tail]) / tail
    return means


def block_means(values: FloatArray, width: int) -> FloatArray:
    """Return the mean of each whole block of `width` samples, shape (n // width,).

    Parameters
    ----------
    values : ndarray, shape (n,)
        Any unit; NaN makes the mean of its block NaN.
    width : int
        Samples in a block, at least 1. What is left over at the end is not used.

    Examples
    --------
    >>> block_means(np.array([1.0, 3.0, 5.0, 7.0, 9.0]), 2).tolist()
    [2.0, 6.0]
    """
    blocks = len(values) // width
    return np.asarray(values[: blocks * width].reshape(blocks, width).mean(axis=1))


def best_window(values: FloatArray, width: int) -> tuple[int, float]:
    """Return where the window of `width` samples with the highest mean begins, and that mean.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Any unit, no NaN, at least one.
    width : int
        Samples in the window; all of them are taken when there are fewer.

    Examples
    --------
    >>> best_window(np.array([1.0, 4.0, 4.0, 1.0]), 2)
    (1, 4.0)
    """
    if width >= len(values):
        return 0, float(values.mean())
    total = np.concatenate([[0.0], np.cumsum(values)])
    means = total[width:] - total[:-width]
    start = int(np.argmax(means))
    return start, float(means[start] / width)


def slope(time: FloatArray, values: FloatArray) -> float:
    """Return the least-squares slope of `values` over `time`; NaN for fewer than two samples.

    Parameters
    ----------
    time, values : ndarray, shape (n,)
        Seconds, not all the same, and any unit, no NaN.

    Returns
    -------
    float
        The unit of `values` per second.

    Examples
    --------
    >>> slope(np.array([0.0, 1.0, 2.0]), np.array([1.0, 3.0, 5.0]))
    2.0
    """
    if len(time) < 2:
        return float("nan")
    centred = time - time.mean()
    return float(centred @ values / (centred @ centred))


def crossing(time: FloatArray, values: FloatArray, level: float, index: int) -> float:
    """Return the time at which the line from sample `index` - 1 to `index` meets `level`.

    Parameters
    ----------
    time, values : ndarray, shape (n,)
        Seconds, increasing, and any unit, no NaN.
    level : float
        In the unit of `values`. Where the line does not meet it, the nearer end is returned.
    index : int
        The sample after the crossing; the time of the first sample is returned for 0.

    Examples
    --------
    >>> crossing(np.array([0.0, 1.0]), np.array([0.0, 10.0]), 2.5, 1)
    0.25
    """
    if index <= 0:
        return float(time[0])
    low, high = values[index - 1], values[index]
    share = 0.0 if high == low else min(1.0, max(0.0, (level - low) / (high - low)))
    return float(time[index - 1] + share * (time[index] - time[index - 1]))


def first_true(mask: BoolArray, start: int, stop: int | None = None) -> int | None:
    """Return the first index in [start, stop) where `mask` holds, or None.

    Parameters
    ----------
    mask : ndarray of bool, shape (n,)
    start, stop : int
        Indices, as of a slice.

    Examples
    --------
    >>> first_true(np.array([True, False, True]), 1)
    2
    """
    part = mask[start:stop]
    if not len(part):
        return None
    place = int(part.argmax())
    return start + place if part[place] else None


def last_true(mask: BoolArray, start: int, stop: int) -> int | None:
    """Return the last index in [start, stop) where `mask` holds, or None.

    Parameters
    ----------
    mask : ndarray of bool, shape (n,)
    start, stop : int
        Indices, as of a slice.

    Examples
    --------
    >>> last_true(np.array([True, True, False]), 0, 3)
    1
    """
    part = mask[start:stop][::-1]
    if not len(part):
        return None
    place = int(part.argmax())
    return stop - 1 - place if part[place] else None


def runs(mask: BoolArray) -> list[tuple[int, int]]:
    """Return each unbroken run of True as (start, stop).

    Parameters
    ----------
    mask : ndarray of bool, shape (n,)

    Examples
    --------
    >>> runs(np.array([True, False, True, True]))
    [(0, 1), (2, 4)]
    """
    edges = np.flatnonzero(np.diff(mask, prepend=False, append=False))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
