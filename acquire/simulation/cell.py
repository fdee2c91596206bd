"""A simulated load cell on which loads are hung at a word, with errors of known size: for sensor checks.

The load moves over `HANG_S`, then swings and comes to rest. What the cell makes of it is the load itself and
these, each a field of `Cell`, in newtons as read::

    bow          4 b x (1 - x),           x the load over `full_n`: the error from the terminal line at half load
    hysteresis   4 h y (1 - y) top/full,  y the load over the greatest since the last zero; as the load falls only
    creep        c per cent of the load, which comes and goes with a time constant
    excursion    half of `repeatability_n` up, then down, each time loads are hung after none hung
    zero         an offset, a warm-up that dies out, a steady drift
    noise        white, and a hum

All of it is invented: it is no maker's cell.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from acquire.simulation.device import Device, Faults

if TYPE_CHECKING:
    from acquire.sensor.profile import Profile

HANG_S = 0.6
"""A hand takes this long to put a weight on, or off."""
SWING_HZ = 1.6
SWING_DECAY_S = 0.5
NOISE_KEPT = 99_991
"""So many values of noise are drawn, and repeated: a prime, in step with nothing."""


class Cell(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is wrong with a load cell; by default nothing."""

    full_n: float = 1000.0
    """The load to which bow and hysteresis refer, N."""
    sensitivity_pct: float = 0.0
    """More counts a newton than the profile says."""
    bow_n: float = 0.0
    hysteresis_n: float = 0.0
    creep_pct: float = 0.0
    creep_s: float = 20.0
    repeatability_n: float = 0.0
    zero_n: float = 0.0
    warm_up_n: float = 0.0
    """What the zero is off at the start and loses again."""
    warm_up_s: float = 60.0
    drift_n_per_min: float = 0.0
    noise_n: float = 0.0
    """Standard deviation."""
    hum_n: float = 0.0
    """Root mean square."""
    hum_hz: float = 50.0
    swing_pct: float = 8.0
    """Amplitude of a swinging weight, of its weight."""
    unrest_n: float = 0.0
    """A swing that never dies out, amplitude: somebody leans on the bench."""


TYPICAL = Cell(
    sensitivity_pct=0.4,
    bow_n=0.25,
    hysteresis_n=0.2,
    creep_pct=0.06,
    repeatability_n=0.08,
    zero_n=1.5,
    warm_up_n=0.6,
    warm_up_s=30.0,
    noise_n=0.2,
    hum_n=0.05,
    full_n=200.0,
)
"""What the simulated sensor is in a check when nothing else is asked for."""


class LoadedDevice(Device):
    """A sensor that measures what hangs on it, from the word on that hangs it there.

    Parameters
    ----------
    profile : Profile
        Framing, rate and nominal sensitivity.
    cell : Cell
        What is wrong with it.
    samples_per_packet, faults
        As for `Device`.
    seed : int
        Of the noise.
    """

    def __init__(
        self,
        profile: Profile,
        cell: Cell,
        *,
        samples_per_packet: int = 10,
        faults: Faults | None = None,
        seed: int = 1,
    ) -> None:
        nothing = np.zeros(1, dtype=np.int32)
        super().__init__(profile, nothing, samples_per_packet=samples_per_packet, loop=True, faults=faults)
        self._cell = cell
        self._now = 0.0
        self._load, self._before, self._since = 0.0, 0.0, -math.inf
        self._top, self._falling, self._excursions = 0.0, False, 0
        self._crept = 0.0
        """The creep there was when the load last changed, N."""
        self._noise: list[float] = np.random.default_rng(seed).normal(0.0, 1.0, NOISE_KEPT).tolist()

    def load(self, newtons: float) -> None:
        """Hang a load, in place of the one that hangs there; 0 takes everything off."""
        if newtons == self._load:
            return
        self._crept = self._creep(self._now)
        self._before, self._load, self._since = self._load, newtons, self._now
        self._falling = newtons < self._before
        if newtons == 0.0:
            self._falling = False
        elif not self._falling:
            self._excursions += self._before == 0.0
            self._top = newtons

    def newtons(self, seconds: float) -> float:
        """Return what the cell reads at a moment, without noise, in newtons of a perfect one with its zero."""
        cell, load = self._cell, self._hanging(seconds)
        into = seconds - self._since
        x = load / cell.full_n
        read = load + 4.0 * cell.bow_n * x * (1.0 - x) + self._creep(seconds)
        if self._falling and self._top:
            y = load / self._top
            read += 4.0 * cell.hysteresis_n * y * (1.0 - y) * self._top / cell.full_n
        if self._load and into > HANG_S:
            read += 0.5 * cell.repeatability_n * (1.0 if self._excursions % 2 else -1.0)
        return read

    def zero(self, seconds: float) -> float:
        """Return the zero at a moment, newtons of the nominal sensitivity."""
        cell = self._cell
        return cell.zero_n + cell.warm_up_n * math.exp(-seconds / cell.warm_up_s) + cell.drift_n_per_min * seconds / 60

    def _hanging(self, seconds: float) -> float:
        """Return the load at a moment: on its way, swinging, or at rest."""
        into, step = seconds - self._since, self._load - self._before
        if into < HANG_S:
            return self._before + step * 0.5 * (1.0 - math.cos(math.pi * into / HANG_S))
        swing = 0.01 * self._cell.swing_pct * abs(step) * math.exp(-(into - HANG_S) / SWING_DECAY_S)
        if self._load:
            swing += self._cell.unrest_n
        return self._load + swing * math.sin(2.0 * math.pi * SWING_HZ * (into - HANG_S)) if swing else self._load

    def _creep(self, seconds: float) -> float:
        goal = 0.01 * self._cell.creep_pct * self._load
        return goal + (self._crept - goal) * math.exp(-(seconds - self._since) / self._cell.creep_s)

    def _measured(self, first: int) -> tuple[int, ...]:
        """Return the counts of a packet; within it the load goes straight, which spares time at a thousand a second."""
        rate, size = self.profile.rate_hz, self._size
        self._now = first / rate
        begin, end = self._true(self._now), self._true((first + size) / rate)
        step = (end - begin) / size
        return tuple(self._count(index, begin + (index - first) * step) for index in range(first, first + size))

    def _true(self, seconds: float) -> float:
        """Return what is read without noise, in newtons of the nominal sensitivity."""
        return self.newtons(seconds) * (1.0 + 0.01 * self._cell.sensitivity_pct) + self.zero(seconds)

    def _count(self, index: int, newtons: float) -> int:
        cell, profile = self._cell, self.profile
        newtons += cell.noise_n * self._noise[index % NOISE_KEPT]
        if cell.hum_n:
            newtons += cell.hum_n * math.sqrt(2.0) * math.sin(2.0 * math.pi * cell.hum_hz * index / profile.rate_hz)
        low, high = profile.limit_counts
        return min(max(round(newtons * profile.counts_per_newton + profile.zero_counts), low), high)
