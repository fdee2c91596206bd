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
from ui.papers.report.excluded import excluded_section
from ui.papers.report.head import head
from ui.papers.report.missing import missing_section, uncertainty
from ui.papers.report.occasion import Occasion, in_order
from ui.papers.report.ratios import ratios
from ui.papers.report.references import references
from ui.papers.report.results import results
from ui.papers.report.sources import Sources
from ui.papers.report.wording import Wording
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
    wording, beside = Wording(words, unit), beside or Beside()
    context = occasion.session.context
    return Report(
        language=words.language,
        title=wording("title"),
        subtitle=wording(
            "subtitle", person=context.person.code or wording("head.no_code"), day=wording.day(context.started)
        ),
        banner=wording("invented") if context.invented else "",
        sections=tuple(each for each in _sections(wording, occasion, protocol, beside) if each is not None),
        footer=wording("footer", made=wording.moment(made), version=version, session=context.session),
        page=words("report.page", page="{page}", pages="{pages}"),
    )


def _sections(wording: Wording, occasion: Occasion, protocol: Protocol, beside: Beside) -> Iterator[Section | None]:
    sources = Sources()
    yield head(wording, occasion, protocol)
    yield results(wording, occasion, protocol, sources)
    yield ratios(wording, occasion, sources)
    yield changes(wording, occasion, in_order(occasion, beside.earlier), beside.known, sources)
    yield references(wording, occasion, beside.tables, sources)
    yield excluded_section(wording, occasion)
    yield missing_section(wording, occasion)
    yield uncertainty(wording, occasion)
    if sources.listed():
        yield Section(title=wording("sources"), blocks=(Notes(sentences=("; ".join(sources.listed()),), small=True),))
    yield _cautions(wording)


def _cautions(wording: Wording) -> Section:
    sentences = tuple(wording.words(f"caution.{key}") for key in CAUTIONS)
    return Section(
        title=wording("cautions"),
        blocks=(
            Notes(sentences=(" ".join((wording("not_a_device"), *sentences)),), small=True),
            Blanks(labels=(wording("signed.place"), wording("signed.by"))),
        ),
    )


def own_changes(pasts: Sequence[Occasion]) -> Known:
    """Return what one's own sessions say of the error of a change; see `analysis.reliability.retest`."""
    from analysis.reliability.published import load_published  # noqa: PLC0415 (with its tables)
    from analysis.reliability.retest import retest_reliability  # noqa: PLC0415

    scores = [score for past in pasts for score in past.scores.values()]
    return Known(own=retest_reliability(scores) if scores else (), published=load_published().rows)
