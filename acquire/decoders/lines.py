"""Text lines: one sample a line, its columns named in the profile.

The format is specified in hardware_notes/wire_formats.md. There is no checksum, so a line is taken only
when every wanted column is plainly a number in its range. Python's own `int` and `float` are more
generous (``1_0``, ``nan``, blanks around a number), so the characters of a line are looked at first.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import NamedTuple

from acquire.decoders.delimited import DelimitedDecoder
from acquire.decoders.events import Event, Lines, Reason
from acquire.sensor.clock_columns import CLOCK_COLUMNS, COUNTER_WRAP

MAX_LINE = 256
"""Bytes a line may have, without its line feed."""

NUMERALS = b"0123456789+-.eE"
LARGEST_FLOAT = sys.float_info.max
FORCES = ("counts", "n", "value")
"""The first of these that there is, is taken."""
LARGEST_TICK = COUNTER_WRAP - 1


class _Column(NamedTuple):
    """Where a wanted column stands in the line, and what a number in it may be."""

    at: int
    number: type[int] | type[float]
    low: float
    high: float


class LineDecoder(DelimitedDecoder):
    r"""Decoder of text lines.

    Parameters
    ----------
    columns : sequence of str
        From "counts", "n" (newtons), "value" (a decimal number in another unit), "seq", "ms", "us", "s" and "-"
        (ignored), in the order sent: a force column, at most one clock. Of several forces the first of counts,
        newtons and value is taken.
    separator : str
        The character between columns.
    count_bits : int
        Width of the converter, bits; counts beyond its two's complement are damage.
    sequence_bits : int
        Width of the line counter, bits.

    Raises
    ------
    ValueError
        If `columns` names no force.

    Examples
    --------
    >>> decoder = LineDecoder(["ms", "counts"])
    >>> run, damage = decoder.feed(b"1000,-25\r\n1010,x\r\n10")
    >>> run
    Lines(counts=[-25], sequence=None, tick_s=[1.0])
    >>> str(damage.reason), damage.length, damage.samples
    ('not a number', 8, 1)
    >>> decoder.feed(b"20,-24\n")
    [Lines(counts=[-24], sequence=None, tick_s=[1.02])]
    """

    def __init__(
        self, columns: Sequence[str], *, separator: str = ",", count_bits: int = 24, sequence_bits: int = 16
    ) -> None:
        super().__init__(delimiter=b"\n", limit=MAX_LINE, partial=Reason.PARTIAL_FIRST_LINE, samples_per_frame=1)
        half = 1 << (count_bits - 1)
        kinds = {
            "counts": _Column(0, int, -half, half - 1),
            "n": _Column(0, float, -LARGEST_FLOAT, LARGEST_FLOAT),
            "value": _Column(0, float, -LARGEST_FLOAT, LARGEST_FLOAT),
            "seq": _Column(0, int, 0, (1 << sequence_bits) - 1),
            "ms": _Column(0, int, 0, LARGEST_TICK),
            "us": _Column(0, int, 0, LARGEST_TICK),
            "s": _Column(0, float, -LARGEST_FLOAT, LARGEST_FLOAT),
        }
        force = next((name for name in FORCES if name in columns), None)
        if force is None:
            raise ValueError(f"columns must name counts, n or value, got {', '.join(columns)}")
        ignored = {"-", *FORCES} - {force}
        wanted = {name: kinds[name]._replace(at=at) for at, name in enumerate(columns) if name not in ignored}
        clock = next((name for name in CLOCK_COLUMNS if name in wanted), None)
        self._force = wanted[force]
        self._sequence = wanted.get("seq")
        self._clock = wanted[clock] if clock else None
        self._per_second = CLOCK_COLUMNS[clock].steps_per_s if clock else 1
        self._wanted = list(wanted.values())
        self._has_ignored = len(wanted) < len(columns)
        self._width = len(columns)
        self._separator = separator.encode("ascii")
        self._read_run = self._run_reader()

    def _decode(self, frames: list[bytes], events: list[Event]) -> None:
        lines = iter(frames)
        while True:
            run = Lines([], [] if self._sequence else None, [] if self._clock else None)
            bad = self._read_run(lines, run)
            if run.counts:
                events.append(run)
            if bad is None:
                return
            self._refuse(bad, events)

    def _run_reader(self) -> Callable[[Iterator[bytes], Lines], bytes | None]:
        """Return the inner loop of every recording from a text sensor.

        It is written out flat, and a closure, so that nothing is looked up while it runs.
        """
        width, separator, plain = self._width, self._separator, NUMERALS + self._separator
        at, number, low, high = self._force
        clock_at, clock_number, first, last = self._clock or self._force
        index_at, _, _, highest = self._sequence or self._force
        per_second = self._per_second
        may_end_in = self._may_end_in

        def read_run(lines: Iterator[bytes], run: Lines) -> bytes | None:
            """Read good lines into a run; return the line that ends it, None at the end of the lines."""
            counts, sequences, ticks = run
            for line in lines:
                fields = line.split(separator)
                end = line.lstrip(plain)  # what stands after the numbers and separators
                if len(fields) != width or len(line) > MAX_LINE or (end and not may_end_in(end, line)):
                    return line
                try:
                    count = number(fields[at])
                    tick = clock_number(fields[clock_at]) if ticks is not None else first
                    index = int(fields[index_at]) if sequences is not None else 0
                except ValueError:
                    return line
                if not (low <= count <= high and first <= tick <= last):
                    return line
                if sequences is not None:
                    if not 0 <= index <= highest:
                        return line
                    sequences.append(index)
                if ticks is not None:
                    ticks.append(tick / per_second)
                counts.append(count)
            return None

        return read_run

    def _may_end_in(self, end: bytes, line: bytes) -> bool:
        """Tell whether a line can be good in spite of what stands after its numbers."""
        if end == b"\r":
            return True
        return self._has_ignored and not line.startswith(b"#") and self._fault(line) is None

    def _fault(self, frame: bytes) -> Reason | None:
        line = frame.removesuffix(b"\r")
        if not line or line.startswith(b"#"):
            return None
        fields = line.split(self._separator)
        if len(fields) != self._width:
            return Reason.WRONG_COLUMNS
        faults = (_fault_of_number(fields[column.at], column) for column in self._wanted)
        return next(filter(None, faults), None)


def _fault_of_number(field: bytes, column: _Column) -> Reason | None:
    if field.strip(NUMERALS):
        return Reason.NOT_A_NUMBER
    try:
        number = column.number(field)
    except ValueError:
        return Reason.NOT_A_NUMBER
    return None if column.low <= number <= column.high else Reason.OUT_OF_RANGE


def encode_line(values: Iterable[float], separator: str = ",") -> bytes:
    r"""Return one text line with its end.

    Parameters
    ----------
    values : iterable of numbers
        One a column, finite; whole numbers are written without a point.
    separator : str
        The character between columns.

    Raises
    ------
    ValueError
        If a value is not finite, or the line would be longer than 256 bytes.

    Examples
    --------
    >>> encode_line([1000, -25])
    b'1000,-25\n'
    """
    numbers = list(values)
    if not all(map(math.isfinite, numbers)):
        raise ValueError(f"values must be finite, got {numbers}")
    line = separator.join(map(str, numbers)).encode("ascii")
    if len(line) > MAX_LINE:
        raise ValueError(f"a line may have {MAX_LINE} bytes, got {len(line)}")
    return line + b"\n"
