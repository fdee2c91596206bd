"""The swings of a held force: where it turns by more than a depth, how fast it falls and how fast it comes back.

A hand that gives way falls faster than the person pushes it back, or drops once out of a level hold. A
wave of sway, a breath or tremor rises as fast as it falls and is above its middle as long as below.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.values.arrays import FloatArray

STEP_S = 0.02
"""The force is looked at each so many seconds: turning points of a hold need no finer look."""

CHANGE_S = 0.1
"""Changes of the force are compared over so long."""

SIGMA_OF_MEDIAN = 1.4826
"""Standard deviation of a normal distribution from its median absolute deviation."""

EDGE = 0.3
"""Fall and recovery are timed without this share of them at either end, where peak and trough are flat."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drop:
    """A fall from a peak to a trough, and the rise to the next peak."""

    peak: int
    trough: int
    back: int
    """The samples of the peak, the trough and the next peak."""
    depth: float
    """From the peak to the trough, N."""
    fall_s: float
    """Time for the middle two fifths of the fall."""
    recovery_s: float
    """Time for the middle two fifths of the rise back."""
    below_s: float
    """How long the force is below the middle between peak and trough."""
    suddenness: float
    """The steepest tenth of a second of the fall, in usual changes of the held force over that time."""
    above_s: float
    """How long it is above it before or after, whichever is shorter, up to the next drop or the end of the hold."""


def turning_points(values: FloatArray, depth: float) -> list[int]:
    """Return the peaks and troughs between which the values move by at least `depth`, in turn, a peak first.

    The last peak or trough counts only if the values turn away from it by `depth`, or it is a peak.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Any unit, no NaN.
    depth : float
        In the unit of `values`, above 0.

    Returns
    -------
    list of int
        Indices: peak, trough, peak and so on.

    References
    ----------
    ASTM E1049-85, 5.4 (turning points before cycles are counted, here with a gate), from memory.

    Examples
    --------
    >>> turning_points(np.array([0.0, 5.0, 4.5, 5.0, 1.0, 4.0, 3.8]), 2.0)
    [1, 4, 5]
    """
    points: list[int] = []
    high = low = 0
    falling = False
    for place, value in enumerate(values.tolist()):
        if falling:
            if value < values[low]:
                low = place
            elif value - values[low] >= depth:
                points.append(low)
                falling, high = False, place
        elif value > values[high]:
            high = place
        elif values[high] - value >= depth:
            points.append(high)
            falling, low = True, place
    if not falling and len(values):
        points.append(high)
    return points


def find_drops(force: FloatArray, rate: float, *, depth: float) -> list[Drop]:
    """Return every drop of a held force by at least `depth` that comes back by as much.

    Parameters
    ----------
    force : ndarray, shape (n,)
        Smoothed force of the held part, N, no NaN.
    rate : float
        Samples per second, Hz.
    depth : float
        N, above 0.

    Examples
    --------
    A hold of 100 N that gives way by 15 N for half a second.

    >>> held = np.full(400, 100.0)
    >>> held[150:200] -= 15.0 * np.hanning(50)
    >>> (drop,) = find_drops(held, 100.0, depth=5.0)
    >>> round(drop.depth), round(drop.trough / 100.0, 1)
    (15, 1.7)
    """
    step = max(1, round(STEP_S * rate))
    seen = force[::step]
    span = max(1, round(CHANGE_S * rate / step))
    if len(seen) <= 2 * span:
        return []
    change = seen[span:] - seen[:-span]
    # of the middle of them, which neither drops nor what the ramp leaves can widen
    usual = SIGMA_OF_MEDIAN * float(np.median(np.abs(change - np.median(change))))
    points = turning_points(seen, depth)
    peaks, troughs = points[::2], points[1::2]
    found = []
    for number, (peak, trough, back) in enumerate(zip(peaks, troughs, peaks[1:], strict=False)):
        middle = 0.5 * float(seen[peak] + seen[trough])
        since = troughs[number - 1] if number else 0
        until = troughs[number + 1] if number + 1 < len(troughs) else len(seen)
        below = np.flatnonzero(seen[peak : back + 1] <= middle) + peak
        first, last = int(below[0]), int(below[-1])
        above = min(
            int(np.count_nonzero(seen[since:first] >= middle)), int(np.count_nonzero(seen[last:until] >= middle))
        )
        seconds = step / rate
        found.append(
            Drop(
                peak=peak * step,
                trough=trough * step,
                back=back * step,
                depth=float(seen[peak] - seen[trough]),
                fall_s=seconds * _edge_time(seen[peak : trough + 1][::-1]),
                recovery_s=seconds * _edge_time(seen[trough : back + 1]),
                below_s=seconds * len(below),
                suddenness=-float(change[max(0, peak - span) : trough].min(initial=0.0)) / max(usual, 1e-9),
                above_s=seconds * above,
            )
        )
    return found


def _edge_time(rising: FloatArray) -> float:
    """Return the steps from the last value in the lower `EDGE` to the first in the upper one, between samples."""
    low, high = (float(rising[0] + share * (rising[-1] - rising[0])) for share in (EDGE, 1.0 - EDGE))
    above = int(np.argmax(rising >= high))
    before = int(np.flatnonzero(rising[:above] < low)[-1]) if (rising[:above] < low).any() else 0
    start = before + _share(rising[before], rising[min(before + 1, len(rising) - 1)], low)
    stop = above - 1 + _share(rising[above - 1], rising[above], high) if above else 0.0
    return max(stop - start, 0.5)


def _share(first: float, second: float, level: float) -> float:
    return 0.0 if second == first else float(min(1.0, max(0.0, (level - first) / (second - first))))
