"""One sensor against another under the same force: delay, gain, offset, and how far they disagree.

Both carry the same force, in series or one pressed on the other. Their traces are on one clock but for the latency of
each link; what is left of it is found where the slopes of both fit best. Then both are averaged over blocks of a
quarter of a second, and the sensor's blocks are drawn as a straight line over the reference's.

References
----------
Bland and Altman 1986, Lancet 327:307-310 (bias and limits of agreement: mean difference and 1.96 standard deviations).
Knapp and Carter 1976, IEEE Trans ASSP 24:320-327 (delay by cross-correlation; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.values.arrays import FloatArray
from acquire.values.records import Trace
from acquire.values.straight_line import fit_line

STEP_S = 0.002
SMOOTH_S = 0.05
MOST_LAG_S = 1.0
"""No link holds back a stream for longer; what seems to come later is another force."""
COMPARED_BLOCK_S = 0.25
LEAST_BLOCKS = 12
TINY = 1e-12
LEAST_SPAN_N = 20.0
"""A gain from a smaller change of force says nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """How a sensor reads against a reference."""

    seconds: float
    """How long both were compared, s."""
    span_n: tuple[float, float]
    """Lowest and highest reference force, N."""
    lag_s: float
    """How much later the sensor tells the same, s; negative when earlier."""
    gain: float
    """Sensor over reference."""
    gain_uncertainty: float
    """Standard uncertainty of the gain, from the scatter of the blocks."""
    offset_n: float
    """What the sensor reads at no reference force, N."""
    residual_sd_n: float
    """Standard deviation about the line, N."""
    bias_n: float
    """Mean difference, sensor minus reference, N."""
    limits_n: tuple[float, float]
    """Limits of agreement of the differences, N."""
    largest_n: float
    """The largest difference of a block, N."""


def compare(reference: Trace, sensor: Trace) -> Comparison:
    """Return how a sensor reads against a reference under the same force.

    Parameters
    ----------
    reference, sensor : Trace
        Force in N over seconds of one clock; NaN, a lost sample, is passed over.

    Raises
    ------
    ValueError
        If the traces share less than 3 s, the reference force changed by less than 20 N, or the traces fit nowhere
        within a second.

    Examples
    --------
    >>> time = np.arange(0.0, 10.0, 0.001)
    >>> force = 100.0 * np.sin(0.5 * time) ** 2
    >>> found = compare(Trace.from_samples(time, force), Trace.from_samples(time + 0.02, 1.1 * force + 2.0))
    >>> round(found.gain, 3), round(found.offset_n, 2), round(found.lag_s, 3)
    (1.1, 2.0, 0.02)
    """
    grid = _shared_grid(reference, sensor)
    low, high = _span(_on_grid(reference, grid))
    lag = _lag(_on_grid(reference, grid), _on_grid(sensor, grid))
    inside = grid[(grid + lag >= sensor.time[0]) & (grid + lag <= sensor.time[-1])]
    theirs, ours = _blocks(_on_grid(reference, inside)), _blocks(_on_grid(sensor, inside + lag))
    line = fit_line(theirs, ours)
    differences = ours - theirs
    bias, spread = float(differences.mean()), float(differences.std(ddof=1))
    return Comparison(
        seconds=len(inside) * STEP_S,
        span_n=(low, high),
        lag_s=lag,
        gain=line.slope,
        gain_uncertainty=line.slope_uncertainty,
        offset_n=line.intercept,
        residual_sd_n=line.residual_sd,
        bias_n=bias,
        limits_n=(bias - 1.96 * spread, bias + 1.96 * spread),
        largest_n=float(np.abs(differences).max()),
    )


def _shared_grid(reference: Trace, sensor: Trace) -> FloatArray:
    start, stop = max(reference.time[0], sensor.time[0]), min(reference.time[-1], sensor.time[-1])
    if stop - start < LEAST_BLOCKS * COMPARED_BLOCK_S:
        shared = max(0.0, float(stop - start))
        raise ValueError(
            f"the traces share {shared:.1f} s: "
            f"record both for at least {LEAST_BLOCKS * COMPARED_BLOCK_S:g} s at the same time"
        )
    return np.asarray(np.arange(start, stop, STEP_S), dtype=np.float64)


def _span(force: FloatArray) -> tuple[float, float]:
    blocks = _blocks(force)
    low, high = float(blocks.min()), float(blocks.max())
    if high - low < LEAST_SPAN_N:
        raise ValueError(
            f"the reference force changed by {high - low:.1f} N only: press over at least {LEAST_SPAN_N:g} N"
        )
    return low, high


def _on_grid(trace: Trace, grid: FloatArray) -> FloatArray:
    there = ~np.isnan(trace.force)
    return np.asarray(np.interp(grid, trace.time[there], trace.force[there]))


def _lag(reference: FloatArray, sensor: FloatArray) -> float:
    """Return the delay at which the smoothed slopes fit best, between grid points by a parabola.

    Raises
    ------
    ValueError
        If that is as late or as early as was looked.
    """
    theirs, ours = (_slope(values) for values in (reference, sensor))
    most = round(MOST_LAG_S / STEP_S)
    # the correlation at each shift, over the part that is there at all of them
    core = theirs[most : len(theirs) - most]
    shifted = (ours[shift : shift + len(core)] for shift in range(2 * most + 1))
    fits = np.array([core @ part / max(float(np.sqrt(part @ part)), TINY) for part in shifted])
    best = int(fits.argmax())
    if best in (0, 2 * most):
        raise ValueError(
            f"their curves fit nowhere within {MOST_LAG_S:g} s: see that both carry the same force, and press unevenly"
        )
    before, at, after = fits[best - 1 : best + 2]
    return float((best - most + 0.5 * (before - after) / (before - 2.0 * at + after)) * STEP_S)


def _slope(values: FloatArray) -> FloatArray:
    width = round(SMOOTH_S / STEP_S)
    slope = np.diff(np.convolve(values, np.full(width, 1.0 / width), mode="valid"))
    return np.asarray(slope)


def _blocks(values: FloatArray) -> FloatArray:
    size = round(COMPARED_BLOCK_S / STEP_S)
    return np.asarray(values[: len(values) // size * size].reshape(-1, size).mean(axis=1))
