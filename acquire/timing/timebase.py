"""Seconds for samples: never the time at which they arrived.

At best a sensor says when it measured (a device clock); else in which order (a line counter); else only that it
measures at a steady rate. Hence three kinds of time base. Each sample gets its seconds at once from what its sensor
says: these are its *placed* seconds. The first sample is at 0.

**Device clock** (packets; lines with a `ms`, `us` or `s` column). The time is that of the clock, unwrapped where it
begins again after 2**32 steps. The samples within a packet are spaced by the period between unbroken packets, which is
learnt as they come, starting from the nominal one. The clock also tells how many samples a gap cost; the sequence
number, which wraps, tells that nothing was lost, or that a packet came twice.

**Line counter.** Placed at counter / nominal rate, so that a lost line leaves its place empty.

**Neither.** Placed at index / nominal rate. A bad line counts as one sample. When nothing arrives for more than half a
second (or ten samples), the segment ends, and the next one begins later by that pause.

What comes twice, or late and out of order, is dropped and counted. Where a clock or counter goes back in any other way,
the sensor was restarted: a new segment begins after a gap, placed by the arrivals. Seconds always increase. No sample
is ever made up; what is known to be lost is counted and leaves a gap.

**Refining.** Placed seconds of a sensor without a clock run at the nominal rate, which an on-chip oscillator misses by
several per cent. Once a trial is complete, `refine` maps them to the computer's clock, in seconds since the first
arrival, by the skew line of each unbroken segment (see `acquire.timing.clock_skew`). Within a trial a device clock is
better than that and is left as it is.

The same line gives the true sample rate of any sensor, and so shows whether its clock is right.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections import deque
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from acquire.decoders import Damage, Lines
from acquire.sensor.clock_columns import signed
from acquire.timing.clock_skew import ENOUGH_S
from acquire.timing.segments import RateEstimate, Segments
from acquire.values.arrays import FloatArray

if TYPE_CHECKING:
    from acquire.decoders import Columns

STALL_S = 0.5
STALL_SAMPLES = 10
"""Arrivals have stalled when they pause for longer than both: no Bluetooth link or computer holds data back so long."""
REPEAT_S = 1.0
"""A sample further behind than this is no repetition: the sensor was restarted."""
KEPT_GAPS = 1000
LEAST_STEP = 1e-3
"""Time goes on by this part of a period where a coarse clock stands still."""
NOTHING: FloatArray = np.empty(0)

HELD_BACK_S = 10.0
"""No link holds data back for longer ..."""
FAST = 1.25
"""... and no sensor is faster than its profile says by this factor."""


class Gap(NamedTuple):
    """A span without samples."""

    seconds: float
    """Placed seconds of the last sample before it."""
    length_s: float
    """How long samples are missing: one period for one lost sample."""


class TimeBase(ABC):
    """Places the samples of one stream in time; this class holds what the three kinds share.

    Parameters
    ----------
    rate_hz : float
        Nominal sample rate, Hz.
    sequence_wrap : int
        Steps after which the counter of packets or lines begins again at 0.

    Examples
    --------
    >>> from acquire.decoders import Packet, packets_together
    >>> from acquire.sensor.profile import load_profile
    >>> from acquire.timing.selection import time_base_for
    >>> base = time_base_for(load_profile("simulated"))
    >>> (packets,) = packets_together([Packet(0, 5_000_000, (1, 2)), Packet(2, 5_004_000, (5, 6))])
    >>> base.place(packets, 10.0).tolist()
    [0.0, 0.001, 0.004, 0.005]
    >>> base.lost
    2
    """

    def __init__(self, *, rate_hz: float, sequence_wrap: int) -> None:
        self.duplicates = 0
        """Packets or lines that were dropped because they came twice, or late and out of order."""
        self.segments = Segments(1 / rate_hz)
        self._lost = 0
        self._gap_count = 0
        self._gaps: deque[Gap] = deque(maxlen=KEPT_GAPS)
        self._nominal_s = 1 / rate_hz
        self._stall_s = max(STALL_S, STALL_SAMPLES / rate_hz)
        self._sequence_wrap = sequence_wrap
        self._sequence: int | None = None
        self._seconds = -math.inf  # of the last sample
        self._arrival = -math.inf  # of the same

    @property
    def started(self) -> bool:
        """Whether a sample was placed."""
        return self._seconds > -math.inf

    @abstractmethod
    def place(self, event: Columns | Damage, arrival: float) -> FloatArray:
        """Return when the samples of an event were taken.

        Parameters
        ----------
        event : Packets, Lines or Damage
            As it came from the decoder, in order, packets together.
        arrival : float
            When the chunk came that completed the event, s on any steady clock, never falling; the same number for
            all events of a chunk.

        Returns
        -------
        ndarray, shape (n_samples,) or (0,)
            Seconds since the first sample of the stream, each above all before; NaN for each sample that came before.
            Empty for damage.
        """

    def drop(self, frames: int) -> None:
        """Count packets or lines that came twice or late, and are not placed for that reason."""
        self.duplicates += frames

    def refine(self, seconds: FloatArray) -> FloatArray:
        """Return placed seconds on this computer's clock.

        Parameters
        ----------
        seconds : ndarray, shape (n,)
            Placed seconds of one trial, increasing, without NaN.

        Returns
        -------
        ndarray, shape (n,)
            The same array for a sensor with a clock. Otherwise seconds since the first arrival, increasing, by the
            skew line of each segment. They include the constant part of the delay, which cannot be seen.
        """
        return self.segments.refine(seconds) if self.started and len(seconds) else seconds

    @property
    def rate(self) -> RateEstimate | None:
        """The true sample rate by this computer's clock; None before about two seconds of data."""
        return self.segments.rate()

    @property
    def lost(self) -> int:
        """Samples known to be lost so far.

        A sensor with neither clock nor counter has lost what fits into its pauses; less, once what seemed lost turns
        out to have been late.
        """
        return self._lost

    @property
    def gap_count(self) -> int:
        """How many gaps there were so far."""
        return self._gap_count

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """The last thousand gaps, in order."""
        return tuple(sorted(self._gaps))

    @property
    def unsettled(self) -> bool:
        """Whether what seems lost in a pause may still turn out to be late, which would change refined seconds."""
        return False

    def _lose(self, samples: int, period_s: float, *, after_s: float) -> None:
        self._lost += samples
        length_s = samples * period_s
        if self._gaps and self._gaps[-1].seconds == after_s:
            length_s += self._gaps.pop().length_s
        else:
            self._gap_count += 1
        self._gaps.append(Gap(after_s, length_s))

    def _restart(self, pause_s: float, samples: int, period_s: float) -> float:
        """Begin a segment after a restart, whose first samples have just arrived, and return its first second."""
        step_s = max(pause_s - (samples - 1) * period_s, 2 * period_s)  # something was lost for certain
        self._lose(max(round(step_s / period_s) - 1, 1), period_s, after_s=self._seconds)
        start = self._seconds + step_s
        self.segments.begin(start)
        return start

    def _jump(self, sequence: int | None) -> int | None:
        """Return how far the counter has advanced, across its wrap if that is nearer; None without a counter."""
        if sequence is None or self._sequence is None:
            return None
        return int(signed(sequence - self._sequence, self._sequence_wrap))

    def _is_repeat(self, behind_s: float, jump: int | None, pause_s: float) -> bool:
        """Say whether samples that lie so far behind the last are a repetition, not a restart."""
        if jump is not None and jump > 0:
            return False
        # A link repeats what is under way; after a stall only the very last can come again.
        return 0 <= behind_s <= REPEAT_S and (pause_s <= self._stall_s or behind_s == 0)


