"""Whether an examiner, or a sensor, changed over time: two control charts, their signals dated.

An examiner's series has one value a session: how many of its trials have it, against what all others' shares in the
same strata let expect, in standard deviations. A sensor's series is its zero, or its sensitivity, one value a session,
against its own first sessions.

References
----------
Montgomery, Introduction to Statistical Quality Control, chapter 9 (EWMA, CUSUM); moving range, section 6.4.
Lucas and Crosier 1982, Technometrics 24:199-205 (head start).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from acquire.values.arrays import BoolArray, FloatArray, IndexArray
from analysis.statistics.control_charts import cusum, ewma

WEIGHT, WIDTH = 0.1, 2.7
SLACK, LIMIT = 0.5, 5.0
DRIFT_WIDTH = 3.5
LEAST_POINTS = 6
BASELINE = 20
"""A sensor's first sessions, which the later ones are held against."""
D2 = 1.128
"""Mean range of two values over their standard deviation (Montgomery, appendix VI)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """A chart that went beyond its limit, or came back."""

    at_s: float
    """When, seconds since 1970."""
    chart: Literal["ewma", "cusum"]
    change: Literal["above", "below", "back"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """A series over time and its charts; arrays of shape (n,)."""

    at_s: FloatArray
    """When, seconds since 1970, increasing."""
    value: FloatArray
    average: FloatArray
    """The moving average."""
    low: FloatArray
    high: FloatArray
    """Its limits."""
    signals: tuple[Signal, ...]
    since_s: float | None
    """When the shift behind the first signal of the sums began; None without one."""


def residuals(
    mine: BoolArray, has: BoolArray, stratum: IndexArray, session: IndexArray
) -> tuple[IndexArray, FloatArray]:
    """Return, for each session of one examiner, how far its share is from that expected of the others.

    Parameters
    ----------
    mine, has : ndarray of bool, shape (n,)
        Which trials are this examiner's, and which have it.
    stratum, session : ndarray of int, shape (n,)
        Trials that may be compared have the same stratum; the trials of a session have the same session.

    Returns
    -------
    sessions : ndarray of int, shape (m,)
    value : ndarray, shape (m,)
        In standard deviations. Sessions are left out whose strata nobody else tests, or in which it never happens.

    Examples
    --------
    One trial in five of the others has the fault; four of five, then one of five of this examiner's.

    >>> mine, session = np.arange(20) < 10, np.arange(20) // 5
    >>> has = np.isin(np.arange(20), [0, 1, 2, 3, 5, 10, 15])
    >>> sessions, value = residuals(mine, has, np.zeros(20, dtype=np.intp), session)
    >>> sessions.tolist(), value.round(1).tolist()
    ([0, 1], [3.4, 0.0])
    """
    size = int(stratum.max()) + 1
    theirs = np.bincount(stratum[~mine], minlength=size).astype(np.float64)
    share = np.bincount(stratum[~mine], weights=has[~mine], minlength=size) / np.maximum(theirs, 1.0)
    known = mine & (theirs[stratum] > 0)
    numbers, of = np.unique(session[known], return_inverse=True)
    expected = np.bincount(of, weights=share[stratum[known]])
    variance = np.bincount(of, weights=share[stratum[known]] * (1.0 - share[stratum[known]]))
    found = np.bincount(of, weights=has[known])
    inside = variance > 0.0
    return numbers[inside], (found[inside] - expected[inside]) / np.sqrt(variance[inside])


def deviations(
    mine: BoolArray, values: FloatArray, stratum: IndexArray, session: IndexArray
) -> tuple[IndexArray, FloatArray]:
    """Return, for each session of one examiner, how far the mean of a number is from that of the others.

    Parameters
    ----------
    mine : ndarray of bool, shape (n,)
        Which trials are this examiner's.
    values : ndarray, shape (n,)
        The number, in any unit; a trial where it is NaN is ignored.
    stratum, session : ndarray of int, shape (n,)
        As in `residuals`.

    Returns
    -------
    sessions : ndarray of int, shape (m,)
    value : ndarray, shape (m,)
        In standard deviations of the others' trials. Sessions are left out whose strata nobody else tests.

    Examples
    --------
    >>> mine, session = np.arange(20) < 10, np.arange(20) // 5
    >>> ramp_s = np.where(mine, 1.9, np.where(np.arange(20) % 2, 1.3, 1.5))
    >>> sessions, value = deviations(mine, ramp_s, np.zeros(20, dtype=np.intp), session)
    >>> sessions.tolist(), value.round(1).tolist()
    ([0, 1], [4.7, 4.7])
    """
    there = ~np.isnan(values)
    scored = np.full(len(values), np.nan)
    for kind in np.unique(stratum[mine & there]):
        others = values[(stratum == kind) & ~mine & there]
        if len(others) > 1 and others.std(ddof=1) > 0.0:
            here = (stratum == kind) & mine & there
            scored[here] = (values[here] - others.mean()) / others.std(ddof=1)
    known = ~np.isnan(scored)
    numbers, of = np.unique(session[known], return_inverse=True)
    return numbers, np.bincount(of, weights=scored[known]) / np.maximum(np.bincount(of), 1)


def course_of(
    at_s: FloatArray,
    value: FloatArray,
    *,
    sd: float = 1.0,
    target: float = 0.0,
    width: float = WIDTH,
    head_start: float = 0.5 * LIMIT,
) -> Course | None:
    """Return the charts of a series; None where it is too short to tell.

    Parameters
    ----------
    at_s : ndarray, shape (n,)
        Seconds since 1970, increasing.
    value : ndarray, shape (n,)
        Any unit, finite.
    sd, target : float
        Standard deviation and mean of the series while nothing changes.
    width : float
        Width of the moving average's limits, in its standard deviations.
    head_start : float
        Where the sums begin, in standard deviations: a shift that is there from the start is seen sooner.

    Examples
    --------
    Ten sessions at the target, then ten two standard deviations above it: both charts see it at the fourth of them, and
    the sums say that it began with the first.

    >>> at_s = 86_400.0 * np.arange(20)
    >>> course = course_of(at_s, np.where(np.arange(20) < 10, 0.0, 2.0))
    >>> [(signal.chart, signal.change, signal.at_s / 86_400.0) for signal in course.signals]
    [('ewma', 'above', 13.0), ('cusum', 'above', 13.0)]
    >>> course.since_s / 86_400.0
    10.0
    """
    if len(value) < LEAST_POINTS:
        return None
    average = ewma(value, target=target, sd=sd, weight=WEIGHT, width=width)
    sums = cusum(value, target=target, sd=sd, slack=SLACK, limit=LIMIT, head_start=head_start)
    after = sums.shift_after()
    above = average.average > average.high
    signals = [
        *_signals(at_s, "ewma", average.out, above),
        *_signals(at_s, "cusum", sums.out, sums.above > sums.below),
    ]
    return Course(
        at_s=at_s,
        value=value,
        average=average.average,
        low=np.broadcast_to(average.low, value.shape),
        high=np.broadcast_to(average.high, value.shape),
        signals=tuple(sorted(signals, key=lambda signal: signal.at_s)),
        since_s=None if after is None else float(at_s[min(after, len(at_s) - 1)]),
    )


def _signals(at_s: FloatArray, chart: Literal["ewma", "cusum"], out: BoolArray, above: BoolArray) -> list[Signal]:
    """Return each crossing of the limits, there and back."""
    crossed = np.flatnonzero(np.diff(out.astype(np.int8), prepend=0))
    return [
        Signal(at_s=float(at_s[i]), chart=chart, change=("above" if above[i] else "below") if out[i] else "back")
        for i in crossed
    ]


def drift_of(at_s: FloatArray, value: FloatArray) -> Course | None:
    """Return the charts of a sensor's zero or sensitivity against its own first sessions; None where they are few.

    Parameters
    ----------
    at_s, value : ndarray, shape (n,)
        Seconds since 1970, increasing, and one value a session, in any unit, finite.

    Examples
    --------
    >>> session = np.arange(40)
    >>> at_s, steady = 86_400.0 * session, np.where(session % 2, 0.1, 0.0)
    >>> drift_of(at_s, steady).signals
    ()
    >>> bool(drift_of(at_s, steady + 0.5 * (session > 30)).signals)
    True
    """
    if len(value) < max(LEAST_POINTS, BASELINE + 2):
        return None
    sd = float(np.abs(np.diff(value)).mean()) / D2  # a shift adds one step to it, no more
    if not sd > 0.0 or not math.isfinite(sd):
        return None
    # the target is itself a mean of few sessions: wider limits keep it from crying wolf
    target = float(value[:BASELINE].mean())
    return course_of(at_s, value, sd=sd, target=target, width=DRIFT_WIDTH, head_start=0.0)
