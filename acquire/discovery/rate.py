"""How many samples a second: by the device's clock where it has one, else by the arrivals.

Arrivals come in bursts, so no interval between two of them means anything. A line is drawn below all of them
instead (`acquire.timing.clock_skew`), which holds for any burst. A clock is read by its whole steps: the spans of lost
lines are taken as so many periods as they hold.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from acquire.discovery.counters import fineness
from acquire.sensor.clock_columns import COUNTER_WRAP
from acquire.timing.clock_skew import Arrivals
from acquire.values.arrays import FloatArray

USUAL_HZ = (
    *(1.0, 2.0, 5.0, 10.0, 12.5, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 60.0, 64.0, 75.0, 80.0),
    *(100.0, 120.0, 125.0, 128.0, 150.0, 160.0, 200.0, 240.0, 250.0, 256.0, 300.0, 320.0, 400.0, 500.0, 512.0),
    *(600.0, 640.0, 800.0, 1000.0, 1024.0, 1200.0, 1250.0, 1280.0, 1600.0, 2000.0, 2048.0, 2400.0, 2500.0, 3200.0),
    *(4000.0, 4096.0, 4800.0, 5000.0, 6400.0, 8000.0, 10000.0),
)
"""Rates that makers of converters offer (common practice, no source)."""
NEAR = 0.01
"""A rate so near to a usual one is meant to be that, by a clock that is not better."""
USUAL_TICK_HZ = (1e3, 1024.0, 1e4, 32768.0, 1e5, 1e6, 2e6, 8e6, 1e7, 16e6)
NEAR_TICK = 0.02
LONG_STEP = 1.5
LEAST_STEPS = 8
PAUSE_S = 1.0
"""A clock that jumps by so much says nothing of the rate."""


class Rate(NamedTuple):
    """Samples a second."""

    hz: float
    uncertainty_hz: float
    """Standard uncertainty; NaN where it is not known."""
    how: str
    """What it was measured by."""


def usual(hz: float, uncertainty_hz: float = 0.0) -> float | None:
    """Return the usual rate that a measured one is near to, None without one.

    Examples
    --------
    >>> usual(79.6), usual(93.4)
    (80.0, None)
    """
    nearest = min(USUAL_HZ, key=lambda known: abs(math.log(known / hz)))
    doubt = min(3.0 * uncertainty_hz, 3.0 * NEAR * hz) if math.isfinite(uncertainty_hz) else 0.0
    return nearest if abs(nearest - hz) <= max(NEAR * nearest, doubt) else None


def rate_by_clock(ticks: FloatArray, steps_per_s: float, *, samples: FloatArray | None = None) -> Rate | None:
    """Return the rate by a device's clock.

    Parameters
    ----------
    ticks : ndarray, shape (n,)
        The clock at each line, or at the first sample of each packet, without its turns; NaN is left out, and it may
        go back where the sensor began again.
    steps_per_s : float
        Steps of it a second.
    samples : ndarray, shape (n,), optional
        Samples from each tick on; one where left out.

    Examples
    --------
    >>> round(rate_by_clock(np.arange(0.0, 1000.0, 12.5).round(), 1e3).hz)
    80
    """
    there = np.isfinite(ticks)
    each = np.ones(len(ticks)) if samples is None else samples
    ticks, each = ticks[there], each[there]
    steps, each = np.diff(ticks), each[:-1]
    onward = (steps >= 0.0) & (steps < PAUSE_S * steps_per_s)
    steps, each = steps[onward], each[onward]
    if len(steps) < LEAST_STEPS or not steps.any():
        return None
    # Where nothing was lost a step is one period, give or take one step of the clock.
    step = fineness(ticks)
    unbroken = steps <= LONG_STEP * float(np.median(steps / each)) * each + step
    period = float(steps[unbroken].sum() / each[unbroken].sum())
    periods = np.where(unbroken, each, np.maximum(each, np.round(steps / period))) if period else each
    hz = steps_per_s * float(periods.sum() / steps.sum())
    return Rate(hz, hz * step / float(steps.sum()), "its own clock")


def rate_by_arrivals(index: FloatArray, arrivals: FloatArray, *, frames: int = 1) -> Rate | None:
    """Return the rate by when numbered samples arrived; None for less than two seconds of them.

    Parameters
    ----------
    index : ndarray, shape (n,)
        Number of each sample, lost ones counted in, increasing.
    arrivals : ndarray, shape (n,)
        Seconds, not decreasing; the same for all that came together.

    Examples
    --------
    >>> index = np.arange(800.0)
    >>> round(rate_by_arrivals(index, np.ceil(index / 8.0) / 10.0).hz, 6)
    80.0
    """
    if len(index) < LEAST_STEPS:
        return None
    noted = Arrivals()
    for number, arrival in zip(index.astype(np.int64).tolist(), arrivals.tolist(), strict=True):
        noted.add(number, arrival, frames=frames)
    line = noted.line(default_period_s=math.nan)
    if not line.period_s > 0.0:
        return None
    hz = 1.0 / line.period_s
    return Rate(hz, hz * line.period_uncertainty_s / line.period_s, "when its data arrived")


def tick_rate(ticks: FloatArray, arrivals: FloatArray) -> Rate | None:
    """Return the steps of a device's clock a second, by when they arrived.

    Examples
    --------
    >>> ticks = np.arange(0.0, 400_000.0, 655.36).round()
    >>> round(tick_rate(ticks, 3.0 + ticks / 32768.0).hz)
    32768
    """
    steps = np.diff(ticks, prepend=ticks[:1])
    unwrapped = ticks + COUNTER_WRAP * np.cumsum(steps < -0.5 * COUNTER_WRAP)
    rising = np.maximum.accumulate(unwrapped)
    fresh = np.concatenate([[True], np.diff(rising) > 0.0])
    found = rate_by_arrivals(rising[fresh] - rising[0], arrivals[fresh])
    return None if found is None else found._replace(how="when its packets arrived")


def usual_tick(hz: float) -> float | None:
    """Return the usual clock that a measured one is near to, None without one.

    Examples
    --------
    >>> usual_tick(32_800.0), usual_tick(5e4)
    (32768.0, None)
    """
    nearest = min(USUAL_TICK_HZ, key=lambda known: abs(math.log(known / hz)))
    return nearest if abs(nearest / hz - 1.0) <= NEAR_TICK else None
