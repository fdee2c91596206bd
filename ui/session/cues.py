r"""The giant cue of one trial: what to do now, from rest to release.

::

    SET -- quiet for a second --> GO -- force leaves the zero --> BUILD -- level, or 2 s --> HOLD -- time --> STOP
     \\__________________ push without the cue ________________/                                    release --> over

The timing looks only at the force and the clock it is given. It decides nothing about the trial: that is
for the verdict, which sees the whole curve.
"""

from __future__ import annotations

import enum
from collections import deque

from analysis.trial.protocol import Protocol

QUIET_S = 1.0
QUIET_N = 3.0
"""The force has been this still for this long before the word to go."""

LEVEL_S = 0.3
LEVEL_SHARE = 0.04
"""The ramp is over when the highest force has grown by less than this share in this time."""

RELEASE_SHARE = 0.3
RELEASED_S = 0.1
"""The trial is over when the force has been below this share of its peak for this long."""

LEAST_N = 10.0
"""An effort is above this."""


class Cue(enum.Enum):
    """What is asked for now; the words for it are in `ui.words.words`."""

    PLACE = "place"
    """Examiner: bring the limb and the pad into place, then press."""
    SET = "set"
    GO = "go"
    BUILD = "build"
    HOLD = "hold"
    STOP = "stop"
    REST = "rest"
    LOST = "lost"
    """The sensor is gone."""
    DONE = "done"


class TrialCues:
    """The cues of one trial.

    Parameters
    ----------
    protocol : Protocol
        How long to build up and to hold.
    """

    def __init__(self, protocol: Protocol) -> None:
        self._told = protocol.instruction
        self._least_ramp = protocol.ramp.warn_below_s
        self._recent: deque[tuple[float, float]] = deque()
        self.cue = Cue.SET
        self.over = False
        """Whether the force has been released."""
        self.began: float | None = None
        """When the force left the zero, on the clock."""
        self._held: float | None = None
        self._peak = 0.0
        self._mark = 0.0
        self._marked = 0.0
        self._low_since: float | None = None

    def see(self, now: float, force_n: float) -> Cue:
        """Take the force at a moment and return the cue for it."""
        self._recent.append((now, force_n))
        while self._recent[0][0] < now - QUIET_S:
            self._recent.popleft()
        if self.began is None:
            self._before(now, force_n)
        else:
            self._during(now, force_n)
        return self.cue

    def held(self, now: float) -> float:
        """Return how long the hold has lasted, s; 0 before it."""
        return 0.0 if self._held is None else max(0.0, now - self._held)

    def fraction(self, now: float) -> float:
        """Return how much of the hold is done, 0 to 1."""
        return min(1.0, self.held(now) / self._told.hold_s)

    def _before(self, now: float, force_n: float) -> None:
        if force_n > LEAST_N:
            self.began, self.cue = now, Cue.BUILD
            self._peak = self._mark = force_n
            self._marked = now
        elif self.cue is Cue.SET and self._quiet(now):
            self.cue = Cue.GO

    def _quiet(self, now: float) -> bool:
        forces = [force for _, force in self._recent]
        return now - self._recent[0][0] >= 0.9 * QUIET_S and max(forces) - min(forces) <= QUIET_N

    def _during(self, now: float, force_n: float) -> None:
        if force_n > self._mark * (1.0 + LEVEL_SHARE):
            self._mark, self._marked = force_n, now
        self._peak = max(self._peak, force_n)
        since = now - (self.began or now)
        level = now - self._marked >= LEVEL_S and since >= self._least_ramp
        if self.cue is Cue.BUILD and (level or since >= self._told.ramp_most_s):
            self.cue, self._held = Cue.HOLD, now
        if self.cue is Cue.HOLD and self.held(now) >= self._told.hold_s:
            self.cue = Cue.STOP
        self._watch_release(now, force_n)

    def _watch_release(self, now: float, force_n: float) -> None:
        if force_n > max(RELEASE_SHARE * self._peak, 0.5 * LEAST_N):
            self._low_since = None
        elif self._low_since is None:
            self._low_since = now
        elif now - self._low_since >= RELEASED_S:
            self.over = True
