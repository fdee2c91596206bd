"""What the force does during one trial, as events: quiet, effort, level, held, released.

It looks only at the force and the clock it is given, and decides nothing about the trial: that is for the verdict,
which sees the whole curve.
"""

from __future__ import annotations

from collections import deque

from analysis.trial.protocol import Protocol
from ui.session.transitions import Event

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


class EffortWatch:
    """Watch the force of one trial; each event comes once, in order.

    Parameters
    ----------
    protocol : Protocol
        How long to build up and to hold.
    """

    def __init__(self, protocol: Protocol) -> None:
        self._instruction = protocol.instruction
        self._least_ramp = protocol.ramp.warn_below_s
        self._recent: deque[tuple[float, float]] = deque()
        self.began: float | None = None
        """When the force left the zero, on the clock."""
        self.released = False
        self._quiet = self._hold_over = False
        self._held: float | None = None
        self._peak = 0.0
        self._mark = 0.0
        self._marked = 0.0
        self._low_since: float | None = None

    def see(self, now: float, force_n: float) -> list[Event]:
        """Take the force at a moment, N, and return what it came to."""
        if self.released:
            return []
        self._recent.append((now, force_n))
        while self._recent[0][0] < now - QUIET_S:
            self._recent.popleft()
        return self._before(now, force_n) if self.began is None else self._during(now, force_n)

    def held(self, now: float) -> float:
        """Return how long the hold has lasted, s; 0 before it."""
        return 0.0 if self._held is None else max(0.0, now - self._held)

    def fraction(self, now: float) -> float:
        """Return how much of the hold is done, 0 to 1."""
        return min(1.0, self.held(now) / self._instruction.hold_s)

    def _before(self, now: float, force_n: float) -> list[Event]:
        if force_n > LEAST_N:
            self.began = self._marked = now
            self._peak = self._mark = force_n
            return [Event.EFFORT]
        if not self._quiet and self._is_quiet(now):
            self._quiet = True
            return [Event.QUIET]
        return []

    def _is_quiet(self, now: float) -> bool:
        forces = [force for _, force in self._recent]
        return now - self._recent[0][0] >= 0.9 * QUIET_S and max(forces) - min(forces) <= QUIET_N

    def _during(self, now: float, force_n: float) -> list[Event]:
        events = []
        if force_n > self._mark * (1.0 + LEVEL_SHARE):
            self._mark, self._marked = force_n, now
        self._peak = max(self._peak, force_n)
        if self._held is None and self._is_level(now):
            self._held = now
            events.append(Event.LEVEL)
        if not self._hold_over and self.held(now) >= self._instruction.hold_s:
            self._hold_over = True
            events.append(Event.HELD)
        if self._is_released(now, force_n):
            self.released = True
            events.append(Event.RELEASED)
        return events

    def _is_level(self, now: float) -> bool:
        since = now - (self.began or now)
        level = now - self._marked >= LEVEL_S and since >= self._least_ramp
        return level or since >= self._instruction.ramp_most_s

    def _is_released(self, now: float, force_n: float) -> bool:
        if force_n > max(RELEASE_SHARE * self._peak, 0.5 * LEAST_N):
            self._low_since = None
        elif self._low_since is None:
            self._low_since = now
        return self._low_since is not None and now - self._low_since >= RELEASED_S
