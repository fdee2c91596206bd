"""What is asked of an effort while it goes on: it moves with the effort, and never caps it.

Where a limb has shown what it gives, the build-up is a wedge from the onset to that force, between the shortest and the
longest ramp that are asked for. Before that, only the time is known by which the ramp should be over. Once the force
has got there, the floor is the band of the hold below the running mean, and the end is where the hold will have lasted
long enough. A force above all that came before lifts wedge and floor with it: there is no ceiling.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.values.arrays import FloatArray
from analysis.trial.protocol import Protocol

SHARE_OF_LEAST = 0.2
"""Below this share of the least force of an effort, the sensor is quiet."""
LOOK_BACK_S = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What is asked, with time 0 at the onset."""

    onset: float
    """Where the force left the zero, s: a little before it was an effort."""
    ramp_end: tuple[float, float]
    """The earliest and latest end of the ramp, s."""
    level: float | None
    """Where the wedge ends, N; None while nobody knows what the limb gives."""
    floor: float | None = None
    """What the force should stay above, N; None before the hold."""
    held_from: float | None = None
    until: float | None = None
    """When the force got there, and when it will have been held for long enough, s."""


def target_of(
    protocol: Protocol, time: FloatArray, force: FloatArray, *, level_s: float | None, before_n: float | None
) -> Target:
    """Return what is asked at this moment of an effort.

    Parameters
    ----------
    protocol : Protocol
        Times of ramp and hold, band of the hold.
    time : ndarray, shape (n,)
        Seconds from the onset.
    force : ndarray, shape (n,)
        N so far; NaN where samples were lost.
    level_s : float or None
        When the ramp was over, s from the onset; None before it is.
    before_n : float or None
        The best plateau of the limb's trials so far, N.
    """
    asked = protocol.instruction
    onset = _onset(time, force, SHARE_OF_LEAST * protocol.no_effort.force_n)
    ends = (onset + asked.ramp_least_s, onset + asked.ramp_most_s)
    until = None if level_s is None else level_s + asked.hold_s
    running = _running_mean(time, force, level_s, until)
    if level_s is None or running is None:
        highest = float(np.nanmax(force[time >= 0.0], initial=0.0))
        return Target(onset=onset, ramp_end=ends, level=None if before_n is None else max(before_n, highest))
    return Target(
        onset=onset,
        ramp_end=ends,
        level=running,
        floor=(1.0 - protocol.hold.band_pct / 100.0) * running,
        held_from=level_s,
        until=until,
    )


def _onset(time: FloatArray, force: FloatArray, quiet_n: float) -> float:
    """Return when the force was last quiet before time 0, s; 0 where it was not within `LOOK_BACK_S`."""
    quiet = time[(time <= 0.0) & (time >= -LOOK_BACK_S) & (force <= quiet_n)]
    return float(quiet[-1]) if len(quiet) else 0.0


def _running_mean(time: FloatArray, force: FloatArray, level_s: float | None, until: float | None) -> float | None:
    """Return the mean force since the ramp was over, until the hold has lasted long enough."""
    if level_s is None or until is None:
        return None
    held = force[(time >= level_s) & (time <= until) & ~np.isnan(force)]
    return float(np.mean(held)) if len(held) else None
