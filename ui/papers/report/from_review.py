"""The report of the session that Review shows, judged by the protocol that Review judges by."""

from __future__ import annotations

from acquire.errors import ArchiveError
from acquire.storage.walk import shown_name
from acquire.values.units import ForceUnit
from ui.model.review.review import ReviewModel
from ui.papers.report.occasion import Occasion
from ui.papers.report.write import Written, make_report, places_of, write_report
from ui.words.words import Words


def report_of(model: ReviewModel, words: Words, unit: ForceUnit) -> Written:
    """Write the report of the open session beside its file, and return where it is.

    Raises
    ------
    ArchiveError
        If no session is open, or the report cannot be written.
    """
    opened, summary = model.opened, model.summary  # Review has judged every trial already
    if opened is None or opened.session is None or summary is None:
        raise ArchiveError(f"{opened.path if opened else 'nothing'}: is no session file, so there is no report")
    occasion = Occasion(
        session=opened.session,
        trials=model.trials,
        summary=summary,
        protocol=model.protocol,
        name=shown_name(opened.path.name),
    )
    report = make_report(occasion, model.protocol, words=words, unit=unit)
    places = places_of(opened.path, None)
    write_report(report, places)
    return places
