"""Where the next sample of a stream goes, by what its sensor says: a clock, a counter, or nothing.

The rules are those told in `acquire.timing.timebase`; each kind of sensor is one class here.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections import deque
from functools import lru_cache
from itertools import repeat
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from acquire.decoders import Damage, Lines, Packet
from acquire.timing.clock_skew import ENOUGH_S
from acquire.timing.device_clock import DeviceClock, signed
from acquire.timing.segments import Stretches
from acquire.values.arrays import FloatArray

if TYPE_CHECKING:
    from acquire.decoders import Event


STALL_S = 0.5
STALL_SAMPLES = 10
"""Arrivals that pause for longer than both have stalled: no radio or computer holds back data for so long."""
REPEAT_S = 1.0
"""What is further behind than this was not repeated: the device has restarted."""
KEPT_GAPS = 1000
LEAST_STEP = 1e-3
"""Part of a period by which time goes on where a coarse clock says that it did not."""
SLACK_PACKETS = 2
SLACK = 0.005
"""By so many, and this part of them, may the packets counted differ from those that fit in a gap."""

NOTHING: FloatArray = np.empty(0)

HELD_BACK_S = 10.0
"""A link holds nothing back for longer ..."""
FAST = 1.25
"""... and no sensor is so much faster than its profile says."""


class Gap(NamedTuple):
    """A span without samples."""

    seconds: float
    """Placed seconds of the last sample before it."""
    length_s: float
    """How long samples are missing: one period for one lost sample."""


class Placement(ABC):
    """The state all kinds of sensors share: where the stream stands, and what was lost."""

    def __init__(self, *, rate_hz: float, sequence_turn: int) -> None:
        self.duplicates = 0
        self.stretches = Stretches(1 / rate_hz)
        self._lost = 0
        self._gap_count = 0
        self._gaps: deque[Gap] = deque(maxlen=KEPT_GAPS)
        self._nominal_s = 1 / rate_hz
        self._stall_s = max(STALL_S, STALL_SAMPLES / rate_hz)
        self._sequence_turn = sequence_turn
        self._sequence: int | None = None
        self._seconds = -math.inf  # of the last sample
        self._arrival = -math.inf  # of the same

    @property
    def started(self) -> bool:
        """Whether a sample was placed."""
        return self._seconds > -math.inf

    @abstractmethod
    def place(self, event: Event, arrival: float) -> FloatArray:
        """Return the seconds of an event's samples."""

    @property
    def lost(self) -> int:
        """Samples known to be lost so far."""
        return self._lost + self._missing_at_pause()[0]

    @property
    def gap_count(self) -> int:
        """How many gaps there were so far."""
        return self._gap_count + bool(self._missing_at_pause()[0])

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """The last thousand gaps, in order."""
        missing, after_s = self._missing_at_pause()
        unsettled = [Gap(after_s, missing * self._nominal_s)] if missing else []
        return tuple(sorted([*self._gaps, *unsettled]))

    @property
    def unsettled(self) -> bool:
        """Whether what seems to be missing may only be late, where nothing but the arrivals can tell."""
        return False

    def _missing_at_pause(self) -> tuple[int, float]:
        """Return how many samples a pause cost that is not counted yet, and the seconds it came after."""
        return 0, self._seconds

    def _lose(self, samples: int, period_s: float, *, after_s: float) -> None:
        self._lost += samples
        length_s = samples * period_s
        if self._gaps and self._gaps[-1].seconds == after_s:
            length_s += self._gaps.pop().length_s
        else:
            self._gap_count += 1
        self._gaps.append(Gap(after_s, length_s))

    def _restart(self, pause_s: float, samples: int, period_s: float) -> float:
        """Begin a stretch after a restart and return where: the last of its first samples has just arrived."""
        step_s = max(pause_s - (samples - 1) * period_s, 2 * period_s)  # something was lost for certain
        self._lose(max(round(step_s / period_s) - 1, 1), period_s, after_s=self._seconds)
        start = self._seconds + step_s
        self.stretches.begin(start)
        return start

    def _jump(self, sequence: int | None) -> int | None:
        """Return how far a counter has gone on, the short way round; None where there is none."""
        if sequence is None or self._sequence is None:
            return None
        return int(signed(sequence - self._sequence, self._sequence_turn))

    def _is_repeat(self, behind_s: float, jump: int | None, pause_s: float) -> bool:
        """Say whether samples that lie so far behind the last are old ones, and no restart."""
        if jump is not None and jump > 0:
            return False
        # A link repeats what is under way; after a stall only the very last can come again.
        return 0 <= behind_s <= REPEAT_S and (pause_s <= self._stall_s or behind_s == 0)


