"""What helps now, while the person pushes: from the force so far, against what the protocol asks.

A hint stays for a moment, so that it can be read, and a tone goes with those that ask for a change.
"""

from __future__ import annotations

import numpy as np

from acquire.values.arrays import FloatArray
from analysis.trial.protocol import Protocol
from ui.model.stage.target import Target

NOW_S = 0.15
"""The force now is the mean of the last so many seconds."""

STAYS_S = 0.6
"""A hint stays for so long at least."""

EARLY = 1.2
"""Above the steep edge of the wedge by more than this, the build-up is too fast."""
FAINT = 0.3
"""Below this share of what the limb gave before, it is too early to say."""

URGENT = {"slower": "slower", "pushing": "go"}
"""Hints that ask for a change, with their tones; they are written large, and said."""


def hint(protocol: Protocol, time: FloatArray, force: FloatArray, target: Target) -> str:
    """Return what helps now.

    Parameters
    ----------
    protocol : Protocol
        Band of the hold.
    time : ndarray, shape (n,)
        Seconds from the onset.
    force : ndarray, shape (n,)
        N so far; NaN where samples were lost.
    target : Target
        What is asked at this moment.

    Returns
    -------
    str
        ``slower`` and ``building`` in the ramp; ``hold``, ``pushing`` and ``steady`` in the hold; empty before the
        onset.
    """
    recent = force[(time > time[-1] - NOW_S) & ~np.isnan(force)] if len(time) else np.empty(0)
    if not len(recent) or time[-1] <= 0.0:
        return ""
    now = float(np.mean(recent))
    return _in_ramp(float(time[-1]), now, target) if target.floor is None else _in_hold(now, target, protocol)


def _in_ramp(seconds: float, now: float, target: Target) -> str:
    """Compare with the steep edge of the wedge, where the limb has shown what it gives."""
    least, _ = target.ramp_end
    if target.level is None or now < FAINT * target.level:
        return "building"
    return "slower" if now > EARLY * target.level * (seconds - target.onset) / (least - target.onset) else "building"


def _in_hold(now: float, target: Target, protocol: Protocol) -> str:
    """Compare with the floor, and with the band above the running mean."""
    if target.floor is None or target.level is None:
        return "hold"
    if now < target.floor:
        return "pushing"
    return "steady" if now > (1.0 + protocol.hold.band_pct / 100.0) * target.level else "hold"


class HintWatch:
    """Keeps a hint for a moment; the clock is an argument."""

    def __init__(self) -> None:
        self.shown = ""
        self._since = -np.inf

    def see(self, now: float, found: str) -> bool:
        """Take what helps now; return whether it is another hint that asks for a change."""
        if found == self.shown or (found and self.shown and now - self._since < STAYS_S):
            return False
        self.shown, self._since = found, now
        return found in URGENT
