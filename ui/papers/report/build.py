"""The whole report: its sections in the order in which they are read."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from acquire.values.units import ForceUnit
from analysis.references.tables import ReferenceTable
from analysis.trial.protocol import Protocol
from ui.papers.report.changes import NOTHING_KNOWN, Known, changes
from ui.papers.report.content import Blanks, Notes, Report, Section
from ui.papers.report.excluded import left_out
from ui.papers.report.head import head
from ui.papers.report.missing import lacks, uncertainty
from ui.papers.report.occasion import Occasion, in_order
from ui.papers.report.ratios import ratios
from ui.papers.report.references import references
from ui.papers.report.results import results
from ui.papers.report.sources import Sources
from ui.papers.report.wording import Pen
from ui.words.words import Words

CAUTIONS = ("pain", "breath", "injury", "clearance", "belt", "rules")
"""Keys of the words that are also shown before a battery starts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """What a session is held against."""

    earlier: tuple[Occasion, ...] = ()
    tables: tuple[ReferenceTable, ...] = ()
    known: Known = NOTHING_KNOWN


def build_report(
    occasion: Occasion,
    protocol: Protocol,
    *,
    words: Words,
    unit: ForceUnit,
    made: dt.datetime,
    version: str,
    beside: Beside | None = None,
) -> Report:
    """Return what the report of a session says.

    Parameters
    ----------
    occasion : Occasion
        The session, in numbers.
    protocol : Protocol
        What it was judged by.
    words, unit
        Language, and unit of force.
    made : datetime
        When the report is made, with its zone.
    version : str
        Of the program.
    beside : Beside, optional
        Earlier sessions, tables of references, what is known of the error of a change.

    Raises
    ------
    ArchiveError
        If an earlier session is not earlier, or of another person.
    """
    pen, beside = Pen(words, unit), beside or Beside()
    context = occasion.session.context
    return Report(
        language=words.language,
        title=pen("title"),
        subtitle=pen("subtitle", person=context.person.code or pen("head.no_code"), day=pen.day(context.started)),
        banner=pen("invented") if context.invented else "",
        sections=tuple(each for each in _sections(pen, occasion, protocol, beside) if each is not None),
        footer=pen("footer", made=pen.moment(made), version=version, session=context.session),
        page=words("report.page", page="{page}", pages="{pages}"),
    )


def _sections(pen: Pen, occasion: Occasion, protocol: Protocol, beside: Beside) -> Iterator[Section | None]:
    sources = Sources()
    yield head(pen, occasion, protocol)
    yield results(pen, occasion, protocol, sources)
    yield ratios(pen, occasion, sources)
    yield changes(pen, occasion, in_order(occasion, beside.earlier), beside.known, sources)
    yield references(pen, occasion, beside.tables, sources)
    yield left_out(pen, occasion)
    yield lacks(pen, occasion)
    yield uncertainty(pen, occasion)
    if sources.listed():
        yield Section(title=pen("sources"), blocks=(Notes(sentences=("; ".join(sources.listed()),), small=True),))
    yield _cautions(pen)


def _cautions(pen: Pen) -> Section:
    sentences = tuple(pen.words(f"caution.{key}") for key in CAUTIONS)
    return Section(
        title=pen("cautions"),
        blocks=(
            Notes(sentences=(" ".join((pen("not_a_device"), *sentences)),), small=True),
            Blanks(labels=(pen("signed.place"), pen("signed.by"))),
        ),
    )


def own_changes(pasts: Sequence[Occasion]) -> Known:
    """Return what one's own sessions say of the error of a change; see `analysis.reliability.retest`."""
    from analysis.reliability.published import load_published  # noqa: PLC0415 (with its tables)
    from analysis.reliability.retest import retest_reliability  # noqa: PLC0415

    scores = [score for past in pasts for score in past.scores.values()]
    return Known(own=retest_reliability(scores) if scores else (), published=load_published().rows)
