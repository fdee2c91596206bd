"""The wanted band behind the live trace: where ramp and hold should lie.

Before the first trial there is no level yet, so only the times can be shown: when the ramp should end,
and when the hold does. Afterwards the level is that of the trials so far, and the band is the ramp window
and the tolerance of the hold about it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acquire.values.arrays import FloatArray
from analysis.trial.protocol import Protocol


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The wanted band, with time 0 at the onset."""

    time: FloatArray
    """Seconds, shape (n,)."""
    low: FloatArray
    high: FloatArray
    """Newtons, shape (n,); all NaN while there is no level."""
    ramp_end: tuple[float, float]
    """The earliest and latest end of the ramp, s."""
    hold_end: float
    """When the hold may end, s."""
    level: float | None
    """The level wanted, N; None before the first trial."""


def wanted_band(protocol: Protocol, plateaus: Sequence[float]) -> Band:
    """Return the band for the next trial.

    Parameters
    ----------
    protocol : Protocol
        Times of ramp and hold, tolerance of the hold.
    plateaus : sequence of float
        Plateau forces of the accepted trials so far, N.
    """
    told, tolerance = protocol.instruction, protocol.hold.band_pct / 100.0
    level = max(plateaus) if plateaus else None
    least, most = told.ramp_least_s, told.ramp_most_s
    end = most + told.hold_s
    time = np.array([0.0, least, most, end])
    size = np.nan if level is None else level
    # the fastest ramp that is wanted is the upper edge, the slowest the lower one
    high = np.array([0.0, 1.0 + tolerance, 1.0 + tolerance, 1.0 + tolerance]) * size
    low = np.array([0.0, (1.0 - tolerance) * least / most, 1.0 - tolerance, 1.0 - tolerance]) * size
    return Band(time=time, low=low, high=high, ramp_end=(least, most), hold_end=end, level=level)


def top_of_scale(level: float | None, highest: float, *, least: float = 60.0) -> float:
    """Return a round top for the force axis that leaves room above the level wanted and the force shown.

    Examples
    --------
    >>> top_of_scale(None, 10.0), top_of_scale(300.0, 100.0), top_of_scale(300.0, 520.0)
    (60.0, 400.0, 600.0)
    """
    wanted = max(least, 1.3 * (level or 0.0), 1.15 * highest)
    step = 10.0 if wanted <= 100.0 else 50.0 if wanted <= 1000.0 else 250.0
    return float(np.ceil(wanted / step) * step)
