"""Sequence gaps: keeps damaged, doubled and late frames from the time base.

A frame (a packet, or a text line with a number or a clock) says where it belongs. Nearly always it follows the one
before and goes on at once. One that does not is *odd*. Perhaps something was lost before it, or the sensor was
restarted; perhaps it comes late, or twice, or its number is damaged. Only the next frame can tell, so an odd frame
waits for it::

    came      next                          what becomes of the odd frame x
    n  x      x+1, with x ahead of n        goes on: something was lost before it
    n  x      y, with n < x < y             goes on: something was lost before and after it
    n  x      n+1, or n+2 for a damaged x   out of step: late if it is behind n, damaged if it is ahead
    n  x      x+1 ... x+99, all behind n    go on: the sensor was restarted

No link repeats a second of a stream, or a hundred frames. So a damaged number costs one sample, not all samples until
the numbers fit again, and what comes twice after a stall is not mistaken for a restart.

A text line has no checksum, and a line glued from the head of one and the tail of a later one can look good: of
``12,8400`` and ``19,9731`` may remain ``12,9731``. Such a line has a *seam*: its bytes came in more than one chunk. It
waits for the next line, and counts as damaged if that does not follow it. So does the first line of a link, which may
be the end of one: of ``112,8400`` may remain ``2,8400``.

Frames that follow one another go through unchanged and at once, all of a chunk in one step.
"""

from __future__ import annotations

from itertools import groupby, repeat
from typing import TYPE_CHECKING, NamedTuple

from acquire.decoders import Columns, Damage, Lines, Packets, Reason
from acquire.sensor.clock_columns import CLOCK_COLUMNS, COUNTER_WRAP, signed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from acquire.sensor.profile import Profile

FOLLOWS = 0.5
"""How much further than due a clock may advance from one frame to the next, as a part of a sample period, beside its
own step. A line with a seam must not be followed sooner than due by more than this."""
LEARN = 0.05
"""Weight of each step in the period that is learnt, for a sensor whose rate is not that of its profile ..."""
FAR_OFF = 8.0
"""... but within this factor of it."""
BEHIND_S = 1.0
BEHIND_FRAMES = 100
"""The sensor was restarted once frames in order, but behind the last one, span this long or are this many."""


class Late(NamedTuple):
    """Frames that came before, or too late."""

    frames: int


class Arrived(NamedTuple):
    """An event, and when the chunk came that completed it, s."""

    event: Columns | Damage | Late
    arrival: float


class _Frame(NamedTuple):
    sequence: int | None
    tick: float | None
    size: int
    """Samples in it."""
    event: Columns
    """The packets or lines of which it is ..."""
    row: int
    """... this one."""
    arrival: float
    seam: bool


