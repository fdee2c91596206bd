"""Why a stream cannot be read, as plainly as its bytes allow.

What is looked for, in this order: text with a parity bit, lines that end with a carriage return alone, stuffed
frames with other contents, frames of a fixed length with a fixed beginning, and bytes whose bits come in runs, as they
do when the receiver is much faster than the sender, or much slower.
"""

from __future__ import annotations

import re
from collections import Counter

import numpy as np
from cobs import cobs  # type: ignore[import-untyped] # ships no type information

from acquire.decoders import Reason
from acquire.discovery.capture import Capture
from acquire.discovery.framing import printable, read_packets
from acquire.discovery.table import whole_lines
from acquire.errors import DiscoveryError, DiscoveryFailure

LOOKED_AT = 8192
LEAST_BYTES = 40
TEXT = 0.95
FRAMES = range(4, 65)
LEAST_ROWS = 16
CONSTANT = 0.98
MOST_CONSTANT = 0.7
"""More of a frame never changes only where all of it is still."""
FEW_EDGES = 1.5
"""Changes between the eight bits of a byte: 3.5 by chance, about 3 in text."""

NEITHER = "these bytes are neither text lines nor packets"
FORMAT = "hardware_notes/wire_formats.md says what the program reads"


def unreadable(capture: Capture, *, tried: tuple[int, ...] = (), baud: int | None = None) -> DiscoveryError:
    """Return the error that says what the bytes look like.

    Parameters
    ----------
    capture : Capture
        Neither packets nor lines of numbers.
    tried : tuple of int
        The baud rates at which it was looked for them; empty where there was no choice.
    baud : int, optional
        The one of them at which these bytes came.
    """
    data = capture.data[:LOOKED_AT]
    if not data:
        return _error(DiscoveryFailure.SILENT, "nothing came: check that the sensor is switched on")
    if len(data) < LEAST_BYTES:
        return _error(
            DiscoveryFailure.TOO_LITTLE, f"only {len(data)} bytes came, too few to tell what they are: look for longer"
        )
    if printable(data) >= TEXT:
        return _text(capture, data)
    return _parity(data) or _newer_packets(capture) or _stuffed(data) or _binary(data, tried, baud)


def _error(reason: DiscoveryFailure, message: str) -> DiscoveryError:
    return DiscoveryError(message, reason=reason)


def _text(capture: Capture, data: bytes) -> DiscoveryError:
    """Say why text holds no numbers in the sense of the format."""
    lines = whole_lines(capture).texts
    if not lines:
        if b"\r" in data:
            return _error(
                DiscoveryFailure.NO_NUMBERS,
                f"it sends text whose lines end with a carriage return alone; they must end with a line feed: {FORMAT}",
            )
        return _error(DiscoveryFailure.NO_NUMBERS, f"it sends text without line ends: {FORMAT}")
    example = repr(Counter(lines).most_common(1)[0][0].decode("ascii", "replace"))
    for pattern, what in LOOKS:
        if sum(re.search(pattern, line) is not None for line in lines) > 0.5 * len(lines):
            return _error(DiscoveryFailure.NO_NUMBERS, f"it sends text lines such as {example}: {what}; {FORMAT}")
    return _error(
        DiscoveryFailure.NO_NUMBERS,
        f"it sends text lines such as {example}, in which no column is a plain number; {FORMAT}",
    )


LOOKS = (
    (rb"\d,\d", "the comma seems to be a decimal comma, and numbers need a point"),
    (rb"[,;:|]\s+[+-]?\.?\d|\d\s+[,;:|]|^\s+[+-]?\.?\d|\s$", "blanks stand around the numbers"),
    (rb"\d[A-Za-z]|[A-Za-z=]\d", "letters stand right at the numbers"),
)


def _parity(data: bytes) -> DiscoveryError | None:
    if printable(bytes(byte & 0x7F for byte in data)) < TEXT:
        return None
    return _error(
        DiscoveryFailure.WRONG_BAUD,
        "it sends text with a parity bit (7 data bits): set the sensor to 8 data bits, no parity, 1 stop bit",
    )


