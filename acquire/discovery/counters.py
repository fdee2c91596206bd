"""Which columns count: a line number, a clock, or something that goes on steadily and has no name here.

A line number grows by one from line to line. A clock is a straight line over the arrivals, and its slope is its
unit: 1000 a second are milliseconds. Where arrivals are not known, the unit is the one that makes a rate that a
force sensor may have. Damaged lines make outliers, so a clock is looked at through a running median.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from acquire.discovery.findings import Confidence
from acquire.discovery.table import MOSTLY, Column
from acquire.discovery.words import said
from acquire.sensor.clock_columns import CLOCK_COLUMNS, COUNTER_WRAP
from acquire.values.arrays import FloatArray

CLOCK_TOLERANCE = 0.2
"""By so much may a slope miss its unit: a short capture, arrivals in bursts, a poor oscillator."""
STRAIGHT = 0.03
"""Median distance from a straight line, as a part of the whole way: arrivals over Bluetooth come in bursts."""
FASTEST_HZ, SLOWEST_HZ = 5000.0, 5.0
LEAST_ROWS = 8
MOST_DIGITS = 7
LOOKED_AT = 400
KILOHERTZ = 0.02
"""A line number of a sensor so near to 1 kHz looks just like milliseconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter:
    """What a column that counts is."""

    name: str
    """A name of the profile's columns; "-" for what has none."""
    confidence: Confidence
    why: str
    bits: int = 16
    """Width of a line number."""
    bits_confidence: Confidence = Confidence.SURE
    bits_why: str = ""


def counter(column: Column, time: FloatArray | None) -> Counter | None:
    """Return what a column counts; None for one that does not.

    Parameters
    ----------
    column : Column
        Of numbers.
    time : ndarray, shape (n_rows,), optional
        Arrival of each row, s; None where it is not known.

    Examples
    --------
    >>> values = np.arange(0.0, 8000.0, 12.5).round()
    >>> column = Column(values=values, is_number=True, integer=True, example="0")
    >>> found = counter(column, 5.0 + values / 1000.0)
    >>> found.name, found.why
    ('ms', 'milliseconds: it goes on by 1,000 a second')
    """
    there = np.isfinite(column.values)
    values, time = column.values[there], None if time is None else time[there]
    if len(values) < LEAST_ROWS or column.constant:
        return None
    sequence = _sequence(values) if column.integer else None
    if sequence is not None and not _near_kilohertz(time, len(values)):
        return sequence
    clock = _clock(values, time, integer=column.integer)
    if sequence is None or clock is None or clock.name != "ms":
        return sequence or clock
    return Counter(
        name="ms",
        confidence=Confidence.LIKELY,
        why="grows by one a line at 1000 lines a second: milliseconds, or a line number; both show what is lost",
    )


def _near_kilohertz(time: FloatArray | None, rows: int) -> bool:
    if time is None or time[-1] <= time[0]:
        return False
    return abs((rows - 1) / float(time[-1] - time[0]) / 1000.0 - 1.0) < KILOHERTZ


def _sequence(values: FloatArray) -> Counter | None:
    steps = np.diff(values)
    if np.mean(steps == 1.0) < MOSTLY or values.min() < 0:
        return None
    turned = (values[:-1] > values[1:]) & (values[1:] <= 1.0)
    tops, after = values[:-1][turned], values[1:][turned]
    highest = float(values.max())
    if highest >= COUNTER_WRAP:
        return _unnamed("grows by one a line, beyond 32 bits")
    for top, low in zip(tops, after, strict=True):
        bits = math.log2(top + 1.0)
        if low == 0.0 and bits == int(bits) and top == highest:
            return _numbered(int(bits), Confidence.SURE, f"it was seen to go from {top:.0f} to 0")
    if len(tops) and float(np.mean(tops == highest)) > MOSTLY and after[0] + highest < 2.0**16 and len(tops) > 1:
        return _unnamed(f"counts lines from {after[0]:.0f} to {highest:.0f}: not a whole number of bits")
    if highest < 2.0**16:
        return _numbered(16, Confidence.LIKELY, f"it was not seen to turn over, up to {highest:.0f}: 16 is usual")
    return _numbered(32, Confidence.LIKELY, f"it was not seen to turn over, and went up to {highest:.0f}")


def _numbered(bits: int, confidence: Confidence, why: str) -> Counter:
    return Counter(
        name="seq",
        confidence=Confidence.SURE,
        why="the line number, which grows by one",
        bits=bits,
        bits_confidence=confidence,
        bits_why=why,
    )


def _unnamed(why: str) -> Counter:
    return Counter(name="-", confidence=Confidence.LIKELY, why=f"{why}, ignored")


