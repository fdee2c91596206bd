"""What time stamps are worth: which samples are missing among them, and when those were taken that share one.

A stamp of a radio link, or one that a computer gave, is early or late by part of a period, so one long step says
nothing. A lost sample moves all stamps after it; a late stamp moves none but its own. So loss is judged by the count
over a span: the stamps before and after a place, each compared with its number times the period.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.values.arrays import FloatArray

IntArray = NDArray[np.int64]

GAP_STEPS = 1.5
"""A step in time longer than this many median steps may be a gap."""

SHORT_STEPS = 0.75
"""Where steps shorter than this many median steps are half as frequent as the long ones, stamps jitter."""

SPAN = 25
"""So many stamps before and after a place are compared."""

LEAST_SPAN = 4

LEAST_SHIFT = 0.6
"""Stamps that move by more than this part of what one of them stands for have lost something."""

LOSSY_QUANTILES = (0.3, 0.12, 0.05)
"""Of the periods of spans, for stamps among which much is lost."""

CLOSER = 0.8
"""A shorter period is taken when it leaves this part of the spread, or less."""

LEAST_SHARED = 0.4
"""Stamps are those of packets when so many are shared, at least."""

LEAST_PACKETS = 3


class MissingSamples(NamedTuple):
    """Where samples are missing among others."""

    before: IntArray
    """Index of the sample before which they are missing, increasing."""
    number: IntArray
    """How many."""


def sample_period(time: FloatArray) -> float:
    """Return the time from one sample to the next, gaps left out, s.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Seconds, finite and strictly increasing; two samples at least.

    Examples
    --------
    >>> sample_period(np.array([0.0, 0.25, 0.5, 9.0, 9.25]))
    0.25
    """
    steps = np.diff(time)
    if _jitters(steps):
        return _counted(time, np.ones(len(time), dtype=np.int64))[1]
    # the mean of the unbroken steps: a clock of milliseconds has no step of 3.125
    return float(steps[steps <= GAP_STEPS * float(np.median(steps))].mean())


def missing_samples(time: FloatArray) -> MissingSamples:
    """Return where samples are missing.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Seconds, finite and strictly increasing; two samples at least.

    Examples
    --------
    >>> missing_samples(np.array([0.0, 0.1, 0.2, 0.5, 0.6])).number.tolist()
    [2]
    >>> late = np.arange(100) / 100.0
    >>> late[50] += 0.007
    >>> missing_samples(late).number.tolist()
    []
    """
    steps = np.diff(time)
    holes = np.flatnonzero(steps > GAP_STEPS * float(np.median(steps)))
    if not len(holes):
        return MissingSamples(holes, holes)
    if _jitters(steps):
        lost = _counted(time, np.ones(len(time), dtype=np.int64))[0]
        before = np.flatnonzero(lost)
        return MissingSamples(before, lost[before])
    missing = np.maximum(np.rint(steps[holes] / sample_period(time)).astype(np.int64) - 1, 1)
    return MissingSamples(holes + 1, missing)


def are_shared(time: FloatArray) -> bool:
    """Tell whether stamps are those of packets, each shared by the samples of one.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Seconds that do not decrease, all finite.

    Examples
    --------
    >>> are_shared(np.repeat([0.0, 0.1, 0.2], 10)), are_shared(np.array([0.0, 0.1, 0.1, 0.2]))
    (True, False)
    """
    sizes = _packets(time)[1]
    return len(sizes) >= LEAST_PACKETS and float((sizes > 1).mean()) >= LEAST_SHARED


def spread(time: FloatArray) -> FloatArray:
    """Return when the samples of packets were taken, whose stamps they share: evenly, with a gap where some are lost.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Seconds, finite, that do not decrease and `are_shared`. Whether a packet is stamped at its first or its last
        sample is not known; it is taken for its first.

    Returns
    -------
    ndarray, shape (n,)
        Seconds, strictly increasing.

    Examples
    --------
    >>> spread(np.repeat([0.0, 0.5, 1.0, 1.5], 2)).tolist()
    [0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 1.75]
    """
    stamps, sizes = _packets(time)
    lost, period = _counted(stamps, sizes)
    number = np.arange(len(time)) + np.repeat(np.cumsum(lost), sizes)
    firsts = number[np.cumsum(sizes) - sizes]
    return np.asarray(period * number + float(np.mean(stamps - period * firsts)))


def _packets(time: FloatArray) -> tuple[FloatArray, IntArray]:
    begins = np.flatnonzero(np.concatenate([[True], np.diff(time) > 0.0]))
    return time[begins], np.diff(np.append(begins, len(time)))


def _jitters(steps: FloatArray) -> bool:
    """Tell whether steps are short as often as they are long: loss makes long ones alone."""
    median = float(np.median(steps))
    long, short = np.count_nonzero(steps > GAP_STEPS * median), np.count_nonzero(steps < SHORT_STEPS * median)
    return bool(long and 2 * short >= long)


def _counted(stamps: FloatArray, sizes: IntArray) -> tuple[IntArray, float]:
    """Return how many samples are lost before each stamp, by count over a span, and the period of a sample, s.

    Where much is lost, most spans have lost something: shorter periods are tried too, and taken when the stamps lie
    much closer to their places.
    """
    packets = _Stamps(stamps, np.cumsum(sizes) - sizes, sizes, min(SPAN, max(1, len(stamps) // 4)))
    span, count = packets.span, packets.number
    periods = (stamps[span:] - stamps[:-span]) / (count[span:] - count[:-span])
    best = packets.fitted(float(np.median(periods)))
    for quantile in LOSSY_QUANTILES:
        other = packets.fitted(float(np.quantile(periods, quantile)))
        best = other if other.spread < CLOSER * best.spread else best
    return best.lost, best.period


class _Fit(NamedTuple):
    lost: IntArray
    period: float
    spread: float
    """Standard deviation of the stamps about their places, s."""


class _Stamps(NamedTuple):
    """The stamps of packets, or of single samples."""

    at: FloatArray
    number: IntArray
    """Samples before each."""
    sizes: IntArray
    span: int

    def fitted(self, period: float) -> _Fit:
        """Return the losses, beginning with a period, which is that of all stamps once they are known."""
        lost = self._shifts(period)
        for _ in range(2):
            period = float(np.polyfit(self.number + np.cumsum(lost), self.at, 1)[0])
            lost = self._shifts(period)
        return _Fit(lost, period, float(np.std(self.at - period * (self.number + np.cumsum(lost)))))

    def _shifts(self, period: float) -> IntArray:
        """Return how many samples are missing before each stamp: where the stamps move for good."""
        usual = int(np.median(self.sizes))
        unit = usual if bool((self.sizes[:-1] == usual).all()) else 1  # whole packets are lost
        lost = np.zeros(len(self.at), dtype=np.int64)
        left = self.at - period * self.number
        for _ in range(len(left)):
            shift = _shift(left, self.span)
            about = int(np.argmax(shift))
            if shift[about] <= LEAST_SHIFT * usual * period:
                break
            first = max(1, about - LEAST_SPAN)
            steps = np.diff(left[first - 1 : about + LEAST_SPAN + 1])
            at = first + int(np.argmax(steps))
            most = float(steps.max()) / period + usual  # a step stands for little more than itself
            count = unit * max(1, round(min(float(shift[about]) / period, most) / unit))
            lost[at] += count
            left[at:] -= count * period
        return lost


def _shift(residual: FloatArray, span: int) -> FloatArray:
    """Return by how much the stamps from each one on are later than those before it; 0 near the ends."""
    total = np.concatenate([[0.0], np.cumsum(residual)])
    here = np.arange(len(residual))
    before, after = np.minimum(here, span), np.minimum(len(residual) - here, span)
    least = np.minimum(LEAST_SPAN, span)
    known = (before >= least) & (after >= least)
    shift = np.zeros(len(residual))
    k, b, a = here[known], before[known], after[known]
    shift[known] = (total[k + a] - total[k]) / a - (total[k] - total[k - b]) / b
    return shift
