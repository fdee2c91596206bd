"""A sheet of an audit's papers: an upright page with a title, plain axes, a foot; and how sheets become a PDF."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

from matplotlib import rcParams
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from acquire.errors import ArchiveError
from acquire.files.atomic import replace_file
from ui.papers.picture import GREY
from ui.words.conventions import localised
from ui.words.words import Words

rcParams["text.parse_math"] = False  # a code or a file name may hold dollar signs

PAGE_INCHES = (8.27, 11.69)
"""A4, upright."""


def sheet(title: str) -> Figure:
    """Return an empty page with its title."""
    figure = Figure(figsize=PAGE_INCHES)
    figure.text(0.06, 0.95, title, fontsize=15, fontweight="bold")
    return figure


def make_plain(axis: Axes, words: Words) -> None:
    """Draw axes without a frame, their numbers with the decimal sign of the language."""
    axis.spines[["top", "right"]].set_visible(False)
    axis.tick_params(labelsize=8)
    axis.grid(axis="y", linewidth=0.4, color="#dddddd")
    numbers = FuncFormatter(lambda value, _: localised(f"{value:g}", words.language).replace("-", "\u2212"))
    axis.xaxis.set_major_formatter(numbers)
    axis.yaxis.set_major_formatter(numbers)


def write_sheets(path: Path, figures: Sequence[Figure], words: Words) -> None:
    """Write pages as a PDF, each with its number and what the program is not.

    Raises
    ------
    ArchiveError
        If it cannot be written.
    """
    made = io.BytesIO()  # on a full disk the library would leave its file open
    with PdfPages(made, metadata={"Title": words("audit_paper.title")}) as pages:
        for number, figure in enumerate(figures, start=1):
            figure.text(0.06, 0.025, words("audit_paper.foot"), fontsize=7, color=GREY)
            page = words("report.page", page=number, pages=len(figures))
            figure.text(0.94, 0.025, page, fontsize=7, color=GREY, ha="right")
            pages.savefig(figure)
    try:
        replace_file(path, lambda aside: aside.write_bytes(made.getvalue()))
    except OSError as error:
        raise ArchiveError(f"{path}: the pages cannot be written: {error.strerror or error}") from error
