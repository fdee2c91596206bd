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

SURE = 3.0
SURE_SHARE = 0.15
"""Beyond so many times the least force, and beyond this share of what the limb gave before, it is an effort at once;
a pad that is laid on and a knock lie below."""

CONTACT_S = 0.8
SETTLED_S = 0.3
GROWN = 1.1
"""Below that, a force is an effort that has lasted longer than a knock and has still grown by so much since it settled
on the limb; a pad or a hand that was laid on does not grow."""


class EffortWatch:
    """Watch the force of one trial; each event comes once, in order.

    Parameters
    ----------
    protocol : Protocol
        How long to build up and to hold, and the least force of an effort.
    before_n : float
        The most that the same limb gave before, N; 0 in its first trial.
    """

    def __init__(self, protocol: Protocol, *, before_n: float = 0.0) -> None:
        self._least = protocol.no_effort.force_n
        self._sure = max(SURE * self._least, SURE_SHARE * before_n)
        self._touched: float | None = None
        self._laid_on: float | None = None
        self._instruction = protocol.instruction
        self._least_ramp = protocol.ramp.warn_below_s
        self._recent: deque[tuple[float, float]] = deque()
        self.began: float | None = None
        """When the force left the zero, on the clock."""
        self.released = False
        self._quiet = self._hold_over = False
        self._held: float | None = None
        self.peak_n = 0.0
        """The highest force so far, N."""
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

    @property
    def level_s(self) -> float | None:
        """How long the ramp took, s after the force left the zero; None before it is over."""
        return None if self._held is None or self.began is None else self._held - self.began

    def held(self, now: float) -> float:
        """Return how long the hold has lasted, s; 0 before it."""
        return 0.0 if self._held is None else max(0.0, now - self._held)

    def fraction(self, now: float) -> float:
        """Return how much of the hold is done, 0 to 1."""
        return min(1.0, self.held(now) / self._instruction.hold_s)

    def _before(self, now: float, force_n: float) -> list[Event]:
        if self._is_effort(now, force_n):
            self.began, self._marked = self._touched, now
            self.peak_n = self._mark = force_n
            return [Event.EFFORT]
        if self._touched is None and not self._quiet and self._is_quiet(now):
            self._quiet = True
            return [Event.QUIET]
        return []

    def _is_effort(self, now: float, force_n: float) -> bool:
        """Tell whether what presses is an effort: strong, or beyond a knock in time and still growing."""
        if force_n <= self._least:
            self._touched = self._laid_on = None
            return False
        self._touched = now if self._touched is None else self._touched
        if self._laid_on is None and now - self._touched >= SETTLED_S:
            self._laid_on = force_n
        grown = self._laid_on is not None and force_n > GROWN * self._laid_on
        return force_n > self._sure or (now - self._touched >= CONTACT_S and grown)

    def _is_quiet(self, now: float) -> bool:
        forces = [force for _, force in self._recent]
        return now - self._recent[0][0] >= 0.9 * QUIET_S and max(forces) - min(forces) <= QUIET_N

    def _during(self, now: float, force_n: float) -> list[Event]:
        events = []
        if force_n > self._mark * (1.0 + LEVEL_SHARE):
            self._mark, self._marked = force_n, now
        self.peak_n = max(self.peak_n, force_n)
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
        if force_n > max(RELEASE_SHARE * self.peak_n, 0.5 * self._least):
            self._low_since = None
        elif self._low_since is None:
            self._low_since = now
        return self._low_since is not None and now - self._low_since >= RELEASED_S
