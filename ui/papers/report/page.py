"""A report as one page of HTML with all that it needs inside: lays out `ui.papers.report.content`, adds nothing."""

from __future__ import annotations

import base64
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined

from ui.papers.report.charts import as_svg
from ui.papers.report.content import Cell, Column, Report

SCALE = 2.4
"""Pixels a point: a bar of 8.5 points is as high as the line of text beside it."""


def write_page(report: Report, path: Path) -> None:
    """Write a report as HTML in UTF-8."""
    path.write_text(page_of(report), encoding="utf-8", newline="\n")


def page_of(report: Report) -> str:
    """Return a report as HTML."""
    environment = Environment(
        loader=PackageLoader("ui", "data/report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["picture"] = _picture
    environment.globals["kind"] = lambda block: type(block).__name__
    return environment.get_template("report.html").render(report=report)


def _picture(cell: Cell, column: Column) -> dict[str, str] | None:
    """Return source, size and words of the picture in a cell; None for a cell of text."""
    if isinstance(cell, str):
        return None
    svg = as_svg(cell, column.width)
    source = "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()
    return {"source": source, "about": cell.about, "width": f"{SCALE * column.width:.0f}"}