def _newer_packets(capture: Capture) -> DiscoveryError | None:
    damage = read_packets(capture).damage
    if damage[Reason.WRONG_VERSION] < 0.5 * sum(damage.values()) or not damage:
        return None
    return _error(DiscoveryFailure.BINARY, "it sends packets of a version that this program does not know: update it")


def _stuffed(data: bytes) -> DiscoveryError | None:
    frames = [frame for frame in data.split(b"\0")[1:-1] if frame]
    if len(frames) < LEAST_ROWS or max(map(len, frames)) < 4:
        return None
    good = sum(_is_stuffed(frame) for frame in frames)
    common, count = Counter(map(len, frames)).most_common(1)[0]
    if good < CONSTANT * len(frames) or count < 0.5 * len(frames) or common < 4:
        return None
    return _error(
        DiscoveryFailure.BINARY,
        f"it sends binary frames that end with a zero byte, mostly of {common} bytes and stuffed (COBS), but with "
        f"contents of another kind: {FORMAT}",
    )


def _is_stuffed(frame: bytes) -> bool:
    try:
        cobs.decode(frame)
    except cobs.DecodeError:
        return False
    return True


def _binary(data: bytes, tried: tuple[int, ...], baud: int | None) -> DiscoveryError:
    frame, seen = fixed_frame(data), ""
    if frame is not None:
        seen = f"; it looks like frames of {frame[0]} bytes that begin with {frame[1]} (hexadecimal)"
        seen += "" if baud is None else f" at {baud} bit/s"
    if len(tried) > 1:
        rates = ", ".join(map(str, tried))
        return _error(
            DiscoveryFailure.BINARY,
            f"the sensor sends neither text lines nor packets at any of the baud rates {rates}: "
            f"its format is binary and not known here{seen}; {FORMAT}",
        )
    if frame is not None:
        return _error(DiscoveryFailure.BINARY, f"{NEITHER}: a binary format not known here{seen}; {FORMAT}")
    if _edges(data) < FEW_EDGES:
        return _error(
            DiscoveryFailure.WRONG_BAUD,
            f"{NEITHER}: they look like noise of a wrong baud rate, since their bits come in long runs; "
            "read the sensor at another baud rate",
        )
    return _error(
        DiscoveryFailure.UNREADABLE,
        f"{NEITHER}: they were read at a wrong baud rate, or are of a binary format not known here; {FORMAT}",
    )


def fixed_frame(data: bytes) -> tuple[int, str] | None:
    """Return the length and the constant beginning of frames, as hexadecimal; None where there are none.

    Examples
    --------
    >>> fixed_frame(b"".join(bytes([0xAA, 0x55, n, 7 * n % 251]) for n in range(40)))
    (4, 'aa 55')
    """
    whole = np.frombuffer(data, dtype=np.uint8)
    for length in FRAMES:
        rows = len(whole) // length
        if rows < LEAST_ROWS:
            return None
        table = whole[: rows * length].reshape(rows, length)
        constant = np.mean(table == np.median(table, axis=0).astype(np.uint8), axis=0) >= CONSTANT
        marks = constant & ~np.isin(table[0], (0x00, 0xFF))
        if marks.any() and constant.mean() <= MOST_CONSTANT:
            return length, _beginning(table, constant, marks)
    return None


def _beginning(table: np.ndarray, constant: np.ndarray, marks: np.ndarray) -> str:
    """Return the longest constant stretch around the frame as hexadecimal, from its first byte that is a mark."""
    length = len(constant)
    middle = np.median(table, axis=0).astype(np.uint8)
    starts = [at for at in range(length) if marks[at] and not (constant[at - 1] and marks[at - 1])]
    start = starts[0] if starts else int(np.flatnonzero(marks)[0])
    run: list[int] = []
    while len(run) < length and constant[(start + len(run)) % length]:
        run.append(int(middle[(start + len(run)) % length]))
    return " ".join(f"{byte:02x}" for byte in run)


def _edges(data: bytes) -> float:
    """Return how often the bits of a byte change, on average."""
    bits = np.unpackbits(np.frombuffer(data, dtype=np.uint8)).reshape(-1, 8)
    return float(np.abs(np.diff(bits.astype(np.int8), axis=1)).sum(axis=1).mean())
