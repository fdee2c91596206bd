"""A trace made ready for measuring: zero removed, gaps bridged and marked, noise known, smoothed once.

The zero is the force of the unloaded sensor. It is taken from the quiet start of the trace. When the
trace starts with a force on that is gone after the release, that force was preload, and the level
after the release is the zero: an unloaded sensor cannot read more than it will when unloaded again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.values.arrays import BoolArray, FloatArray
from acquire.values.records import Trace
from analysis.trial.windows import block_means, moving_mean

QUIET_LENGTHS_S = (0.5, 0.25, 0.1)
"""Lengths of the quiet start that are tried, the longest first."""

FINE_S = 0.02
"""Window of the light smoothing, by which peaks and crossings are found (a raw maximum is biased up by noise)."""

LEAST_SAMPLES = 10
"""Nothing can be said of fewer."""

SETTLED_BLOCK_S = 0.05
"""The force after the release has settled when its means over so long lie close together."""

FALLS_BACK = 0.25
"""After the release, a level below this share of the first level shows that the first was a load."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Effort:
    """One trace, ready to be measured."""

    time: FloatArray
    """Seconds, shape (n,)."""
    force: FloatArray
    """Newtons above `zero`, shape (n,), gaps bridged by straight lines."""
    fine: FloatArray
    """`force` as a 20 ms moving mean, shape (n,)."""
    smooth: FloatArray
    """`force` as the moving mean in which holds are judged, shape (n,)."""
    lost: BoolArray | None
    """True where a sample is missing, shape (n,); None when none is."""
    clipped: BoolArray | None
    """True where the sensor was at its limit, shape (n,); None when the limit is unknown."""
    rate: float
    """Samples per second."""
    zero: float
    """The unloaded level as recorded, N."""
    noise: float
    """Standard deviation of the quiet start, N."""
    quiet_stop: int
    """Samples in the quiet start; 0 when the trace does not start quiet."""

    def samples(self, seconds: float) -> int:
        """Return the nearest number of samples in a length of time, at least 1."""
        return max(1, round(seconds * self.rate))

    def index(self, seconds: float) -> int:
        """Return the first sample at or after a time."""
        return int(np.searchsorted(self.time, seconds))


def prepare(trace: Trace, *, smoothing_s: float) -> Effort | None:
    """Return a trace ready for measuring, or None when it holds fewer than `LEAST_SAMPLES`.

    Parameters
    ----------
    trace : Trace
        NaN marks lost samples.
    smoothing_s : float
        Length of the moving mean in which holds are judged.

    Examples
    --------
    A sensor that reads 12 N without load: the effort is measured from there.

    >>> from acquire.values.records import Trace
    >>> time = np.arange(0.0, 11.0, 0.01)
    >>> force = np.interp(time, [2.0, 3.5, 7.5, 7.7], [0.0, 200.0, 200.0, 0.0])
    >>> effort = prepare(Trace(time=time, force=12.0 + force), smoothing_s=0.05)
    >>> float(effort.zero), float(effort.force.max())
    (12.0, 200.0)
    """
    missing = np.isnan(trace.force)
    lost = missing if missing.any() else None
    if len(trace.force) - (0 if lost is None else int(lost.sum())) < LEAST_SAMPLES:
        return None
    force = trace.force if lost is None else bridge(trace.time, trace.force, lost)
    rate = trace.sample_rate
    quiet_stop, first, noise = _quiet_start(force, rate)
    zero = _zero(force, rate, first=first, noise=noise, quiet=bool(quiet_stop))
    above = force - zero
    return Effort(
        time=trace.time,
        force=above,
        fine=moving_mean(above, max(1, round(FINE_S * rate))),
        smooth=moving_mean(above, max(1, round(smoothing_s * rate))),
        lost=lost,
        clipped=trace.clipped,
        rate=rate,
        zero=zero,
        noise=noise,
        quiet_stop=quiet_stop,
    )


def bridge(time: FloatArray, force: FloatArray, lost: BoolArray) -> FloatArray:
    """Return the force with straight lines across the lost samples.

    Parameters
    ----------
    time, force : ndarray, shape (n,)
        Seconds and newtons; a NaN that is not among the lost stays one.
    lost : ndarray of bool, shape (n,)
        Where the force is to be replaced; not everywhere.

    Returns
    -------
    ndarray, shape (n,)
        Newtons; beyond the first and last sample that came, the force of that sample.

    Examples
    --------
    >>> gapped = np.array([1.0, np.nan, 3.0])
    >>> bridge(np.arange(3.0), gapped, np.isnan(gapped)).tolist()
    [1.0, 2.0, 3.0]
    """
    kept = ~lost
    return np.asarray(np.interp(time, time[kept], force[kept]))


def _quiet_start(force: FloatArray, rate: float) -> tuple[int, float, float]:
    """Return how many samples are quiet, their mean and their standard deviation.

    Quiet is a stretch whose two halves have the same mean, as far as its fastest noise lets one see.
    A trace that starts under way has no quiet samples; its zero is 0 N, its noise that of the steps.
    """
    steps = np.diff(force[: max(3, round(QUIET_LENGTHS_S[0] * rate))])
    jitter = float(np.median(np.abs(steps))) * 1.05  # sigma of white noise from its steps: 0.954 -> 1
    top = float(force.max() - force[0])
    for length in QUIET_LENGTHS_S:
        count = round(length * rate)
        if not 4 <= count <= len(force):
            continue
        part = force[:count]
        half = count // 2
        drift = abs(float(part[half:].mean() - part[:half].mean()))
        if drift <= max(0.01 * top, 4.0 * jitter / half**0.5):
            return count, float(part.mean()), float(part.std(ddof=1))
    return 0, 0.0, jitter


def _zero(force: FloatArray, rate: float, *, first: float, noise: float, quiet: bool) -> float:
    """Return the unloaded level; see the top of the module."""
    if not quiet:
        return 0.0
    tail = force[-max(3, round(QUIET_LENGTHS_S[1] * rate)) :]
    after = float(tail.mean())
    loaded = first > max(5.0 * noise, 0.01 * float(force.max()))
    # by blocks: the range of single samples grows with rate and noise
    levels = block_means(tail, max(1, min(round(SETTLED_BLOCK_S * rate), len(tail))))
    settled = float(np.ptp(levels)) < 0.5 * first
    return after if loaded and settled and abs(after) < FALLS_BACK * first else first
