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
    """Return the zero after the release, or None when the trace ends too soon to tell.

    Parameters
    ----------
    effort : Effort
        The prepared trace: its force is above the zero before the effort.
    phases : Phases
        Where its phases lie.

    Examples
    --------
    The sensor slips during the hold and reads 4 N too much from then on.

    >>> import numpy as np
    >>> from acquire.values.records import Trace
    >>> from analysis.trial.effort import prepare
    >>> from analysis.trial.protocol import load_protocol
    >>> time = np.arange(0.0, 11.0, 0.01)
    >>> force = np.interp(time, [2.0, 3.5, 7.5, 7.7], [0.0, 200.0, 200.0, 0.0])
    >>> protocol = load_protocol()
    >>> effort = prepare(Trace(time=time, force=force), smoothing_s=protocol.hold.smoothing_s)
    >>> from analysis.trial.phases import find_phases
    >>> shifted = prepare(Trace(time=time, force=force + 4.0 * (time > 5.0)), smoothing_s=0.05)
    >>> zero_after(shifted, find_phases(shifted, protocol)).shift_n
    4.0
    """
    if phases.release is None:
        return None
    start = max(effort.index(phases.release + SETTLING_S), len(effort.force) - effort.samples(WINDOW_S))
    tail = effort.force[start:]
    if len(tail) < max(2.0, LEAST_S * effort.rate):
        return None
    return ZeroAfter(shift_n=float(tail.mean()), start=start)