class CounterTimeBase(TimeBase):
    """Lines with a counter and no time."""

    def place(self, event: Columns | Damage, arrival: float) -> FloatArray:
        """Return when the samples of an event were taken; see `TimeBase.place`."""
        if not isinstance(event, Lines) or event.sequence is None:
            return NOTHING  # the counter will tell what damage cost
        if self._all_follow(event.sequence, arrival - self._arrival):
            self._sequence, self._arrival = event.sequence[-1], arrival
            seconds = self.segments.place(len(event.sequence), arrival)
            self._seconds = float(seconds[-1])
            return seconds
        return np.array([self._place_line(sequence, arrival) for sequence in event.sequence])

    def _all_follow(self, numbers: list[int], pause_s: float) -> bool:
        if self._sequence is None or pause_s > min(self._stall_s, self._sequence_wrap / 2 * self._nominal_s):
            return False
        first = self._sequence + 1
        return numbers == list(range(first, first + len(numbers)))

    def _place_line(self, sequence: int, arrival: float) -> float:
        jump = self._jump(sequence)
        pause_s = arrival - self._arrival
        if jump is None:
            self.segments.begin(0.0)
        elif self._is_repeat(-jump * self._nominal_s, jump, pause_s):
            self.duplicates += 1
            return math.nan
        elif (
            jump <= 0 or pause_s > self._sequence_wrap / 2 * self._nominal_s or too_far(jump * self._nominal_s, pause_s)
        ):
            self._restart(pause_s, 1, self._nominal_s)
        else:
            self._go_on(jump, pause_s)
        self._sequence = sequence
        self._arrival = arrival
        self.segments.advance(1, arrival)
        self._seconds = self.segments.end_s
        return self._seconds

    def _go_on(self, jump: int, pause_s: float) -> None:
        if jump > 1:
            self._lose(jump - 1, self._nominal_s, after_s=self._seconds)
        if pause_s > self._stall_s:
            # Nothing more is lost than the counter says, but the sensor may have rested.
            at_s = self.segments.end_s + jump * self._nominal_s
            self.segments.begin(at_s, pause_s=pause_s, skipped=jump - 1)
        else:
            self.segments.skip(jump - 1)


