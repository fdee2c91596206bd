"""The clock inside a sensor: unwrapped, and how many samples fit in a span of it."""

from __future__ import annotations

PRIOR_SAMPLES = 10
"""The nominal rate counts as so many samples at first, and as none once ten times as many are learnt."""
FORGET_SAMPLES = 2**17
"""The period is learnt over about so many samples, to follow an oscillator that drifts."""
UNSURE = 0.3
"""How far off the nominal rate may be, as a part of it, until the first packets have shown the true one."""
SURE_AFTER = 3
"""Spans between unbroken packets."""


def signed(difference: float, turn: float | None) -> float:
    """Return the shortest way round a counter of `turn` steps; the difference itself without one.

    Examples
    --------
    >>> signed(3 - 65534, 65536)
    5
    """
    if turn is None:
        return difference
    around = difference % turn
    return around - turn if around >= turn / 2 else around


class DeviceClock:
    """Seconds by a device's tick counter, and the sample period in it.

    Parameters
    ----------
    steps_per_s : float
        Steps of the counter a second.
    turn : float, optional
        Steps after which it starts again; None when it never does.
    resolution : float
        Steps by which it really goes: 1, or more for a coarse clock told in fine units.
    rate_hz : float
        Nominal sample rate.
    """

    def __init__(self, *, steps_per_s: float, turn: float | None, rate_hz: float, resolution: float = 1) -> None:
        self._steps_per_s = steps_per_s
        self._turn = turn
        self._resolution = resolution
        self._nominal = steps_per_s / rate_hz
        self._period = steps_per_s / rate_hz
        self._tick: float = 0
        self._samples = 0
        self._turns: float = 0
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
    def half_turn_s(self) -> float:
        """After so long without a tick, the counter no longer tells forward from back."""
        return float("inf") if self._turn is None else self._turn / 2 / self._steps_per_s

    @property
    def samples(self) -> int:
        """Samples that followed the last tick."""
        return self._samples

    def begin(self, tick: float, samples: int, *, at_s: float) -> None:
        """Call a tick the given second, from which on time is counted."""
        self._tick = self._origin = tick
        self._samples = samples
        self._turns = 0
        self._offset_s = at_s

    def ahead(self, tick: float) -> float:
        """Return how many steps a tick lies after the last one; negative when before."""
        return signed(tick - self._tick, self._turn)

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

    def advance(self, tick: float, samples: int, *, unbroken: bool) -> float:
        """Go on to a tick ahead and return its seconds; learn the period if nothing is missing between."""
        if unbroken:
            self._learn(self.ahead(tick))
        if self._turn is not None and tick < self._tick:
            self._turns += self._turn
        self._tick = tick
        self._samples = samples
        return self._offset_s + (tick - self._origin + self._turns) / self._steps_per_s

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