class _Scale:
    """How far one frame is from another by number and clock, and how far the next one should be."""

    def __init__(self, profile: Profile) -> None:
        packets = profile.framing == "packets"
        clock = next((CLOCK_COLUMNS[name] for name in profile.columns if name in CLOCK_COLUMNS), None)
        self.lines = not packets
        self.blind = not packets and clock is None and "seq" not in profile.columns
        self._sequence_wrap = 2**profile.sequence_bits
        self._unit_s = 1.0 / profile.tick_hz if packets else 1.0
        self._resolution_s = self._unit_s if packets else clock.resolution_s if clock else 0.0
        self._wrap: float | None = COUNTER_WRAP if packets else clock.wrap_s if clock else None
        self.period_s = 1.0 / profile.rate_hz
        self._least_s, self._most_s = self.period_s / FAR_OFF, self.period_s * FAR_OFF

    def straight(
        self,
        numbers: Sequence[int] | None,
        ticks: Sequence[float] | None,
        sizes: Sequence[int] | None,
        before: _Frame,
    ) -> bool:
        """Say whether frames follow one before and each other with nothing missing, and learn their period if so."""
        if numbers is not None and before.sequence is not None:
            first = before.sequence + 1
            if (*numbers,) != (*range(first, first + len(numbers)),):
                return False
        if ticks is None or before.tick is None:
            return True
        period_s, last, size = self.period_s, before.tick, before.size
        unit_s, resolution_s, least_s, most_s = self._unit_s, self._resolution_s, self._least_s, self._most_s
        for tick, next_size in zip(ticks, sizes or repeat(1)):  # noqa: B905 # endless
            step_s = (tick - last) * unit_s / size
            if not 0.0 < step_s <= (1.0 + FOLLOWS / size) * period_s + resolution_s / size:
                return False
            if step_s < least_s:
                step_s = least_s
            elif step_s > most_s:
                step_s = most_s
            period_s += LEARN * (step_s - period_s)
            last, size = tick, next_size
        self.period_s = period_s
        return True

    def is_borne_out(self, ticks: Sequence[float] | None, lines: int) -> bool:
        """Say whether the second of some lines that follow one another shows that the first is good; it has a seam."""
        if lines < 2:
            return False
        return ticks is None or ticks[1] - ticks[0] >= (1.0 - FOLLOWS) * self.period_s - self._resolution_s

    def steps(self, frame: _Frame, before: _Frame) -> tuple[float | None, float | None]:
        """Return how far a frame's number and clock are ahead of another's."""
        jump = steps = None
        if frame.sequence is not None and before.sequence is not None:
            jump = signed(frame.sequence - before.sequence, self._sequence_wrap)
        if frame.tick is not None and before.tick is not None:
            steps = signed(frame.tick - before.tick, self._wrap)
        return jump, steps

    def is_ahead(self, frame: _Frame, before: _Frame) -> bool:
        """Say whether a frame was taken after another; a coarse clock may stand still where a number tells."""
        jump, steps = self.steps(frame, before)
        return (jump is None or jump > 0) and (steps is None or steps > 0 or (steps == 0 and jump is not None))

    def follows(self, frame: _Frame, before: _Frame, missing: int, *, exactly: bool = False) -> bool:
        """Say whether at most so many frames are missing between two, or exactly so many."""
        jump, steps = self.steps(frame, before)
        if not self.is_ahead(frame, before) or (jump is not None and jump > 1 + missing):
            return False
        if exactly and jump is not None and jump < 1 + missing:
            return False
        if steps is None:
            return True
        span_s, slack_s = steps * self._unit_s, FOLLOWS * self.period_s + self._resolution_s
        due_s = before.size * (1 + missing) * self.period_s
        return span_s <= due_s + slack_s and (not exactly or span_s >= due_s - slack_s)

    def learn(self, frame: _Frame, before: _Frame) -> None:
        """Learn the period from two frames of which one came after the other."""
        _, steps = self.steps(frame, before)
        if steps is not None:
            step_s = steps * self._unit_s / before.size
            self.period_s += LEARN * (min(max(step_s, self._least_s), self._most_s) - self.period_s)