class IndexTimeBase(TimeBase):
    """Lines with neither."""

    def __init__(self, *, rate_hz: float, sequence_wrap: int) -> None:
        super().__init__(rate_hz=rate_hz, sequence_wrap=sequence_wrap)
        self._paused = False  # the length of the last pause may still prove shorter

    def place(self, event: Columns | Damage, arrival: float) -> FloatArray:
        """Return when the samples of an event were taken; see `TimeBase.place`."""
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
        """Whether what seems to be missing may only be late; only later arrivals can tell."""
        return self._paused

    @property
    def lost(self) -> int:
        """Samples known to be lost so far, those in a pause that is not settled yet among them."""
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

    def _missing_at_pause(self) -> tuple[int, float]:
        """Return how many samples a pause cost that is not counted yet, and the seconds it came after."""
        # If it is only late it comes in a burst, and the arrivals are back on the line that they had.
        return self.segments.missing_before_last() if self._paused else (0, self._seconds)

    def _count(self, samples: int, arrival: float) -> FloatArray:
        pause_s = arrival - self._arrival
        if not self.started:
            self.segments.begin(0.0)
        elif pause_s > self._stall_s:
            self._settle()
            self.segments.begin(self.segments.end_s + pause_s, pause_s=pause_s)
            self._paused = True
        self._arrival = arrival
        seconds = self.segments.place(samples, arrival)
        if self._paused:
            if self.segments.join_if_late():
                self._paused = False
            elif self.segments.duration_s > ENOUGH_S:
                self._settle()
        return seconds

    def _settle(self) -> None:
        missing, after_s = self._missing_at_pause()
        if missing:
            self._lose(missing, self._nominal_s, after_s=after_s)
        self._paused = False


def too_far(ahead_s: float, pause_s: float) -> bool:
    """Say whether a clock or counter advanced by more than time has passed, even on a link that held data back.

    So it looks when a sensor restarts while its counter is past half of its wrap.

    Parameters
    ----------
    ahead_s : float
        How far the clock or the counter went on, s.
    pause_s : float
        Seconds between the arrivals.

    Examples
    --------
    >>> too_far(9.0, 0.1), too_far(400.0, 0.1)
    (False, True)
    """
    return ahead_s > FAST * pause_s + HELD_BACK_S
