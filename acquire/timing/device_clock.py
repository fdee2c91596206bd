"""The clock inside a sensor: unwrapped, how many samples fit in a span of it, and the time base that goes by it."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import chain, repeat
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from acquire.decoders import Lines, Packets
from acquire.sensor.clock_columns import signed
from acquire.timing.timebase import LEAST_STEP, NOTHING, TimeBase, too_far
from acquire.values.arrays import FloatArray

if TYPE_CHECKING:
    from collections.abc import Sequence

    from acquire.decoders import Columns, Damage

PRIOR_SAMPLES = 10
"""The nominal rate weighs as many samples as this at first, and nothing once ten times as many were seen."""
FORGET_SAMPLES = 2**17
"""The period is learnt over about this many samples, so that it follows an oscillator that drifts."""
UNSURE = 0.3
"""How far the true rate may be from the nominal one, as a part of it, until the first packets have shown it."""
SURE_AFTER = 3
"""Spans between unbroken packets."""
SLACK_PACKETS = 2
SLACK = 0.005
"""The number of packets lost may differ from what fits in a gap by this many, and this part of them."""


class Run(NamedTuple):
    """Packets or lines that follow one another."""

    starts: list[float]
    """Seconds of the first sample of each."""
    periods: list[float]
    """Seconds a sample in each."""
    end_s: float
    """Seconds of the last sample of all."""


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

    def follow(
        self, ticks: Sequence[float], sizes: Sequence[int] | None, *, numbered: bool, after_s: float
    ) -> Run | None:
        """Go on through frames that plainly follow one another, with nothing missing.

        It does for many frames, in one loop, what `ahead`, `missing` and `advance` do for each.

        Parameters
        ----------
        ticks : sequence of float
            One a packet or line.
        sizes : sequence of int, optional
            Samples in each; one in each when left out.
        numbered : bool
            Whether the frames follow by their numbers too.
        after_s : float
            Seconds of the last sample so far.

        Returns
        -------
        Run or None
            None, and nothing is changed, where a frame needs a closer look.
        """
        last, size, period = self._tick, self._samples, self._period
        learnt, learnt_samples, nominal, steps_per_s = (
            self._learnt,
            self._learnt_samples,
            self._nominal,
            self._steps_per_s,
        )
        slack, steps_per_s = self._resolution if numbered else 0.0, self._steps_per_s
        origin, offset_s = self._origin - self._wrapped, self._offset_s
        starts: list[float] = []
        periods: list[float] = []
        for tick, next_size in zip(ticks, sizes or repeat(1)):  # noqa: B905 # endless
            steps = tick - last
            start = offset_s + (tick - origin) / steps_per_s
            if steps <= 0 or steps - size * period >= period / 2 + slack or start <= after_s:
                return None
            learnt += steps
            learnt_samples += size
            period = _period(learnt, learnt_samples, nominal)
            if learnt_samples > FORGET_SAMPLES:
                learnt, learnt_samples = learnt / 2, learnt_samples / 2
            after_s = start + (next_size - 1) * period / steps_per_s
            last, size = tick, next_size
            starts.append(start)
            periods.append(period / steps_per_s)
        self._tick, self._samples, self._period = last, size, period
        self._learnt, self._learnt_samples = learnt, learnt_samples
        self._spans += len(starts)
        return Run(starts, periods, after_s)

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
        if self._learnt > 0:
            self._period = _period(self._learnt, self._learnt_samples, self._nominal)
        if self._learnt_samples > FORGET_SAMPLES:
            self._learnt /= 2
            self._learnt_samples /= 2


def _period(learnt: float, learnt_samples: float, nominal: float) -> float:
    """Return the steps a sample that were learnt, or the nominal ones in part while few samples were seen."""
    prior = PRIOR_SAMPLES - learnt_samples / 10
    return (learnt + prior * nominal) / (learnt_samples + prior) if prior > 0 else learnt / learnt_samples


class ClockTimeBase(TimeBase):
    """Packets with ticks, or lines with a time."""

    def __init__(self, *, clock: DeviceClock, rate_hz: float, sequence_wrap: int) -> None:
        super().__init__(rate_hz=rate_hz, sequence_wrap=sequence_wrap)
        self._clock = clock

    def refine(self, seconds: FloatArray) -> FloatArray:
        """Return the seconds as they are: within a trial a device clock is better than any line.

        Parameters
        ----------
        seconds : ndarray, shape (n,)
            Placed seconds of one trial; finite, as all placed seconds.
        """
        return seconds

    def place(self, event: Columns | Damage, arrival: float) -> FloatArray:
        """Return when the samples of an event were taken; see `TimeBase.place`."""
        if isinstance(event, Packets):
            return self._place(event.tick, event.sequence, event.sizes, arrival)
        if isinstance(event, Lines) and event.tick_s is not None:
            return self._place(event.tick_s, event.sequence, None, arrival)
        return NOTHING  # the clock will tell what damage cost

    def _place(
        self, ticks: Sequence[float], numbers: Sequence[int] | None, sizes: Sequence[int] | None, arrival: float
    ) -> FloatArray:
        """Return the seconds of packets or lines that came in one chunk.

        Nearly always one follows the other, and the clock goes on. One that does not is looked at by `_start`.
        """
        if self._all_follow(numbers, arrival - self._arrival):
            run = self._clock.follow(ticks, sizes, numbered=numbers is not None, after_s=self._seconds)
            if run is not None:
                self._sequence, self._arrival = numbers[-1] if numbers else None, arrival
                self._seconds = run.end_s
                self.segments.advance(sum(sizes) if sizes else len(ticks), arrival, frames=len(ticks))
                return _spread(run.starts, run.periods, sizes)
        return self._place_each(ticks, numbers, sizes, arrival)

    def _all_follow(self, numbers: Sequence[int] | None, pause_s: float) -> bool:
        if not self.started or pause_s > self._clock.half_wrap_s:
            return False
        if numbers is None:
            return True
        first = (-1 if self._sequence is None else self._sequence) + 1
        return (*numbers,) == (*range(first, first + len(numbers)),)

    def _place_each(
        self, ticks: Sequence[float], numbers: Sequence[int] | None, sizes: Sequence[int] | None, arrival: float
    ) -> FloatArray:
        """Look at each packet or line by itself, since something is lost, or late, or has begun."""
        starts: list[float] = []
        periods: list[float] = []
        for tick, number, size in zip(ticks, numbers or repeat(None), sizes or repeat(1)):  # noqa: B905 # endless
            start = self._start(tick, number, size, arrival)
            period = self._clock.period_s
            if start is None:
                start = math.nan
            else:
                end = start + (size - 1) * period
                if start <= self._seconds:
                    # The period was thought too long: what is left until the end of this packet is shared out.
                    period = max((end - self._seconds) / size, LEAST_STEP * self._nominal_s)
                    start = self._seconds + period
                    end = start + (size - 1) * period
                self._seconds = end
            starts.append(start)
            periods.append(period)
        return _spread(starts, periods, sizes)

    def _start(self, tick: float, sequence: int | None, samples: int, arrival: float) -> float | None:
        """Return the seconds of the first of some samples; None when they came before."""
        clock = self._clock
        if not self.started:
            start = 0.0
            clock.begin(tick, samples, at_s=start)
            self.segments.begin(start)
        else:
            pause_s = arrival - self._arrival
            ahead = clock.ahead(tick)
            jump = self._jump(sequence)
            if self._is_repeat(-clock.seconds(ahead), jump, pause_s):
                self.duplicates += 1
                return None
            missing = clock.missing(ahead, unbroken=jump == 1)
            if (
                ahead < 0
                or pause_s > clock.half_wrap_s
                or too_far(clock.seconds(ahead), pause_s)
                or self._was_reset(sequence, jump, missing)
            ):
                start = self._restart(pause_s, samples, clock.period_s)
                clock.begin(tick, samples, at_s=start)
            else:
                start = self._go_on(tick, samples, jump, missing)
        self._sequence = sequence
        self._arrival = arrival
        self.segments.advance(samples, arrival)
        return start

    def _go_on(self, tick: float, samples: int, jump: int | None, missing: int) -> float:
        if missing:
            self._lose(missing, self._clock.period_s, after_s=self._seconds)
            self.segments.skip(missing)
        return self._clock.advance(tick, samples, unbroken=jump in (1, None) and not missing)

    def _was_reset(self, sequence: int | None, jump: int | None, missing: int) -> bool:
        """Say whether a counter went back although the clock went on, and not because it wrapped."""
        if sequence is None or self._sequence is None or jump is None or jump == 1 or sequence > self._sequence:
            return False
        fit = missing / self._clock.samples
        differ = abs(signed(jump - 1 - fit, self._sequence_wrap))
        return differ > SLACK_PACKETS + SLACK * fit


def _spread(starts: list[float], periods: list[float], sizes: Sequence[int] | None) -> FloatArray:
    """Return the seconds of all samples, given those of the first of each packet; without sizes it is the only one."""
    if sizes is None:
        return np.array(starts)
    if len(sizes) == 1:
        return starts[0] + _numbers(sizes[0]) * periods[0]
    if max(sizes) == 1:
        return np.array(starts)
    if min(sizes) == max(sizes):
        spread = np.array(periods)[:, None] * _numbers(sizes[0])
        spread += np.array(starts)[:, None]
        return spread.ravel()
    parts = zip(starts, periods, sizes, strict=True)
    return np.array([*chain.from_iterable(start + _numbers(size) * period for start, period, size in parts)])


@lru_cache(maxsize=256)
def _numbers(samples: int) -> FloatArray:
    numbers = np.arange(samples, dtype=np.float64)
    numbers.flags.writeable = False
    return numbers