class ByClock(Placement):
    """Packets with ticks, or lines with a time."""

    def __init__(self, *, clock: DeviceClock, rate_hz: float, sequence_turn: int) -> None:
        super().__init__(rate_hz=rate_hz, sequence_turn=sequence_turn)
        self._clock = clock

    def place(self, event: Event, arrival: float) -> FloatArray:
        """Return the seconds of an event's samples."""
        if isinstance(event, Packet):
            return self._place_packet(event, arrival)
        if isinstance(event, Lines) and event.tick_s is not None:
            stamped = zip(event.tick_s, event.sequence or repeat(None), strict=False)
            return np.array([self._place_line(tick, number, arrival) for tick, number in stamped])
        return NOTHING  # the clock will tell what damage cost

    def _place_packet(self, packet: Packet, arrival: float) -> FloatArray:
        samples = len(packet.counts)
        start = self._start(packet.tick, packet.sequence, samples, arrival)
        if start is None:
            return NOTHING
        seconds = start + _numbers(samples) * self._clock.period_s
        if start <= self._seconds:
            # The period was thought too long: what is left until the end of this packet is shared out.
            step = max((float(seconds[-1]) - self._seconds) / samples, LEAST_STEP * self._nominal_s)
            seconds = self._seconds + (_numbers(samples) + 1) * step
        self._seconds = float(seconds[-1])
        return seconds

    def _place_line(self, tick: float, sequence: int | None, arrival: float) -> float:
        seconds = self._start(tick, sequence, 1, arrival)
        if seconds is None:
            return math.nan
        if seconds <= self._seconds:
            seconds = self._seconds + LEAST_STEP * self._nominal_s
        self._seconds = seconds
        return seconds

    def _start(self, tick: float, sequence: int | None, samples: int, arrival: float) -> float | None:
        """Return the seconds of the first of some samples; None when they came before."""
        clock = self._clock
        if not self.started:
            start = 0.0
            clock.begin(tick, samples, at_s=start)
            self.stretches.begin(start)
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
                or pause_s > clock.half_turn_s
                or _too_far(clock.seconds(ahead), pause_s)
                or self._was_reset(sequence, jump, missing)
            ):
                start = self._restart(pause_s, samples, clock.period_s)
                clock.begin(tick, samples, at_s=start)
            else:
                start = self._go_on(tick, samples, jump, missing)
        self._sequence = sequence
        self._arrival = arrival
        self.stretches.advance(samples, arrival)
        return start

    def _go_on(self, tick: float, samples: int, jump: int | None, missing: int) -> float:
        if missing:
            self._lose(missing, self._clock.period_s, after_s=self._seconds)
            self.stretches.skip(missing)
        return self._clock.advance(tick, samples, unbroken=jump in (1, None) and not missing)

    def _was_reset(self, sequence: int | None, jump: int | None, missing: int) -> bool:
        """Say whether a counter went back although the clock went on, and not by turning round."""
        if sequence is None or self._sequence is None or jump is None or jump == 1 or sequence > self._sequence:
            return False
        fit = missing / self._clock.samples
        differ = abs(signed(jump - 1 - fit, self._sequence_turn))
        return differ > SLACK_PACKETS + SLACK * fit


