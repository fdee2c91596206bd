"""Text lines as a table: which separator, which columns hold numbers.

A number is what hardware_notes/wire_formats.md calls one, since the decoder takes nothing else.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

import numpy as np

from acquire.decoders.lines import MAX_LINE
from acquire.discovery.capture import Capture
from acquire.values.arrays import FloatArray, IntArray

SEPARATORS = ",;\t|: "
"""In the order of trying: a blank or a colon may also stand inside a time of day."""
MOST_LINES = 200_000
LOOKED_AT = 500
"""Lines from which the separator is told."""
MOSTLY = 0.8
"""A column or a separator that holds for this share of the lines holds; the others are damaged."""
SELDOM = 0.05
MOST_SHARE = 0.95

INTEGER = re.compile(rb"[+-]?\d+\Z")
DECIMAL = re.compile(rb"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?\Z")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lines:
    """The whole lines of a capture, without their ends."""

    texts: tuple[bytes, ...]
    ends: IntArray
    """Where each ends in the bytes, shape (n,)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Column:
    """One column of a table."""

    values: FloatArray
    """Shape (n_rows,); NaN where there is no number."""
    is_number: bool
    integer: bool
    """Whether its numbers are written without a point."""
    example: str
    padded: bool = False
    """Two or three digits, all as long, some of which begin with 0: what stands behind a decimal comma."""

    @property
    def filled(self) -> FloatArray:
        """Its numbers without gaps: where there is none, the last before it."""
        there = np.isfinite(self.values)
        at = np.maximum.accumulate(np.where(there, np.arange(len(there)), np.argmax(there)))
        return np.asarray(self.values[at])

    @property
    def constant(self) -> bool:
        """Whether it never changes."""
        seen = self.values[np.isfinite(self.values)]
        return bool(len(seen) == 0 or (seen == seen[0]).all())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """Lines of equal width."""

    separator: str
    """Empty for a single column."""
    columns: tuple[Column, ...]
    ends: IntArray
    """Where the line of each row ends in the bytes, shape (n_rows,)."""
    share: float
    """Part of the lines that have this width."""

    @property
    def numbers(self) -> int:
        """How many columns hold numbers."""
        return sum(column.is_number for column in self.columns)


def whole_lines(capture: Capture) -> Lines:
    """Return the lines that came whole: not the first, which may have begun before, nor what has no end.

    Remarks and empty lines are left out, as the decoder does; of a very long capture the first lines are taken.
    """
    data = capture.data
    texts: list[bytes] = []
    ends: list[int] = []
    at = data.find(b"\n") + 1
    while at and (end := data.find(b"\n", at)) >= 0 and len(texts) < MOST_LINES:
        text = data[at:end].removesuffix(b"\r")
        if text and not text.startswith(b"#") and len(text) <= MAX_LINE:
            texts.append(text)
            ends.append(end)
        at = end + 1
    return Lines(texts=tuple(texts), ends=np.array(ends, dtype=np.int64))


def tables(lines: Lines) -> list[Table]:
    r"""Return the ways to read the lines as a table with at least one column of numbers.

    Examples
    --------
    >>> capture = Capture.of([(0.0, b"1;20:15\n2;20:15\n3;20:16\n")])
    >>> [(table.separator, table.numbers) for table in tables(whole_lines(capture))]
    [(';', 1), (':', 1)]
    """
    sample = lines.texts[:LOOKED_AT]
    usable = [sep for sep in SEPARATORS if sum(sep.encode() in text for text in sample) >= MOSTLY * len(sample)]
    found = [_table(lines, separator) for separator in (*usable, "")] if sample else []
    return [table for table in found if table.numbers and not _is_padding(table)]


def _is_padding(table: Table) -> bool:
    """Tell whether its separators are blanks that fill up numbers, so that their count changes with the number."""
    return table.share < MOST_SHARE and any(not column.example for column in table.columns)


def _table(lines: Lines, separator: str) -> Table:
    rows = [text.split(separator.encode()) if separator else [text] for text in lines.texts]
    width, _ = Counter(map(len, rows[:LOOKED_AT])).most_common(1)[0]
    kept = [index for index, row in enumerate(rows) if len(row) == width]
    return Table(
        separator=separator,
        columns=tuple(_column([rows[index][at] for index in kept]) for at in range(width)),
        ends=lines.ends[kept],
        share=len(kept) / len(rows),
    )


def _column(fields: list[bytes]) -> Column:
    numbers = [DECIMAL.match(field) is not None for field in fields]
    integers = [number and INTEGER.match(field) is not None for field, number in zip(fields, numbers, strict=True)]
    read = [float(field) if number else np.nan for field, number in zip(fields, numbers, strict=True)]
    values = np.where(np.isfinite(read), read, np.nan)
    return Column(
        values=values,
        is_number=sum(numbers) >= MOSTLY * len(fields),
        integer=sum(integers) >= (1 - SELDOM) * sum(numbers),
        example=fields[0].decode("ascii", "replace"),
        padded=_padded(fields),
    )


def _padded(fields: list[bytes]) -> bool:
    digits = [field for field in fields if field.isdigit()]
    if len(digits) < MOSTLY * len(fields) or not digits:
        return False
    (length, count), *_ = Counter(map(len, digits)).most_common(1)
    return length in (2, 3) and count >= MOSTLY * len(digits) and any(field.startswith(b"0") for field in digits)
