"""Frames as hardware_notes/wire_formats.md specifies them, as a notification holds them. No hardware here."""

import struct

VERSION = 1
COUNT_BYTES = 3
REMARK_MAX = 20
"""Bytes: a remark fits the smallest notification."""


def checksum(data: bytes) -> int:
    """CRC-16/IBM-3740: polynomial 1021, from ffff, highest bit first."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = (crc << 1 ^ 0x1021 if crc & 0x8000 else crc << 1) & 0xFFFF
    return crc


def packet(sequence: int, tick_us: int, counts: list[int]) -> bytes:
    """Return the body of a packet: the radio keeps packets apart, so it goes bare."""
    body = struct.pack("<BBHI", VERSION, COUNT_BYTES, sequence, tick_us)
    for count in counts:
        body += struct.pack("<i", count)[:COUNT_BYTES]
    return body + struct.pack("<H", checksum(body))


def line(tick_us: int, count: int) -> bytes:
    """Return a line of text."""
    return b"%d,%d\r\n" % (tick_us, count)


def remark(key: str, value: object) -> bytes:
    """Return a line for people, which a host skips."""
    return f"# {key}={value}"[: REMARK_MAX - 1].encode() + b"\n"
