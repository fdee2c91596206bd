"""Packets: several samples with a sequence number, a device clock and a checksum.

The format is specified in hardware_notes/wire_formats.md::

    COBS( version u8 = 1 | bytes a count u8 | sequence u16 | tick u32 | counts ... | CRC u16 ) 00

All numbers are little-endian. The checksum is CRC-16/IBM-3740 over all bytes before it. A body that is a line of
text after a number sign is a remark, and skipped.

References
----------
Cheshire S, Baker M (1999), Consistent overhead byte stuffing, IEEE/ACM Transactions on Networking
7(2):159-172: the byte stuffing, done by the `cobs` package.
"""

from __future__ import annotations

import re
import struct
from binascii import crc_hqx
from collections.abc import Callable, Sequence
from typing import Literal

from cobs import cobs  # type: ignore[import-untyped] # ships no type information

from acquire.decoders.delimited import DelimitedDecoder
from acquire.decoders.events import Event, Packet, Reason

VERSION = 1
MAX_PACKET = 1100
"""Bytes a packet may have on the wire, without its delimiter."""
MAX_BODY = MAX_PACKET - 5
"""Bytes it may have before stuffing, which adds at most one byte in 254, and one."""

CRC_START = 0xFFFF
CountBits = Literal[16, 24, 32]

_DELIMITER = b"\0"
_HEADER = struct.Struct("<BBHI")
_HEADER_BYTES = _HEADER.size
_SHORTEST = _HEADER_BYTES + 2 + 2
_REMARK = re.compile(rb"#[\x20-\x7e]*\n")
_WORD_AND_TOP = struct.Struct("<Hb")


def checksum(data: bytes) -> int:
    """Return the CRC-16/IBM-3740 of some bytes (polynomial 0x1021, from 0xFFFF).

    Parameters
    ----------
    data : bytes
        The bytes to protect.

    Returns
    -------
    int
        0 to 65,535.

    References
    ----------
    Catalogue of parametrised CRC algorithms, entry CRC-16/IBM-3740 (also CCITT-FALSE): check 0x29B1.

    Examples
    --------
    >>> hex(checksum(b"123456789"))
    '0x29b1'
    """
    return crc_hqx(data, CRC_START)


class PacketDecoder(DelimitedDecoder):
    """Decoder of packets. It needs no settings: a packet says how wide its counts are.

    Examples
    --------
    >>> decoder = PacketDecoder()
    >>> decoder.feed(encode_packet(7, 1000, [1, -1], count_bits=24))
    [Packet(sequence=7, tick=1000, counts=(1, -1))]
    """

    def __init__(self) -> None:
        super().__init__(
            delimiter=_DELIMITER,
            limit=MAX_PACKET,
            partial=Reason.PARTIAL_FIRST_PACKET,
            samples_per_frame=0,  # the next sequence number tells
        )

    def _decode(self, frames: list[bytes], events: list[Event]) -> None:
        for frame in frames:
            packet = _read(frame)
            if type(packet) is Packet:
                events.append(packet)
            else:
                self._refuse(frame, events)

    def _fault(self, frame: bytes) -> Reason | None:
        if not frame:  # two delimiters in a row: a sensor may begin with one
            return None
        packet = _read(frame)
        return None if isinstance(packet, Packet) or _is_remark(frame) else packet


def _read(frame: bytes) -> Packet | Reason:  # noqa: PLR0911 # one return for each thing that can be wrong
    """Read what stood between two delimiters."""
    if len(frame) > MAX_PACKET:
        return Reason.TOO_LONG
    try:
        body = cobs.decode(frame)
    except cobs.DecodeError:
        return Reason.BAD_COBS
    if len(body) < _SHORTEST:
        return Reason.TOO_SHORT
    if crc_hqx(body[:-2], CRC_START) != body[-2] | body[-1] << 8:
        return Reason.BAD_CHECKSUM
    version, width, sequence, tick = _HEADER.unpack_from(body)
    if version != VERSION:
        return Reason.WRONG_VERSION
    read_counts = _READERS.get(width)
    if read_counts is None:
        return Reason.UNKNOWN_WIDTH
    counts = body[_HEADER_BYTES:-2]
    if len(counts) % width:
        return Reason.BROKEN_COUNT
    return Packet(sequence, tick, read_counts(counts))


