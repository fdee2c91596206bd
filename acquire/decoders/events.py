"""What a decoder makes of bytes: samples, and damage that says why."""

from __future__ import annotations

import enum
from itertools import groupby
from typing import NamedTuple, Protocol


class Reason(enum.StrEnum):
    """Why bytes were thrown away; a session file holds the values, which never change."""

    PARTIAL_FIRST_LINE = "partial first line"
    """The line that was on its way when the link was opened: expected, and no sample lost."""
    PARTIAL_FIRST_PACKET = "partial first packet"
    TOO_LONG = "too long"
    """No delimiter came in time. A wrong baud rate looks like this."""
    WRONG_COLUMNS = "wrong number of columns"
    NOT_A_NUMBER = "not a number"
    OUT_OF_RANGE = "number out of range"
    BAD_COBS = "bad COBS"
    TOO_SHORT = "too short"
    BAD_CHECKSUM = "bad checksum"
    WRONG_VERSION = "wrong version"
    UNKNOWN_WIDTH = "unknown width"
    BROKEN_COUNT = "not a whole number of counts"
    OUT_OF_STEP = "out of step"
    """Its number or clock does not fit what came before and after: see `acquire.timing.sequence_gaps`."""


PARTIAL_FIRST = frozenset({Reason.PARTIAL_FIRST_LINE, Reason.PARTIAL_FIRST_PACKET})
"""What every stream begins with that is opened in the middle: nothing is damaged."""


class Packet(NamedTuple):
    """One good packet."""

    sequence: int
    """Packet counter, 0 to 65,535, then 0 again."""
    tick: int
    """Device clock at the first sample, in steps of 1/`tick_hz`, unsigned 32 bit."""
    counts: tuple[int, ...]
    """One count a sample, at least one."""


class Packets(NamedTuple):
    """Good packets that came one after the other, as columns of equal length: see `packets_together`."""

    sequence: tuple[int, ...]
    tick: tuple[int, ...]
    counts: tuple[tuple[int, ...], ...]
    sizes: tuple[int, ...]
    """How many counts each has."""


class Lines(NamedTuple):
    """A run of good text lines, as columns of equal length."""

    counts: list[float]
    """One number a sample: whole counts, or newtons from a sensor that sends newtons."""
    sequence: list[int] | None
    """Line counter; None when the sensor sends none."""
    tick_s: list[float] | None
    """Device clock in seconds, as sent: a `ms` or `us` counter still wraps at 2**32 of its own
    steps. None when the sensor sends no time."""


class Damage(NamedTuple):
    """Bytes thrown away."""

    reason: Reason
    """One of `Reason`."""
    length: int
    """Bytes thrown away, delimiter included."""
    samples: int
    """Samples lost for certain: 1 for a bad line, 0 where a sequence number has to tell."""


Event = Packet | Lines | Damage
"""What a decoder returns."""
Columns = Packets | Lines
"""What is done with in one step: frames of one chunk that follow one another."""


def packets_together(events: list[Event]) -> list[Columns | Damage]:
    """Return events with the packets that stand side by side as one, so that what follows is done once for them all.

    Examples
    --------
    >>> packets_together([Packet(1, 100, (7,)), Damage("too short", 9, 0)])
    [Packets(sequence=(1,), tick=(100,), counts=((7,),), sizes=(1,)), Damage(reason='too short', length=9, samples=0)]
    >>> packets_together([Packet(1, 100, (7,)), Packet(2, 200, (8, 9))])
    [Packets(sequence=(1, 2), tick=(100, 200), counts=((7,), (8, 9)), sizes=(1, 2))]
    """
    if len(events) == 1:  # of a sensor at work nearly always: one chunk, one packet or one run of lines
        (event,) = events
        if not isinstance(event, Packet):
            return [event]
        sequence, tick, counts = event
        return [Packets((sequence,), (tick,), (counts,), (len(counts),))]
    together: list[Columns | Damage] = []
    for kind, some in groupby(events, type):
        if kind is Packet:
            numbers, ticks, counts_of = zip(*some, strict=True)
            together.append(Packets(numbers, ticks, counts_of, tuple(map(len, counts_of))))
        else:
            together += some  # type: ignore[arg-type] # no packets
    return together


class Decoder(Protocol):
    """Bytes in, events out; no I/O, no clock."""

    damaged: int
    """How many damages were reported so far."""

    @property
    def pending(self) -> int:
        """Bytes held back because their line or packet is not complete."""

    def feed(self, data: bytes) -> list[Event]:
        """Return what the bytes complete, in order."""
