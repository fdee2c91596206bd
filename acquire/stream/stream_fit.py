"""Whether what comes is what the profile of the sensor says; told while the stream is two seconds old.

A wrong profile, a wrong baud rate or a bad cable looks like this: most of the bytes are thrown away as damage, or
nothing in them is a sample. A profile of another setting of the same sensor looks like this: far more or far fewer
samples a second. Looked at is one stretch of `LOOK_S` after the other, by the arrivals alone; a pause begins a new one,
since what was held up comes all at once. How fast samples come is judged until it was right once: later a jam is more
likely than a sensor that changes its rate.
"""

from __future__ import annotations

import enum
from typing import NamedTuple

LOOK_S = 1.5
"""Together with a look of the recorder and one of the session less than two seconds."""
PAUSE_S = 0.5
PAUSE_SAMPLES = 5.0
"""So long without a byte, and longer than so many samples take, is a pause."""
LEAST_BYTES = 20
"""Of fewer nothing can be said."""
MOST_DAMAGED = 0.5
"""More of the bytes thrown away: the rest is no basis for a trial. The worst link of `acquire.simulation.disturbance`
that comes with the program loses a tenth."""
FASTEST, SLOWEST = 1.5, 0.5
"""Times the nominal rate; oscillators differ by hundredths, settings of one sensor by a factor of two and more."""


class Misfit(enum.Enum):
    """What does not fit; the values name the sentences."""

    DAMAGED = "damaged"
    RATE = "rate"


class Unfit(NamedTuple):
    """What does not fit, with its numbers."""

    misfit: Misfit
    damaged_pct: float
    """Of the bytes."""
    rate_hz: float
    """Samples a second that came, lost ones counted."""
    nominal_hz: float


class Counts(NamedTuple):
    """What has come since a stream was opened."""

    received: int
    """Bytes."""
    wasted: int
    """Bytes thrown away as damage."""
    samples: int
    lost: int
    """Samples known to be lost."""


class StreamFit:
    """Watches one stream.

    Parameters
    ----------
    rate_hz : float
        What the profile says, Hz.

    Examples
    --------
    >>> fit = StreamFit(1000.0)
    >>> for k in range(5):
    ...     told = fit.see(0.4 * k, Counts(5_000 * k, 4_900 * k, 3 * k, 0))
    >>> told.misfit, round(told.damaged_pct)
    (<Misfit.DAMAGED: 'damaged'>, 98)
    """

    def __init__(self, rate_hz: float) -> None:
        self._nominal_hz = rate_hz
        self._pause_s = max(PAUSE_S, PAUSE_SAMPLES / rate_hz)
        self._began: tuple[float, Counts] | None = None
        self._last_s = 0.0
        self._rate_was_right = False
        self.unfit: Unfit | None = None
        """What does not fit now; None while all does."""

    def see(self, arrival: float, counts: Counts) -> Unfit | None:
        """Take what has come until an arrival, s, and return what does not fit now."""
        if self._began is None or arrival - self._last_s > self._pause_s:
            self._began = arrival, counts
        self._last_s = arrival
        began_s, before = self._began
        if arrival - began_s >= LOOK_S:
            self._began = arrival, counts
            came = Counts(*(now - then for now, then in zip(counts, before, strict=True)))
            if came.received >= LEAST_BYTES:
                self.unfit = self._judged(came, arrival - began_s)
        return self.unfit

    def _judged(self, came: Counts, seconds: float) -> Unfit | None:
        found = Unfit(
            Misfit.DAMAGED,
            damaged_pct=100.0 * min(1.0, came.wasted / came.received),
            rate_hz=(came.samples + came.lost) / seconds,
            nominal_hz=self._nominal_hz,
        )
        if came.wasted > MOST_DAMAGED * came.received or not came.samples:
            return found
        self._rate_was_right |= SLOWEST <= found.rate_hz / self._nominal_hz <= FASTEST
        return None if self._rate_was_right else found._replace(misfit=Misfit.RATE)
