"""The clock inside a sensor: unwrapped, and how many samples fit in a span of it."""

from __future__ import annotations

import math

PRIOR_SAMPLES = 10
"""The nominal rate weighs as much as this many samples at first, and nothing once ten times as many were seen."""
FORGET_SAMPLES = 2**17
"""The period is learnt over about this many samples, so that it follows an oscillator that drifts."""
UNSURE = 0.3
"""How far off the nominal rate may be, as a part of it, until the first packets have shown the true one."""
SURE_AFTER = 3
"""Spans between unbroken packets."""


def signed(difference: float, wrap: float | None) -> float:
    """Return the shortest way round a counter that wraps.

    Parameters
    ----------
    difference : float
        Later reading minus earlier one, in steps of the counter; NaN stays NaN.
    wrap : float, optional
        Steps after which the counter begins again at 0; None when it never does.

    Returns
    -------
    float
        From -wrap/2 up to, not including, wrap/2; the difference itself without a wrap.

    Raises
    ------
    ZeroDivisionError
        If `wrap` is 0.

    References
    ----------
    RFC 1982 (1996), Serial Number Arithmetic: what is less than half the range ahead is ahead.

    Examples
    --------
    >>> signed(3 - 65534, 65536), signed(-70000, None)
    (5, -70000)
    """
    if wrap is None:
        return difference
    around = difference % wrap
    return around - wrap if around >= wrap / 2 else around


class DeviceClock:
    """Seconds by a device's tick counter, and the sample period in it.

    Parameters
    ----------
    steps_per_s : float
        Steps of the counter a second.
    wrap : float, optional
        Steps after which it begins again at 0; None when it never does.
    resolution : float
        Its smallest step: 1, or more for a coarse clock sent in fine units.
    rate_hz : float
        Nominal sample rate, Hz.

    Examples
    --------
    >>> clock = DeviceClock(steps_per_s=1000, wrap=2**32, rate_hz=100)
    >>> clock.begin(2**32 - 10, 1, at_s=0.0)
    >>> clock.advance(0, 1, unbroken=True)
    0.01
    """

    def __init__(self, *, steps_per_s: float, wrap: float | None, rate_hz: float, resolution: float = 1) -> None:
        self._steps_per_s = steps_per_s
        self._wrap = wrap
        self._resolution = resolution
        self._nominal = steps_per_s / rate_hz
        self._period = steps_per_s / rate_hz
        self._tick: float = 0
        self._samples = 0
        self._wrapped: float = 0
        self._origin: float = 0
        self._offset_s = 0.0
        self._learnt: float = 0
        self._learnt_samples: float = 0
        self._spans = 0

    @property
    def period_s(self) -> float:
        """Seconds a sample, as learnt so far."""
        return self._period / self._steps_per_s

    @property
    def half_wrap_s(self) -> float:
        """Seconds without a tick after which the counter no longer tells forward from back."""
        return math.inf if self._wrap is None else self._wrap / 2 / self._steps_per_s

    @property
    def samples(self) -> int:
        """Samples that followed the last tick."""
        return self._samples

    def begin(self, tick: float, samples: int, *, at_s: float) -> None:
        """Set a tick, which `samples` samples follow, to the second from which time is counted."""
        self._tick = self._origin = tick
        self._samples = samples
        self._wrapped = 0
        self._offset_s = at_s

    def ahead(self, tick: float) -> float:
        """Return how many steps a tick lies after the last one; negative when before."""
        return signed(tick - self._tick, self._wrap)

    def seconds(self, steps: float) -> float:
        """Return steps in seconds."""
        return steps / self._steps_per_s

    def missing(self, steps: float, *, unbroken: bool) -> int:
        """Return how many samples are missing, given how far ahead a tick is.

        `unbroken` says that by its number the packet follows the last one.
        """
        surplus = steps - self._samples * self._period
        if unbroken and surplus < self._slack():
            return 0
        return max(round(surplus / self._period), 0)

    def _slack(self) -> float:
        if self._spans < SURE_AFTER:
            return max(UNSURE * self._samples * self._period, self._resolution + self._period / 2)
        return self._resolution + self._period / 2

    def follow(self, tick: float, samples: int, *, numbered: bool) -> float | None:
        """Go on to a tick that plainly follows the last with nothing missing, and return its seconds.

        What `ahead`, `missing` and `advance` do one by one, in one step for the usual case. `numbered` says that the
        packet follows the last one by its number too. None, and nothing is changed, where it takes a closer look.
        """
        steps = tick - self._tick
        slack = self._period / 2 + self._resolution if numbered else self._period / 2
        if steps <= 0 or steps - self._samples * self._period >= slack:
            return None
        self._learn(steps)
        self._tick = tick
        self._samples = samples
        return self._offset_s + (tick - self._origin + self._wrapped) / self._steps_per_s

    def advance(self, tick: float, samples: int, *, unbroken: bool) -> float:
        """Go on to a tick ahead and return its seconds; learn the period if nothing is missing between."""
        if unbroken:
            self._learn(self.ahead(tick))
        if self._wrap is not None and tick < self._tick:
            self._wrapped += self._wrap
        self._tick = tick
        self._samples = samples
        return self._offset_s + (tick - self._origin + self._wrapped) / self._steps_per_s

    def _learn(self, steps: float) -> None:
        self._learnt += steps
        self._learnt_samples += self._samples
        self._spans += 1
        prior = max(PRIOR_SAMPLES - self._learnt_samples / 10, 0)
        if self._learnt > 0:
            self._period = (self._learnt + prior * self._nominal) / (self._learnt_samples + prior)
        if self._learnt_samples > FORGET_SAMPLES:
            self._learnt /= 2
            self._learnt_samples /= 2