def _is_remark(frame: bytes) -> bool:
    """Whether a frame holds a line of text for people: its first byte is no version that there will ever be."""
    try:
        body = cobs.decode(frame)
    except cobs.DecodeError:
        return False
    return len(frame) <= MAX_PACKET and bool(_REMARK.fullmatch(body))


def _read_16(data: bytes) -> tuple[int, ...]:
    return struct.unpack(f"<{len(data) // 2}h", data)


def _read_24(data: bytes) -> tuple[int, ...]:
    # No struct code is 3 bytes wide: an unsigned low word and a signed top byte are.
    return tuple([low | top << 16 for low, top in _WORD_AND_TOP.iter_unpack(data)])


def _read_32(data: bytes) -> tuple[int, ...]:
    return struct.unpack(f"<{len(data) // 4}i", data)


_READERS: dict[int, Callable[[bytes], tuple[int, ...]]] = {2: _read_16, 3: _read_24, 4: _read_32}


def packet_body(sequence: int, tick: int, counts: Sequence[int], *, count_bits: CountBits) -> bytes:
    """Return a packet as it is before byte stuffing: header, counts, checksum.

    Parameters
    ----------
    sequence : int
        Packet counter, 0 to 65,535.
    tick : int
        Device clock at the first sample, 0 to 2**32 - 1.
    counts : sequence of int
        One count a sample, at least one.
    count_bits : {16, 24, 32}
        Width of a count.

    Returns
    -------
    bytes
        The body; over a Bluetooth link a notification holds one, bare.

    Raises
    ------
    ValueError
        If a number does not fit its field, there are no counts, or there are more than a packet holds.

    Examples
    --------
    >>> packet_body(1, 258, [-2], count_bits=24).hex(" ")
    '01 03 01 00 02 01 00 00 fe ff ff b5 96'
    """
    if count_bits not in (16, 24, 32):
        raise ValueError(f"count_bits must be 16, 24 or 32, got {count_bits}")
    width = count_bits // 8
    most = (MAX_BODY - _HEADER_BYTES - 2) // width
    if not 1 <= len(counts) <= most:
        raise ValueError(f"counts must be 1 to {most} of {count_bits} bits a packet, got {len(counts)}")
    _check_range("sequence", sequence, 0, 0xFFFF)
    _check_range("tick", tick, 0, 0xFFFFFFFF)
    half = 1 << (count_bits - 1)
    for count in counts:
        _check_range("counts", count, -half, half - 1)
    payload = b"".join([int(count).to_bytes(width, "little", signed=True) for count in counts])
    body = _HEADER.pack(VERSION, width, sequence, tick) + payload
    return body + checksum(body).to_bytes(2, "little")


def _check_range(name: str, value: int, low: int, high: int) -> None:
    if not low <= value <= high:
        raise ValueError(f"{name} must be {low} to {high}, got {value}")


def frame_body(body: bytes) -> bytes:
    """Return a body as it goes through a serial line: stuffed, and ended by the delimiter.

    Parameters
    ----------
    body : bytes
        As `packet_body` makes it, or as a Bluetooth notification brings it.

    Examples
    --------
    >>> frame_body(bytes([0x11, 0x00, 0x22])).hex(" ")
    '02 11 02 22 00'
    """
    stuffed: bytes = cobs.encode(body)
    return stuffed + _DELIMITER


def encode_packet(sequence: int, tick: int, counts: Sequence[int], *, count_bits: CountBits) -> bytes:
    """Return one packet as it goes through a serial line, delimiter included.

    Parameters, errors: see `packet_body`.

    Examples
    --------
    >>> encode_packet(1, 258, [-2], count_bits=24).hex(" ")
    '04 01 03 01 03 02 01 01 06 fe ff ff b5 96 00'
    """
    return frame_body(packet_body(sequence, tick, counts, count_bits=count_bits))