def _clock(values: FloatArray, time: FloatArray | None, *, integer: bool) -> Counter | None:
    steady = unwrapped(values)
    there = np.isfinite(steady)
    if np.mean(there) < MOSTLY:
        return None
    place = np.arange(len(steady), dtype=np.float64) if time is None else time
    slope = _slope(place[there], steady[there])
    if slope is None:
        return None
    return _named_by_rate(slope, integer=integer) if time is None else _named(slope, values, integer=integer)


def unwrapped(values: FloatArray, *, turn: float = COUNTER_WRAP) -> FloatArray:
    """Return a counter that does not begin again, and NaN for numbers that do not go on from those beside them.

    A number is trusted when the step to it or from it is an ordinary one; so a damaged one is left out, and a good one
    between two losses too.

    Parameters
    ----------
    values : ndarray, shape (n,)
        As sent.
    turn : float
        Where it begins again.

    Examples
    --------
    >>> unwrapped(np.array([253.0, 254.0, 55.0, 0.0, 1.0, 2.0]), turn=256.0).tolist()
    [253.0, 254.0, nan, 256.0, 257.0, 258.0]
    """
    steps = _onward(np.diff(values), turn)
    usual = float(np.median(steps)) if len(steps) else 0.0
    ordinary = np.abs(steps - usual) <= usual + fineness(values)
    trusted = np.concatenate([ordinary, [False]]) | np.concatenate([[False], ordinary])
    good = values[trusted]
    out = np.full(len(values), np.nan)
    out[trusted] = np.concatenate([good[:1], good[:1] + np.cumsum(_onward(np.diff(good), turn))])[: len(good)]
    return out


def _onward(steps: FloatArray, turn: float) -> FloatArray:
    return np.where(steps < -turn / 2.0, steps + turn, steps)


def fineness(values: FloatArray) -> float:
    """Return the unit of the last digit that numbers are told with: 1 for whole ones.

    Examples
    --------
    >>> fineness(np.array([12.5, 12.525]))
    0.001
    """
    for digits in range(MOST_DIGITS):
        shifted = values * 10.0**digits
        if (np.abs(shifted - np.round(shifted)) < 1e-3).all():
            return float(10.0**-digits)
    return 0.0


def running_median(values: FloatArray) -> FloatArray:
    """Return the median of each five values in a row, so that one or two damaged ones do not show."""
    padded = np.concatenate([values[:1], values[:1], values, values[-1:], values[-1:]])
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1))


def _slope(time: FloatArray, values: FloatArray) -> float | None:
    """Return the slope of what rises along a straight line; None where it does not."""
    if np.mean(np.diff(values) >= 0.0) < MOSTLY:
        return None
    at = np.unique(np.linspace(0, len(values) - 1, LOOKED_AT).astype(np.int64))
    x, y = time[at], values[at]
    half = len(at) // 2
    run = x[half:] - x[:-half]
    if not (run > 0.0).all():
        return None
    slope = float(np.median((y[half:] - y[:-half]) / run))
    rest = y - slope * x
    off = float(np.median(np.abs(rest - np.median(rest))))
    return slope if slope > 0.0 and off <= STRAIGHT * slope * (x[-1] - x[0]) else None


def _named(slope: float, values: FloatArray, *, integer: bool) -> Counter:
    """Name a clock by its steps in a second of this computer."""
    told = f"goes on by {said(slope)} a second"
    for name, clock in CLOCK_COLUMNS.items():
        if abs(slope / clock.steps_per_s - 1.0) > CLOCK_TOLERANCE:
            continue
        if name == "s" and integer:
            return _unnamed("a clock of whole seconds, too coarse for samples")
        if name != "s" and not integer:
            return _unnamed(f"a clock in {name} with a decimal point")
        if name != "s" and (values.max() >= COUNTER_WRAP or values.min() < 0):
            return _unnamed(f"a clock in {name} that does not fit 32 bits")
        return Counter(name=name, confidence=Confidence.SURE, why=f"{clock.unit}: it {told}")
    return _unnamed(f"{told}, which is no clock in s, ms or us")


def _named_by_rate(step: float, *, integer: bool) -> Counter:
    """Name a clock by the rate that it would mean."""
    for name in ("ms", "us") if integer else ("s",):
        clock = CLOCK_COLUMNS[name]
        rate = clock.steps_per_s / step
        if SLOWEST_HZ <= rate <= FASTEST_HZ:
            why = f"{clock.unit}, {said(step)} a line, which makes {said(rate)} Hz"
            return Counter(name=name, confidence=Confidence.LIKELY, why=why)
    return _unnamed(f"goes on by {said(step)} a line, which is no clock in s, ms or us")
