"""The zero after an effort: where the unloaded sensor comes to rest once the force is released."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.trial.effort import Effort
from analysis.trial.phases import Phases

SETTLING_S = 0.3
"""After the release, the force is left this long to settle."""

WINDOW_S = 0.5
LEAST_S = 0.1
"""The zero after is the mean of the last half second, of less where there is less, of nothing below 0.1 s."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroAfter:
    """The level of the sensor after the release."""

    shift_n: float
    """Above the zero before the effort, N."""
    start: int
    """The first sample it was taken from; it reaches to the end of the trace."""


def zero_after(effort: Effort, phases: Phases) -> ZeroAfter | None:
    """Return the zero after the release, or None when the trace ends too soon to tell."""
    if phases.release is None:
        return None
    start = max(effort.index(phases.release + SETTLING_S), len(effort.force) - effort.samples(WINDOW_S))
    tail = effort.force[start:]
    if len(tail) < max(2.0, LEAST_S * effort.rate):
        return None
    return ZeroAfter(shift_n=float(tail.mean()), start=start)
