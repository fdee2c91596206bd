"""The trial detector: finds each effort in a stream of force, hands-free.

The stream is looked at in blocks of 50 ms, so that the result does not depend on how it arrives::

             quiet                   force above threshold
    settling ------> armed ----------------------------------> effort
                       ^                                          |
                       |      force near zero, or quiet           | below the release level for 1.5 s,
                     rest <---------------------------------------+ or longer than any effort lasts

A stream settles within its first half second, when that is quiet or near the sensor's own zero. Where it is neither (a
sensor far off its zero that is handled while it is opened), it settles at its first quiet second: with a zero too low,
the load that is always there would be an effort without end.

The zero is taken from quiet seconds, from their first half: a weak effort may begin so slowly that its first half
second still looks quiet. The zero follows a slow drift at once, and a move down too: nobody pulls on a pad. It follows
a larger move up only after four quiet seconds, since no limb is that still. An effort is recorded from 2 s before the
force left the zero. It ends when the force has been below the threshold, or below 15 % of its own peak, for 1.5 s:
after a strong effort the zero may have moved by more than the threshold. A zero that has moved further still is
recognised by its quiet: less than half of the peak, and still for a second. No hold is that quiet.

Where the next effort comes sooner, the two are separated in the middle of the rest between them, once the force was
low for a third of a second. After a strong effort a weak one is recognised by its rise from the lowest force since. A
limb laid on the pad looks like an effort until the person pushes: a level that was quiet for four seconds, from which
the force then rises to more than twice itself, was rest, and is the zero of that push. What rests there is said with
each effort until the force is back at the level of before.
"""

from __future__ import annotations

import enum
import math
from collections import deque
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from acquire.values.arrays import FloatArray

DETECTOR_BLOCK_S = 0.05
HAIR = 1e-9
"""A block begins this part of itself early, so that rounding does not move a sample that lies at its beginning."""

QUIET_BLOCKS = 20
"""A second in which the force does not move is quiet."""

ZERO_BLOCKS = 10
"""The zero is the mean of so many blocks."""

QUIET_N = 1.5
"""Quiet blocks differ by no more than this, or by what the noise alone does to their means."""

DRIFT_N = 2.0
"""A zero that has risen no further than this is followed at once."""

PATIENCE_BLOCKS = 80
"""A zero that has risen further is followed after this many quiet blocks."""

SETTLE_S = 30.0
"""A stream that has not been quiet for so long takes what there is for its zero; one too high is followed down."""

RELEASE_SHARE = 0.15
"""An effort is over below this share of its peak."""

STILL_SHARE = 0.5
"""A force that is quiet below this share of the peak is no hold, but a zero that has moved."""


SPLIT_S = 0.3
"""Two efforts are separated where the force was low for so long between them."""

RISE_SHARE = 0.03
"""After an effort, a rise of more than the threshold and this share of its peak is the next effort."""

