"""What a report says, in finished words and numbers, before it is a PDF or a page of HTML.

Plain frozen values: the two renderers lay them out and decide nothing. A chart is data here too; it is drawn once,
by `ui.papers.report.charts`, for both.
"""

from __future__ import annotations

from typing import TypeAlias

import msgspec


class Bar(msgspec.Struct, frozen=True, kw_only=True):
    """One side of an action."""

    label: str
    value: float
    reach: float | None = None
    """Expanded uncertainty; None when it is not known."""
    hatched: bool = False
    """How the second side differs from the first without colour."""


class Bars(msgspec.Struct, frozen=True, kw_only=True):
    """Small bars, side by side."""

    bars: tuple[Bar, ...]
    top: float
    """What a bar of the whole length stands for: the same for all actions of one joint."""
    about: str
    """What is seen, for those who do not see it."""


class Curve(msgspec.Struct, frozen=True, kw_only=True):
    """The force of one trial from its onset on, thinned out."""

    seconds: tuple[float, ...]
    share: tuple[float, ...]
    """Of the highest point of the picture."""
    dashed: bool = False


class Curves(msgspec.Struct, frozen=True, kw_only=True):
    """The trial that stands for each side, over one another."""

    curves: tuple[Curve, ...]
    about: str


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """The scores of one side over the sessions."""

    months: tuple[float, ...]
    values: tuple[float, ...]
    dashed: bool = False


class Lines(msgspec.Struct, frozen=True, kw_only=True):
    """Scores over time; its axis of values begins at 0."""

    lines: tuple[Line, ...]
    about: str


Chart: TypeAlias = Bars | Curves | Lines
Cell: TypeAlias = str | Bars | Curves | Lines


class Column(msgspec.Struct, frozen=True, kw_only=True):
    """One column of a table."""

    heading: str
    width: float
    """A share; those of a table need not add up to anything."""
    number: bool = False
    """Whether it is set to the right."""


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One row; a cell of several lines has them parted by line feeds."""

    cells: tuple[Cell, ...]


class Group(msgspec.Struct, frozen=True, kw_only=True):
    """A heading across a table."""

    title: str


class Table(msgspec.Struct, frozen=True, kw_only=True, tag=True):
    """Rows under headings."""

    columns: tuple[Column, ...]
    rows: tuple[Row | Group, ...]


class Facts(msgspec.Struct, frozen=True, kw_only=True, tag=True):
    """Names and values, side by side."""

    pairs: tuple[tuple[str, str], ...]


class Notes(msgspec.Struct, frozen=True, kw_only=True, tag=True):
    """Sentences, one below the other."""

    sentences: tuple[str, ...]
    listed: bool = False
    """Whether each has a mark before it."""
    small: bool = False
    """Whether it is small print."""


class Blanks(msgspec.Struct, frozen=True, kw_only=True, tag=True):
    """Lines to write on."""

    labels: tuple[str, ...]


Block: TypeAlias = Table | Facts | Notes | Blanks


class Section(msgspec.Struct, frozen=True, kw_only=True):
    """One part of a report; without a title at its head."""

    title: str
    blocks: tuple[Block, ...]


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """A whole report."""

    language: str
    title: str
    subtitle: str
    banner: str
    """What must not be overlooked, such as that the data are invented; empty for nothing."""
    sections: tuple[Section, ...]
    footer: str
    page: str
    """How a page is numbered, with gaps ``{page}`` and ``{pages}``."""
