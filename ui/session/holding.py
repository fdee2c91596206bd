r"""What an examiner can hold: they push the sensor against something solid, and the best three seconds count.

::

    PUSH -- force above the zero --> HOLD -- time --> LET_GO
      ^                                \___ let go ____/
      |      shorter than three seconds         |
    AGAIN <-------------------------------------+------> DONE

The push is cut and judged like a trial, so that an examiner's limit and a person's plateau are the same measure.
"""

from __future__ import annotations

import enum
from collections import deque

import numpy as np

from acquire.values.records import Trace
from analysis.trial.protocol import Protocol
from analysis.trial.verdict import judge

BEFORE_S = 1.5
"""So much of the quiet before a push is kept: the zero is taken from it."""

RELEASE_SHARE = 0.3
RELEASED_S = 0.5
"""A push is over when the force has been below this share of its peak for this long."""

LONGEST_S = 60.0
"""Something that leans on the sensor for longer is no push."""


class Holding(enum.Enum):
    """How far the examiner's push has come."""

    PUSH = "push"
    HOLD = "hold"
    LET_GO = "let_go"
    AGAIN = "again"
    """It was shorter than the three seconds that count."""
    DONE = "done"


class HoldingLimit:
    """Find the limit of an examiner in the force of a sensor.

    Parameters
    ----------
    protocol : Protocol
        What a plateau is, and how long a hold is asked for.

    Examples
    --------
    >>> from analysis.trial.protocol import load_protocol
    >>> limit = HoldingLimit(load_protocol())
    >>> for step in range(1000):
    ...     state = limit.see(0.01 * step, float(np.interp(0.01 * step, [1, 2, 7, 7.2], [0, 300, 300, 0])))
    >>> state.value, round(limit.newtons)
    ('done', 300)
    """

    def __init__(self, protocol: Protocol) -> None:
        self._protocol = protocol
        self._seen: deque[tuple[float, float]] = deque()
        self._peak = 0.0
        self._low_since: float | None = None
        self._began: float | None = None
        self.state = Holding.PUSH
        self.newtons: float | None = None
        """The limit, once the push is done, N."""

    def see(self, now: float, force_n: float) -> Holding:
        """Take the force at a moment, above the sensor's zero, and return how far the push has come."""
        if self.state is Holding.DONE or (self._seen and now <= self._seen[-1][0]):
            return self.state
        self._seen.append((now, force_n))
        if self._began is None:
            self._before(now, force_n)
        else:
            self._during(now, force_n)
        return self.state

    def held_s(self) -> float:
        """Return how long the push has lasted, s; 0 before it."""
        return 0.0 if self._began is None else self._seen[-1][0] - self._began

    def _before(self, now: float, force_n: float) -> None:
        if force_n > self._protocol.no_effort.force_n:
            self._began, self._peak, self._low_since = now, force_n, None
            self.state = Holding.HOLD
            return
        while self._seen[0][0] < now - BEFORE_S:
            self._seen.popleft()

    def _during(self, now: float, force_n: float) -> None:
        self._peak = max(self._peak, force_n)
        told = self._protocol.instruction
        if self.held_s() >= told.ramp_most_s + told.hold_s:
            self.state = Holding.LET_GO
        if force_n > RELEASE_SHARE * self._peak:
            self._low_since = None
        elif self._low_since is None:
            self._low_since = now
        elif now - self._low_since >= RELEASED_S:
            self._judge()
        if self.held_s() > LONGEST_S:
            self._anew()

    def _judge(self) -> None:
        time, force = np.array(self._seen).T
        measures = judge(Trace.from_samples(time, force), self._protocol).measures
        if measures.plateau_force_n is None or (measures.hold_time_s or 0.0) < self._protocol.hold.score_s:
            self._anew()
        else:
            self.newtons, self.state = measures.plateau_force_n, Holding.DONE

    def _anew(self) -> None:
        self.state = Holding.AGAIN
        self._began = None
        self._seen.clear()
