"""A stream's own seconds on the clock of this computer, so that two sensors, or another program, share a clock.

A sample's placed seconds run by its sensor; its arrival is late by the latency of the link. The least-delay line
(`acquire.timing.clock_skew`) through both says when a placed second was on the computer's clock, but for the constant
part of the latency, which nobody can see from one end. Cables add a millisecond, a radio its interval.
"""

from __future__ import annotations

from acquire.timing.clock_skew import Arrivals, Line
from acquire.values.arrays import FloatArray

STEPS_PER_S = 1_000_000
RENEW_S = 1.0
"""A line holds for so long before it is drawn anew."""


class HostTime:
    """Placed seconds of one stream on the clock of its arrivals.

    Examples
    --------
    >>> import numpy as np
    >>> host = HostTime()
    >>> for n in range(100):
    ...     host.add(0.1 * n, 50.0 + 0.1 * n + (0.02 if n % 3 else 0.0))
    >>> float(host.at(np.array([5.0])).round(6)[0])
    55.0
    """

    def __init__(self) -> None:
        self._arrivals = Arrivals()
        self._line: Line | None = None
        self._renewed = -RENEW_S

    def add(self, seconds: float, arrival: float) -> None:
        """Note that the samples up to some placed seconds have arrived."""
        self._arrivals.add(round(seconds * STEPS_PER_S), arrival)

    def at(self, seconds: FloatArray) -> FloatArray:
        """Return placed seconds on the clock of the arrivals.

        Parameters
        ----------
        seconds : ndarray, shape (n,)
            Placed seconds, increasing, n > 0.

        Raises
        ------
        ValueError
            If nothing has arrived yet.
        """
        steps = seconds * STEPS_PER_S
        line = self._arrivals.line(default_period_s=1.0 / STEPS_PER_S, first=float(steps[0]), last=float(steps[-1]))
        return line.at(steps)

    def now(self, seconds: FloatArray) -> FloatArray:
        """Return the newest placed seconds on the clock; the line is drawn anew each second only."""
        if self._line is None or float(seconds[-1]) - self._renewed >= RENEW_S:
            self._line = self._arrivals.line(default_period_s=1.0 / STEPS_PER_S)
            self._renewed = float(seconds[-1])
        return self._line.at(seconds * STEPS_PER_S)
