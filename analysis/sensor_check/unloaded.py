"""What an unloaded sensor was seen to do: zero, drift, noise, hum, true rate, lost samples."""

from __future__ import annotations

import math
from typing import NamedTuple

import msgspec
import numpy as np

from acquire.values.arrays import FloatArray
from acquire.values.calibration import Calibration
from acquire.values.straight_line import fit_line
from analysis.sensor_check.budget import COVERAGE, resolved
from analysis.sensor_check.hum import Tone, strongest_tone
from analysis.sensor_check.readings import Readings, mean_of

LEAST_SAMPLES = 10
"""Fewer say nothing of noise and drift."""
END_SHARE = 0.1
"""The zero shift is the difference between the last and the first tenth of the stretch."""


class Stream(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the time base knows of the stream as a whole."""

    nominal_rate_hz: float
    rate_hz: float | None
    """True samples per second, on the clock of the computer; None before it can be told."""
    rate_uncertainty_hz: float | None
    """Standard uncertainty."""
    samples: int
    """Received in all."""
    lost: int
    damaged: int
    """Lines or packets."""


class Unloaded(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What was seen of an unloaded sensor; uncertainties are expanded, k = 2."""

    seconds: float
    samples: int
    zero_counts: float
    zero_n: float
    """Against the zero of the calibration, N."""
    zero_uncertainty_n: float
    noise_n: float
    """Standard deviation about the drift, N."""
    noise_uncertainty_n: float
    drift_n_per_min: float
    drift_uncertainty_n_per_min: float
    """From the noise alone: a short look cannot tell a small drift."""
    moved_n: float
    """What the zero changed from the first tenth to the last: the warm-up, when the sensor was just switched on."""
    tone: Tone | None
    rate_hz: float | None
    rate_uncertainty_hz: float | None
    nominal_rate_hz: float
    step_counts: float
    """The least difference between two readings, which the converter can show."""
    received: int
    """Samples of the whole check, to which `lost` and `damaged` belong."""
    lost: int
    damaged: int


def assess_unloaded(readings: Readings, calibration: Calibration, stream: Stream) -> Unloaded:
    """Return what an unloaded sensor did.

    Parameters
    ----------
    readings : Readings
        At least `LEAST_SAMPLES`; NaN is not allowed, lost samples are simply missing.
    calibration : Calibration
        What the counts mean.
    stream : Stream
        What the time base knows.

    Raises
    ------
    ValueError
        If there are fewer samples.

    References
    ----------
    JCGM 100:2008, H.3.3 (the slope), E.4.3 (a standard deviation is known to 1 in sqrt(2 (n - 1))).

    Examples
    --------
    >>> time = np.arange(2000) / 200.0
    >>> counts = 50.0 + 2.0 * time + 4.0 * (-1.0) ** np.arange(2000)
    >>> stream = Stream(
    ...     nominal_rate_hz=200.0, rate_hz=None, rate_uncertainty_hz=None, samples=2000, lost=0, damaged=0
    ... )
    >>> seen = assess_unloaded(Readings(time=time, counts=counts), Calibration(newtons_per_count=0.1), stream)
    >>> round(seen.zero_n), round(seen.drift_n_per_min), round(seen.noise_n, 2)
    (6, 12, 0.4)
    """
    if len(readings.counts) < LEAST_SAMPLES:
        raise ValueError(f"a look needs at least {LEAST_SAMPLES} samples, got {len(readings.counts)}")
    force = calibration.force(readings.counts)
    trend = _trend(readings.time, force)
    level = mean_of(readings)
    step = resolution(readings.counts)
    newtons_per_count = abs(calibration.newtons_per_count)
    return Unloaded(
        seconds=readings.seconds,
        samples=len(force),
        zero_counts=level.counts,
        zero_n=float(force.mean()),
        zero_uncertainty_n=COVERAGE * newtons_per_count * math.hypot(level.standard_counts, resolved(step)),
        noise_n=trend.noise,
        noise_uncertainty_n=COVERAGE * trend.noise / math.sqrt(2.0 * (len(force) - 1)),
        drift_n_per_min=60.0 * trend.slope,
        drift_uncertainty_n_per_min=COVERAGE * 60.0 * trend.slope_uncertainty,
        moved_n=_moved(force),
        tone=strongest_tone(trend.rest, stream.rate_hz or stream.nominal_rate_hz),
        rate_hz=stream.rate_hz,
        rate_uncertainty_hz=None if stream.rate_uncertainty_hz is None else COVERAGE * stream.rate_uncertainty_hz,
        nominal_rate_hz=stream.nominal_rate_hz,
        step_counts=step,
        received=stream.samples,
        lost=stream.lost,
        damaged=stream.damaged,
    )


def resolution(counts: FloatArray) -> float:
    """Return the least difference between two readings; 1 where all are the same.

    A converter that sends counts steps by 1, whatever it drops; a sensor that sends newtons by its last decimal.

    Parameters
    ----------
    counts : ndarray, shape (n,)
        What the sensor sent, no NaN, at least one.

    Examples
    --------
    >>> round(resolution(np.array([0.25, 0.26, 0.25, 0.29])), 9)
    0.01
    """
    levels = np.unique(counts)
    return float(np.diff(levels).min()) if len(levels) > 1 else 1.0


class _Trend(NamedTuple):
    slope: float
    slope_uncertainty: float
    noise: float
    rest: FloatArray


def _trend(time: FloatArray, force: FloatArray) -> _Trend:
    line = fit_line(time - time[0], force)
    rest = force - line.intercept - line.slope * (time - time[0])
    return _Trend(line.slope, line.slope_uncertainty, line.residual_sd, rest)


def _moved(force: FloatArray) -> float:
    part = max(1, round(END_SHARE * len(force)))
    return float(np.mean(force[-part:]) - np.mean(force[:part]))
