"""A report as PDF, A4: lays out what `ui.papers.report.content` says and adds nothing to it."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color, black
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    KeepTogether,
    PageTemplate,
    Paragraph,
    Spacer,
    TableStyle,
)
from reportlab.platypus import Table as Grid

from ui.papers.report.charts import BOLD, LINE, PLAIN, draw, register_fonts
from ui.papers.report.content import Blanks, Block, Cell, Column, Facts, Group, Report, Section, Table

MARGIN = 11.0 * mm
FOOT = 7.5 * mm
WIDTH = A4[0] - 2.0 * MARGIN
PAD = 2.5
"""Left and right of a cell, points."""

RULE, SHADE = Color(0.55, 0.55, 0.55), Color(0.93, 0.93, 0.93)

TEXT = ParagraphStyle("text", fontName=PLAIN, fontSize=6.6, leading=8.6)
CELL = ParagraphStyle("cell", parent=TEXT, fontSize=6.4, leading=LINE)
NUMBER = ParagraphStyle("number", parent=CELL, alignment=TA_RIGHT)
HEADING = ParagraphStyle("heading", parent=CELL, fontName=BOLD, fontSize=6.0, leading=7.2)
NUMBER_HEADING = ParagraphStyle("number-heading", parent=HEADING, alignment=TA_RIGHT)
GROUP = ParagraphStyle("group", parent=CELL, fontName=BOLD, leading=8.0)
SMALL = ParagraphStyle("small", parent=TEXT, fontSize=5.6, leading=7.0)
LISTED = ParagraphStyle("listed", parent=TEXT, leftIndent=8.0, bulletIndent=1.0)
SECTION = ParagraphStyle(
    "section", parent=TEXT, fontName=BOLD, fontSize=8.4, leading=10.2, spaceBefore=4.0, spaceAfter=1.0
)
TITLE = ParagraphStyle("title", parent=SECTION, fontSize=14.0, leading=17.0, spaceBefore=0.0)
SUBTITLE = ParagraphStyle("subtitle", parent=TEXT, fontSize=9.0, leading=12.0)
BANNER = ParagraphStyle(
    "banner",
    parent=TEXT,
    fontName=BOLD,
    fontSize=7.6,
    leading=9.6,
    borderColor=black,
    borderWidth=0.8,
    borderPadding=2.0,
    leftIndent=3.0,
)


def write_pdf(report: Report, path: Path) -> None:
    """Write a report; the same report makes the same bytes."""
    register_fonts()
    bottom = FOOT + 3.5 * mm
    none = dict.fromkeys(("leftPadding", "rightPadding", "topPadding", "bottomPadding"), 0)
    frame = Frame(MARGIN, bottom, WIDTH, A4[1] - bottom - MARGIN, **none)
    made = io.BytesIO()  # on a full disk the library would leave its file open
    document = BaseDocTemplate(
        made,
        pagesize=A4,
        pageTemplates=[PageTemplate(frames=[frame])],
        title=f"{report.title}: {report.subtitle}",
        author="Ramphold",
        lang=report.language,
        invariant=1,
    )
    document.build(_story(report), canvasmaker=_numbered(report))
    path.write_bytes(made.getvalue())


def _story(report: Report) -> list[Flowable]:
    story: list[Flowable] = [_paragraph(report.title, TITLE), _paragraph(report.subtitle, SUBTITLE)]
    if report.banner:
        story += [Spacer(0, 4), _paragraph(report.banner, BANNER), Spacer(0, 3)]
    for section in report.sections:
        story += _section(section)
    return story


def _section(section: Section) -> list[Flowable]:
    """Return a section; its title stays with what follows, short sections stay whole."""
    blocks = [piece for block in section.blocks for piece in _block(block)]
    if not section.title:
        return blocks
    title = _paragraph(section.title, SECTION)
    if any(isinstance(block, Table) and len(block.rows) > 8 for block in section.blocks):
        title.keepWithNext = 1
        return [title, *blocks]
    return [KeepTogether([title, *blocks])]


def _block(block: Block) -> list[Flowable]:
    if isinstance(block, Table):
        return [_table(block), Spacer(0, 2)]
    if isinstance(block, Facts):
        return [_facts(block), Spacer(0, 2)]
    if isinstance(block, Blanks):
        return [_blanks(block)]
    style = LISTED if block.listed else SMALL if block.small else TEXT
    return [_paragraph(text, style, bullet="\u2022" if block.listed else None) for text in block.sentences]


def _paragraph(text: str, style: ParagraphStyle, *, bullet: str | None = None) -> Paragraph:
    return Paragraph(escape(text).replace("\n", "<br/>"), style, bulletText=bullet)


def _table(table: Table) -> Grid:
    shares = [column.width for column in table.columns]
    widths = [WIDTH * share / sum(shares) for share in shares]
    cells: list[Sequence[Any]] = [[_heading(column) for column in table.columns]]
    groups = []
    for row in table.rows:
        if isinstance(row, Group):
            groups.append(len(cells))
            cells.append([_paragraph(row.title, GROUP), *[""] * (len(widths) - 1)])
        else:
            cells.append([_cell(*each) for each in zip(row.cells, table.columns, widths, strict=True)])
    grid = Grid(cells, colWidths=widths, repeatRows=1)
    grid.setStyle(TableStyle([*_STYLE, *(command for at in groups for command in _group_style(at))]))
    return grid


_STYLE = (
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
    ("FONTSIZE", (0, 0), (-1, -1), 6.0),  # of cells with nothing in them, which have a height too
    ("LEADING", (0, 0), (-1, -1), 7.0),
    ("LEFTPADDING", (0, 0), (-1, -1), PAD),
    ("RIGHTPADDING", (0, 0), (-1, -1), PAD),
    ("TOPPADDING", (0, 0), (-1, -1), 0.5),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1.0),
    ("LINEBELOW", (0, 0), (-1, 0), 0.7, black),
    ("LINEBELOW", (0, 1), (-1, -1), 0.25, RULE),
)


def _group_style(at: int) -> tuple[tuple[Any, ...], ...]:
    return (("SPAN", (0, at), (-1, at)), ("BACKGROUND", (0, at), (-1, at), SHADE), ("NOSPLIT", (0, at), (-1, at + 1)))


def _heading(column: Column) -> Paragraph:
    return _paragraph(column.heading, NUMBER_HEADING if column.number else HEADING)


def _cell(cell: Cell, column: Column, width: float) -> Flowable:
    if isinstance(cell, str):
        return _paragraph(cell, NUMBER if column.number else CELL)
    return draw(cell, width - 2.0 * PAD)


def _facts(facts: Facts) -> Grid:
    """Return names and values in two columns of pairs."""
    pairs = list(facts.pairs) + [("", "")] * (len(facts.pairs) % 2)
    rows = [
        [_paragraph(text, HEADING if place % 2 == 0 else CELL) for place, text in enumerate((*one, *other))]
        for one, other in zip(pairs[::2], pairs[1::2], strict=True)
    ]
    shares = (56.0, 216.0, 56.0, 198.0)
    grid = Grid(rows, colWidths=[WIDTH * share / sum(shares) for share in shares])
    grid.setStyle(
        TableStyle([*_STYLE[:8], ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, -1), (-1, -1), 0.5, RULE)])
    )
    return grid


def _blanks(blanks: Blanks) -> Grid:
    """Return lines to write on, side by side with room between them."""
    cells: list[Any] = []
    for label in blanks.labels:
        cells += [_paragraph(f"{label}:", TEXT), ""]
    gap = 14.0
    width = (WIDTH - gap * (len(blanks.labels) - 1)) / len(blanks.labels)
    grid = Grid([cells[:-1]], colWidths=([width, gap] * len(blanks.labels))[:-1], rowHeights=[22.0])
    lines = [("LINEBELOW", (at, 0), (at, 0), 0.6, black) for at in range(0, len(cells), 2)]
    grid.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "BOTTOM"), ("LEFTPADDING", (0, 0), (-1, -1), 0.0), *lines]))
    return grid


def _numbered(report: Report) -> Callable[..., Canvas]:
    """Return a canvas that writes the footer when it knows how many pages there are."""

    class Numbered(Canvas):  # type: ignore[misc] # reportlab has no types
        def __init__(self, *arguments: Any, **options: Any) -> None:  # noqa: ANN401
            super().__init__(*arguments, **options)
            self._kept: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 (reportlab's name)
            self._kept.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for state in self._kept:
                self.__dict__.update(state)
                _footer(self, report, len(self._kept))
                super().showPage()
            super().save()

    return Numbered


def _footer(canvas: Canvas, report: Report, pages: int) -> None:
    canvas.setFont(PLAIN, 5.8)
    canvas.drawString(MARGIN, FOOT, report.footer)
    canvas.drawRightString(A4[0] - MARGIN, FOOT, report.page.format(page=canvas.getPageNumber(), pages=pages))