REST_FACTOR = 2.0
"""A push rises to more than so many times the quiet level of a limb that rests on the pad."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DetectionRule:
    """When an effort begins and ends."""

    noise_sds: float = 5.0
    force_n: float = 10.0
    """An effort is above the larger of these: standard deviations of the noise, newtons."""
    before_s: float = 2.0
    after_s: float = 1.5
    longest_s: float = 120.0
    """An effort ends here when the force never comes down: something leans on the sensor."""


class EffortSpan(NamedTuple):
    """One effort, as a stretch of the stream."""

    start: float
    stop: float
    """Seconds of the stream, both ends included."""
    zero: float
    """The zero before the effort, N as streamed."""
    resting: float = 0.0
    """The part of the zero that is a limb resting on the pad, N; 0 where the force came from an unloaded pad."""
    broken_off: bool = False
    """Whether the stream ended before the force was released."""


class Phase(enum.Enum):
    """What the detector is waiting for."""

    SETTLING = "settling"
    ARMED = "armed"
    EFFORT = "effort"
    REST = "rest"


class _Block(NamedTuple):
    start: float
    stop: float
    mean: float
    noise: float


def _noise(blocks: list[_Block]) -> float:
    # of the squares: at 80 Hz a block has four samples, and the median of its noise would be 30 % too low
    return math.sqrt(sum([block.noise**2 for block in blocks]) / len(blocks))


def _block_end(second: float) -> float:
    """Return where the block that a second lies in ends."""
    end = (math.floor(second / DETECTOR_BLOCK_S + HAIR) + 1 - HAIR) * DETECTOR_BLOCK_S
    return end if end > second else end + DETECTOR_BLOCK_S  # after months a hair is less than what time is rounded to


class TrialDetector:
    """Finds efforts in a stream; opens nothing and knows no clock.

    Examples
    --------
    >>> time = np.arange(0.0, 12.0, 0.01)
    >>> force = np.interp(time, [0.0, 3.0, 4.5, 8.0, 8.2], [0.0, 0.0, 100.0, 100.0, 0.0])
    >>> [(round(span.start, 2), round(span.stop, 2)) for span in TrialDetector().feed(time, force)]
    [(0.99, 9.64)]
    """

    def __init__(self, rule: DetectionRule | None = None) -> None:
        self._rule = rule or DetectionRule()
        self._pending: list[FloatArray] = []  # of the force in the block that is not complete
        self._pending_from = self._pending_to = self._pending_until = -math.inf
        self._recent: deque[_Block] = deque(maxlen=PATIENCE_BLOCKS)
        self._means: deque[float] = deque(maxlen=PATIENCE_BLOCKS)  # of the same
        self._phase = Phase.SETTLING
        self._opened = np.inf
        self._zero = 0.0
        self._noise = 0.0
        self._begin = self._peak = 0.0
        self._left_zero = -np.inf
        self._low_since: float | None = None
        self._lowest = 0.0
        self._rest: tuple[float, float, float] | None = None  # of a quiet level in the effort: begin, end, mean
        self._resting = 0.0
        self._last_stop = -np.inf

    @property
    def phase(self) -> Phase:
        """What the detector is waiting for."""
        return self._phase

    @property
    def zero(self) -> float:
        """The zero now, N as streamed."""
        return self._zero

    @property
    def decides_at(self) -> float:
        """Second of the stream until which nothing is decided: what lies before it may be fed later, all at once."""
        return self._pending_until

    @property
    def began(self) -> float | None:
        """When the effort under way began to be kept, s of the stream; None when none is under way."""
        return self._begin if self._phase is Phase.EFFORT else None

    def feed(self, time: FloatArray, force: FloatArray) -> list[EffortSpan]:
        """Take more of the stream and return the efforts that have ended.

        Parameters
        ----------
        time, force : ndarray, shape (n,)
            Seconds, increasing, and newtons; NaN force is a lost sample.
        """
        found: list[EffortSpan] = []
        at, samples = 0, len(time)
        last = float(time[-1]) if samples else 0.0
        while at < samples:
            first = float(time[at])
            if first >= self._pending_until:
                found += self._close_block()
                self._pending_from = first
                self._pending_until = _block_end(first)
            end = samples if last < self._pending_until else int(time.searchsorted(self._pending_until))
            self._pending.append(force[at:end])
            self._pending_to = float(time[end - 1])
            at = end
        return found

    def finish(self) -> list[EffortSpan]:
        """Return the effort that was under way when the stream ended, if any."""
        found = self._close_block()
        if self._phase is Phase.EFFORT:
            (last,) = self._end_effort(self._recent[-1].stop)
            found.append(last._replace(broken_off=self._low_since is None))
        return found

    def _close_block(self) -> list[EffortSpan]:
        if not self._pending:
            return []
        real = self._pending[0] if len(self._pending) == 1 else np.concatenate(self._pending)
        self._pending = []
        total = float(np.add.reduce(real))
        if math.isnan(total):
            real = real[~np.isnan(real)]
            total = float(np.add.reduce(real))
        if not len(real):
            return []
        noise = self._noise
        if len(real) > 2:  # noise from the steps between samples: a ramp adds little to it
            steps = real[1:] - real[:-1]
            noise = math.sqrt(float(np.dot(steps, steps)) / len(steps) / 2.0)
        block = _Block(self._pending_from, self._pending_to, total / len(real), noise)
        self._recent.append(block)
        self._means.append(block.mean)
        self._opened = min(self._opened, block.start)
        return self._step(block)

    def _step(self, block: _Block) -> list[EffortSpan]:
        if self._phase is Phase.EFFORT:
            return self._in_effort(block)
        if self._phase is Phase.SETTLING:
            self._settle()
        else:
            self._follow_zero()
        low = block.mean - self._zero <= self.threshold
        if low:
            self._note_low(block)
        if self._phase is Phase.REST and low:
            self._phase = Phase.ARMED
        elif self._phase is Phase.ARMED and not low:
            self._start(block)
        return []

    @property
    def threshold(self) -> float:
        """The force above the zero that begins an effort, N."""
        return max(self._rule.force_n, self._rule.noise_sds * self._noise)

    def _settle(self) -> None:
        """Take the first zero when it is quiet, or trust the sensor's own when the force comes near it."""
        if len(self._recent) < ZERO_BLOCKS:
            return
        waited = self._recent[-1].stop - self._opened
        if self._quiet(min(len(self._recent), QUIET_BLOCKS)) or waited > SETTLE_S:
            self._take_zero()
            self._phase = Phase.ARMED
        elif min(abs(block.mean) for block in self._recent) <= 0.5 * self.threshold:  # nearer to it than to an effort
            self._phase = Phase.ARMED

    def _follow_zero(self) -> None:
        if not self._quiet(QUIET_BLOCKS):
            return
        risen = self._recent[-1].mean - self._zero
        laid = risen > DRIFT_N and self._phase is not Phase.REST
        if not laid or self._quiet(PATIENCE_BLOCKS):
            unloaded = self._zero - self._resting
            rested = laid or self._resting > 0.0
            self._take_zero()
            rests = self._zero - unloaded
            self._resting = rests if rested and rests > DRIFT_N else 0.0

    def _quiet(self, count: int) -> bool:
        if len(self._recent) < count:
            return False
        means = list(self._means)[-count:]
        spread = max(means) - min(means)
        return spread <= QUIET_N or spread <= 3.0 * _noise(list(self._recent)[-count:])

    def _take_zero(self) -> None:
        recent = list(self._recent)[-QUIET_BLOCKS:][:ZERO_BLOCKS]
        self._zero = sum([block.mean for block in recent]) / len(recent)
        self._noise = _noise(recent)

    def _note_low(self, block: _Block) -> None:
        """Remember when the force last was as good as at the zero."""
        if block.mean - self._zero <= max(0.1 * self.threshold, 2.0 * self._noise):
            self._left_zero = block.stop

    def _start(self, block: _Block) -> None:
        left = max(self._left_zero, block.start - self._rule.before_s)
        self._begin = max(min(left, block.start) - self._rule.before_s, self._last_stop)
        self._peak = block.mean - self._zero
        self._low_since = None
        self._rest = None
        self._phase = Phase.EFFORT

    def _in_effort(self, block: _Block) -> list[EffortSpan]:
        level = block.mean - self._zero
        apart = self._apart(block, level)
        if apart:
            return apart
        self._note_rest(block)
        self._peak = max(self._peak, level)
        if self._low_since is not None:
            self._lowest = min(self._lowest, level)
        if self._is_low(level) or self._still(level):
            if self._low_since is None:
                self._low_since, self._lowest = block.start, level
        else:
            self._low_since = None
        if block.stop - self._begin > self._rule.longest_s:
            return self._end_effort(self._recent[-2].stop)  # a block that comes hours later is not part of it
        over = (
            self._low_since is not None and block.stop - self._low_since >= self._rule.after_s - DETECTOR_BLOCK_S / 2.0
        )
        if not over:
            return []
        back = self._lowest <= 0.5 * self.threshold
        found = self._end_effort(block.stop)
        if back:  # the next push may have begun already
            self._phase = Phase.ARMED
        return found

    def _is_low(self, level: float) -> bool:
        return level <= max(self.threshold, RELEASE_SHARE * self._peak)

    def _apart(self, block: _Block, level: float) -> list[EffortSpan]:
        """Begin the next effort where the force rises again after a rest, or from a limb that rested on the pad."""
        if self._low_since is not None:
            rises = level - self._lowest > max(self.threshold, RISE_SHARE * self._peak)
            if not (rises or not (self._is_low(level) or self._still(level))):
                return []
            if block.start - self._low_since < SPLIT_S - DETECTOR_BLOCK_S / 2.0:
                return []
            middle = 0.5 * (self._low_since + block.start)
            done = [EffortSpan(self._begin, middle, self._zero, self._resting)]
            self._begin_again(middle, level)
            return done
        if self._rest is not None and level > REST_FACTOR * (self._rest[2] - self._zero) + self.threshold:
            begin, end, mean = self._rest
            self._resting += mean - self._zero
            self._zero = mean
            self._begin_again(max(begin, end - self._rule.before_s), block.mean - mean)
        return []

    def _begin_again(self, begin: float, level: float) -> None:
        self._last_stop = self._begin = begin
        self._peak, self._low_since, self._rest = level, None, None

    def _note_rest(self, block: _Block) -> None:
        """Remember the last quiet level of four seconds within the effort."""
        moved = abs(block.mean - self._recent[0].mean)
        if moved > max(QUIET_N, 3.0 * block.noise) or block.mean - self._zero < STILL_SHARE * self._peak:
            return
        if not self._quiet(PATIENCE_BLOCKS):
            return
        recent = [each for each in self._recent if each.start >= self._begin]
        if len(recent) == PATIENCE_BLOCKS:
            self._rest = (recent[0].start, recent[-1].stop, float(np.mean([each.mean for each in recent])))

    def _still(self, level: float) -> bool:
        return level < STILL_SHARE * self._peak and self._quiet(QUIET_BLOCKS)

    def _end_effort(self, stop: float) -> list[EffortSpan]:
        self._phase = Phase.REST
        self._last_stop = stop
        return [EffortSpan(self._begin, stop, self._zero, self._resting)]


def detect_efforts(time: FloatArray, force: FloatArray, rule: DetectionRule | None = None) -> list[EffortSpan]:
    """Return every effort of a whole trace, as a stream of it would give them.

    Parameters
    ----------
    time, force : ndarray, shape (n,)
        Seconds, increasing, and newtons; NaN force is a lost sample.
    """
    detector = TrialDetector(rule)
    return detector.feed(time, force) + detector.finish()