class ByCounter(Placement):
    """Lines with a counter and no time."""

    def place(self, event: Event, arrival: float) -> FloatArray:
        """Return the seconds of an event's samples."""
        if isinstance(event, Lines) and event.sequence is not None:
            return np.array([self._place_line(sequence, arrival) for sequence in event.sequence])
        return NOTHING  # the counter will tell what damage cost

    def _place_line(self, sequence: int, arrival: float) -> float:
        jump = self._jump(sequence)
        pause_s = arrival - self._arrival
        if jump is None:
            self.stretches.begin(0.0)
        elif self._is_repeat(-jump * self._nominal_s, jump, pause_s):
            self.duplicates += 1
            return math.nan
        elif (
            jump <= 0
            or pause_s > self._sequence_turn / 2 * self._nominal_s
            or _too_far(jump * self._nominal_s, pause_s)
        ):
            self._restart(pause_s, 1, self._nominal_s)
        else:
            self._go_on(jump, pause_s)
        self._sequence = sequence
        self._arrival = arrival
        self.stretches.advance(1, arrival)
        self._seconds = self.stretches.end_s
        return self._seconds

    def _go_on(self, jump: int, pause_s: float) -> None:
        if jump > 1:
            self._lose(jump - 1, self._nominal_s, after_s=self._seconds)
        if pause_s > self._stall_s:
            # Nothing more is lost than the counter says, but the sensor may have rested.
            at_s = self.stretches.end_s + jump * self._nominal_s
            self.stretches.begin(at_s, pause_s=pause_s, skipped=jump - 1)
        else:
            self.stretches.skip(jump - 1)


class ByIndex(Placement):
    """Lines with neither."""

    def __init__(self, *, rate_hz: float, sequence_turn: int) -> None:
        super().__init__(rate_hz=rate_hz, sequence_turn=sequence_turn)
        self._paused = False  # the length of the last pause may still prove shorter

    def place(self, event: Event, arrival: float) -> FloatArray:
        """Return the seconds of an event's samples."""
        if isinstance(event, Lines):
            seconds = self._count(len(event.counts), arrival)
            self._seconds = float(seconds[-1])
            return seconds
        if isinstance(event, Damage) and event.samples and self.started:
            self._count(event.samples, arrival)
            self._lose(event.samples, self._nominal_s, after_s=self._seconds)
        return NOTHING

    @property
    def unsettled(self) -> bool:
        """Whether what seems to be missing may only be late."""
        return self._paused

    def _missing_at_pause(self) -> tuple[int, float]:
        # If it is only late it comes in a burst, and the arrivals are back on the line that they had.
        return self.stretches.missing_before_last() if self._paused else super()._missing_at_pause()

    def _count(self, samples: int, arrival: float) -> FloatArray:
        pause_s = arrival - self._arrival
        if not self.started:
            self.stretches.begin(0.0)
        elif pause_s > self._stall_s:
            self._settle()
            self.stretches.begin(self.stretches.end_s + pause_s, pause_s=pause_s)
            self._paused = True
        self._arrival = arrival
        seconds = self.stretches.place(samples, arrival)
        if self._paused:
            if self.stretches.join_if_late():
                self._paused = False
            elif self.stretches.duration_s > ENOUGH_S:
                self._settle()
        return seconds

    def _settle(self) -> None:
        missing, after_s = self._missing_at_pause()
        if missing:
            self._lose(missing, self._nominal_s, after_s=after_s)
        self._paused = False


def _too_far(ahead_s: float, pause_s: float) -> bool:
    """Say whether a clock or a counter went on by more than time has passed, even on a link that held much back.

    A sensor that starts again when its counter is past half of its turn seems to have gone on to the next turn.
    """
    return ahead_s > FAST * pause_s + HELD_BACK_S


@lru_cache(maxsize=256)
def _numbers(samples: int) -> FloatArray:
    numbers = np.arange(samples, dtype=np.float64)
    numbers.flags.writeable = False
    return numbers
