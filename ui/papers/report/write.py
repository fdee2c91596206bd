"""Make the report of a session and put it in place: a PDF and a page of HTML that say the same."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from acquire.errors import ArchiveError
from acquire.files.atomic import replace_together
from acquire.values.units import ForceUnit
from analysis.references.tables import load_table, shipped_tables
from analysis.trial.protocol import Protocol
from ui.papers.report.build import Beside, build_report, own_changes
from ui.papers.report.content import Report
from ui.papers.report.occasion import Occasion
from ui.version import program_version
from ui.words.local_time import local_now
from ui.words.words import Words

ENDINGS = (".pdf", ".html")


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """Where a report is."""

    pdf: Path
    page: Path


def places_of(session: Path, out: Path | None) -> Written:
    """Return where the report of a session goes: beside it, into a folder, or where a PDF or HTML file is named.

    Examples
    --------
    >>> places_of(Path("crew/p7.h5"), None).pdf.as_posix()
    'crew/p7-report.pdf'
    >>> places_of(Path("p7.h5"), Path("for-you.html")).pdf.as_posix()
    'for-you.pdf'
    """
    if out is not None and out.suffix.lower() in ENDINGS:
        stem = out.with_suffix("")
    else:
        stem = (session.parent if out is None else out) / f"{session.stem}-report"
    # a stem may have a dot in it, which is no ending
    pdf, page = (stem.with_name(stem.name + ending) for ending in ENDINGS)
    return Written(pdf=pdf, page=page)


def make_report(
    occasion: Occasion,
    protocol: Protocol,
    *,
    words: Words,
    unit: ForceUnit,
    earlier: Sequence[Occasion] = (),
    own: Sequence[Occasion] = (),
    references: Sequence[str] = (),
) -> Report:
    """Return the report of a session beside everything that is known: shipped references and changes, and one's own.

    Raises
    ------
    TableError
        If a table of references cannot be read.
    ArchiveError
        If an earlier session is not earlier, or of another person.
    """
    from analysis.reliability.side_index import side_errors  # noqa: PLC0415 (with its tables)

    others = (*earlier, *own)
    occasion = occasion.beside(others, side_errors(score for each in own for score in each.scores.values()))
    tables = (*(load_table(name) for name in references), *shipped_tables())
    return build_report(
        occasion,
        protocol,
        words=words,
        unit=unit,
        made=local_now(),
        version=program_version(),
        beside=Beside(earlier=tuple(earlier), tables=tables, known=own_changes(own)),
    )


def write_report(report: Report, places: Written) -> None:
    """Write both files, or neither.

    Raises
    ------
    ArchiveError
        If one cannot be written.
    """
    from ui.papers.report.page import write_page  # noqa: PLC0415 (drawing and templates are heavy)
    from ui.papers.report.pdf import write_pdf  # noqa: PLC0415

    try:
        places.pdf.parent.mkdir(parents=True, exist_ok=True)
        replace_together(
            [
                (places.pdf, lambda aside: write_pdf(report, aside)),
                (places.page, lambda aside: write_page(report, aside)),
            ]
        )
    except OSError as error:
        raise ArchiveError(
            f"{error.filename or places.pdf}: the report cannot be written: {error.strerror or error}"
        ) from error