class SequenceGaps:
    """Stands between a decoder and a time base: lets gaps through, keeps late and damaged frames out.

    Parameters
    ----------
    profile : Profile
        Of the sensor; lines without number and clock pass as they are.

    Examples
    --------
    >>> from acquire.sensor.profile import load_profile
    >>> gaps = SequenceGaps(load_profile("ble-lines"))
    >>> def passed(*sequence):
    ...     arrived = gaps.feed(Lines([0] * len(sequence), list(sequence), None), 0.0)
    ...     return [event.sequence if isinstance(event, Lines) else str(event.reason) for event, _ in arrived]
    >>> passed(1, 2, 7003), passed(4), passed(5, 9), passed(10)
    ([[1, 2]], ['out of step', [4]], [[5]], [[9], [10]])
    """

    def __init__(self, profile: Profile) -> None:
        self._scale = _Scale(profile)
        self._last: _Frame | None = None
        self._odd: list[_Frame] = []
        self._missing = 0  # frames known to be damaged since the last that was taken or held

    @property
    def held(self) -> int:
        """Frames that wait for the next one to tell."""
        return len(self._odd)

    def feed(self, event: Columns | Damage, arrival: float, *, seam: bool = False) -> list[Arrived]:
        """Return what is in step, in the order it came, and what turns out to be out of step.

        Parameters
        ----------
        event : Packets, Lines or Damage
            As it came from the decoder, packets together.
        arrival : float
            When the chunk came that completed it, s.
        seam : bool
            Whether its first line began in an earlier chunk, or is the first of the link.

        Returns
        -------
        list of Arrived
            Nothing while a frame waits for the next one; several events where earlier frames waited.
        """
        if isinstance(event, Damage):
            self._missing += event.samples if self._scale.lines else 1
            return [Arrived(event, arrival)]
        if self._scale.blind or self._is_straight(event, arrival, seam=seam):
            return [Arrived(event, arrival)]
        out: list[_Frame | Arrived] = []
        for frame in _frames(event, arrival, seam=seam):
            self._take(frame, out)
            self._missing = 0
        return _together(out)

    def finish(self) -> list[Arrived]:
        """Return what is still held, since nothing will follow; what comes after that begins anew."""
        out: list[_Frame | Arrived] = []
        if self._odd and self._is_behind(self._odd[0]):
            self._refuse(out)
        self._release(out, len(self._odd))
        self._last, self._missing = None, 0
        return _together(out)

    def _is_straight(self, event: Columns, arrival: float, *, seam: bool) -> bool:
        """Take an event whole if all of it follows what came before, as it nearly always does."""
        if self._last is None or self._odd or self._missing:
            return False
        numbers: Sequence[int] | None
        ticks: Sequence[float] | None
        sizes: Sequence[int] | None
        if isinstance(event, Packets):
            numbers, ticks, sizes = event.sequence, event.tick, event.sizes
        else:
            numbers, ticks, sizes = event.sequence, event.tick_s, None
        if seam and not self._scale.is_borne_out(ticks, len(event.counts)):
            return False
        if not self._scale.straight(numbers, ticks, sizes, self._last):
            return False
        number, tick = numbers[-1] if numbers else None, ticks[-1] if ticks else None
        size, row = sizes[-1] if sizes else 1, len(event.counts) - 1
        self._last = _Frame(number, tick, size, event, row, arrival, False)  # by place: twice as fast as by name
        return True

    def _take(self, frame: _Frame, out: list[_Frame | Arrived]) -> None:
        odd = self._odd
        if not odd:
            odd.append(frame)
            if not frame.seam and self._goes_on(frame):
                self._release(out, 1)
        elif self._is_behind(odd[0]):
            self._after_behind(frame, out)
        elif self._scale.follows(frame, odd[-1], self._missing, exactly=odd[-1].seam):
            odd.append(frame)
            self._release(out, len(odd) - frame.seam)
        elif not odd[-1].seam and self._scale.is_ahead(frame, odd[-1]):
            self._release(out, 1)
            odd.append(frame)
        else:
            self._refuse(out)
            self._take(frame, out)

    def _after_behind(self, frame: _Frame, out: list[_Frame | Arrived]) -> None:
        """Take a frame while those held lie behind: late ones, or the first after a restart of the sensor."""
        odd = self._odd
        if self._goes_on(frame) or not (self._is_behind(frame) and self._scale.is_ahead(frame, odd[-1])):
            self._refuse(out)
            self._take(frame, out)
            return
        odd.append(frame)
        if len(odd) >= BEHIND_FRAMES or sum(held.size for held in odd) * self._scale.period_s > BEHIND_S:
            self._release(out, len(odd))

    def _release(self, out: list[_Frame | Arrived], count: int) -> None:
        for frame in self._odd[:count]:
            if self._last is not None:
                self._scale.learn(frame, self._last)
            self._last = frame
        out += self._odd[:count]
        del self._odd[:count]

    def _refuse(self, out: list[_Frame | Arrived]) -> None:
        frames, arrival = len(self._odd), self._odd[0].arrival
        if self._is_behind(self._odd[0]):
            out.append(Arrived(Late(frames), arrival))
        elif self._last is None:
            out.append(Arrived(Damage(Reason.PARTIAL_FIRST_LINE, 0, 0), arrival))
        else:
            out += [Arrived(Damage(Reason.OUT_OF_STEP, 0, frame.size), frame.arrival) for frame in self._odd]
        self._missing += frames
        self._odd.clear()

    def _goes_on(self, frame: _Frame) -> bool:
        """Say whether a frame goes on where the last that was taken ends, in place of those held if need be."""
        held = sum(odd is not frame for odd in self._odd)
        return self._last is None or self._scale.follows(frame, self._last, self._missing + held)

    def _is_behind(self, frame: _Frame) -> bool:
        return self._last is not None and not self._scale.is_ahead(frame, self._last)


def _frames(event: Columns, arrival: float, *, seam: bool) -> list[_Frame]:
    if isinstance(event, Packets):
        return [
            _Frame(number, tick, size, event, row, arrival, seam=False)
            for row, (number, tick, _, size) in enumerate(zip(*event, strict=True))
        ]
    nothing = [None] * len(event.counts)
    columns = zip(event.sequence or nothing, event.tick_s or nothing, strict=True)
    return [
        _Frame(number, tick, 1, event, row, arrival, seam and row == 0) for row, (number, tick) in enumerate(columns)
    ]


def _together(out: list[_Frame | Arrived]) -> list[Arrived]:
    """Return the frames as the events they came in, or the part of them that passed."""
    arrived: list[Arrived] = []
    for _, run in groupby(out, lambda item: id(item.event)):
        first, *_, last = [*run] * 2
        if isinstance(first, _Frame) and isinstance(last, _Frame):
            arrived.append(Arrived(_rows(first.event, first.row, last.row + 1), first.arrival))
        elif isinstance(first, Arrived):
            arrived.append(first)
    return arrived


def _rows(event: Columns, start: int, stop: int) -> Columns:
    if stop - start == len(event.counts):
        return event
    if isinstance(event, Packets):
        numbers, ticks = event.sequence[start:stop], event.tick[start:stop]
        return Packets(numbers, ticks, event.counts[start:stop], event.sizes[start:stop])
    counts, sequence, tick_s = event
    return Lines(counts[start:stop], sequence and sequence[start:stop], tick_s and tick_s[start:stop])
