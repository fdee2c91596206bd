"""Text or packets: how well a stream reads as either.

A packet carries a checksum of 16 bits, so a few good ones in a row are proof. Text is proved by its lines: bytes
of a wrong baud rate are not printable, or hold no line ends where lines should end.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from acquire.decoders import Damage, Packet, PacketDecoder, Reason, frame_body
from acquire.discovery.capture import Capture
from acquire.discovery.table import Lines, Table, tables, whole_lines
from acquire.values.arrays import FloatArray

LEAST_FRAMES = 3
"""Three packets with good checksums by chance: once in 2**48."""
LEAST_TEXT = 20
"""Bytes of text that chance does not make."""
CLEAR = 0.8
READABLE = 0.3
"""Of the bytes; the rest is damage."""
NUMBERS, PACKETS, TEXT, NOTHING = "lines of numbers", "packets", "lines of text", "lines or packets"
PRINTABLE = frozenset(range(0x20, 0x7F)) | {0x09, 0x0A, 0x0D}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Packets:
    """The good packets of a capture."""

    packets: tuple[Packet, ...]
    arrivals: FloatArray
    """Seconds, shape (n_packets,)."""
    share: float
    """Part of the bytes that good packets hold."""
    damage: Counter[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Legibility:
    """How well a stream reads, for choosing between baud rates or characteristics."""

    share: float
    """Part of the bytes that could be understood, 0 to 1."""
    frames: int
    """Lines or packets that could."""
    what: str
    """What they are, in the plural."""

    @property
    def usable(self) -> bool:
        """Whether a profile can come of it."""
        return self.share >= READABLE and self.what != TEXT

    @property
    def conclusive(self) -> bool:
        """Whether nothing else needs to be tried."""
        return self.usable and self.share >= CLEAR and self.frames >= LEAST_FRAMES


def read_packets(capture: Capture) -> Packets:
    """Return the packets that a capture holds.

    Examples
    --------
    >>> from acquire.decoders import encode_packet
    >>> packet = encode_packet(7, 1000, [1, -1], count_bits=24)
    >>> read_packets(Capture.of([(0.0, packet + packet)])).share
    1.0
    """
    decoder = PacketDecoder()
    chunks = [(arrival, frame_body(data) if capture.datagrams else data) for arrival, data in capture.chunks]
    events = [(arrival, event) for arrival, data in chunks for event in decoder.feed(data)]
    found = [(arrival, event) for arrival, event in events if isinstance(event, Packet)]
    damages = [event for _, event in events if isinstance(event, Damage)]
    partial = sum(damage.length for damage in damages if damage.reason == Reason.PARTIAL_FIRST_PACKET)
    lost = sum(damage.length for damage in damages) - partial
    total = sum(len(data) for _, data in chunks) - partial - decoder.pending
    return Packets(
        packets=tuple(packet for _, packet in found),
        arrivals=np.array([arrival for arrival, _ in found], dtype=np.float64),
        share=(total - lost) / total if found else 0.0,
        damage=Counter(damage.reason for damage in damages),
    )


def printable(data: bytes) -> float:
    r"""Return the part of bytes that text is made of.

    Examples
    --------
    >>> printable(b"12.5\r\n"), printable(b"\x00\xff")
    (1.0, 0.0)
    """
    return sum(count for byte, count in Counter(data).items() if byte in PRINTABLE) / len(data) if data else 0.0


def legibility(capture: Capture) -> Legibility:
    r"""Return how well a capture reads as packets or as lines.

    Examples
    --------
    >>> legibility(Capture.of([(0.0, b"5\n104\n105\n104\n")])).frames
    3
    """
    packets = read_packets(capture)
    if len(packets.packets) >= LEAST_FRAMES and packets.share > 0.0:
        return Legibility(share=packets.share, frames=len(packets.packets), what=PACKETS)
    lines = whole_lines(capture)
    if not lines.texts:
        return Legibility(share=0.0, frames=0, what=NOTHING)
    return _of_lines(lines, printable(b"".join(lines.texts)))


def _of_lines(lines: Lines, plain: float) -> Legibility:
    """Judge lines: those of numbers first, then such as only look like text."""
    count = len(lines.texts)
    best = max((_readable(table) for table in tables(lines)), default=0.0)
    if best * count >= LEAST_FRAMES and sum(map(len, lines.texts)) >= LEAST_FRAMES:
        return Legibility(share=best * plain, frames=round(best * count), what=NUMBERS)
    if plain < 1.0 or sum(map(len, lines.texts)) < LEAST_TEXT:
        return Legibility(share=0.0, frames=0, what=NOTHING)
    return Legibility(share=0.5, frames=count, what=TEXT)


def _readable(table: Table) -> float:
    """Return the part of all lines in which every column of numbers is one."""
    good = np.all([np.isfinite(column.values) for column in table.columns if column.is_number], axis=0)
    return float(np.mean(good)) * table.share
