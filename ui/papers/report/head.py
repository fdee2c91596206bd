"""Who was tested, when, how, by whom and with what."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from acquire.values.calibration import Calibration, CalibrationState, residuals
from acquire.values.records import Side
from analysis.trial.protocol import Protocol
from ui.model.review.text import NOTHING
from ui.papers.report.content import Blanks, Facts, Section
from ui.papers.report.occasion import Occasion
from ui.papers.report.wording import Pen


def head(pen: Pen, occasion: Occasion, protocol: Protocol) -> Section:
    """Return the head of a report. No name is known; there is a line to write one on."""
    context = occasion.session.context
    pairs = (
        (pen("head.person"), _person(pen, occasion)),
        (pen("head.when"), pen.moment(context.started)),
        (pen("head.examiner"), ", ".join(_examiners(occasion)) or NOTHING),
        (pen("head.cautions"), pen.moment(context.cautions_acknowledged) if context.cautions_acknowledged else NOTHING),
        (pen("head.protocol"), pen("head.protocol_is", name=protocol.name, hash=protocol.hash)),
        (pen("head.trials"), _trials(pen, occasion)),
        (pen("head.sensor"), _sensors(pen, occasion)),
        (pen("head.calibration"), _calibrations(pen, occasion)),
    )
    return Section(title="", blocks=(Blanks(labels=(pen("head.name"),)), Facts(pairs=pairs)))


def how(pen: Pen, occasion: Occasion, protocol: Protocol) -> str:
    """Return in one sentence how the efforts were made and scored."""
    settings = occasion.summary.settings
    return pen(
        "how",
        score=pen(f"score.{settings.score.of.value}"),
        seconds=pen.number(protocol.hold.score_s, 0),
        trials=protocol.set.trials,
        agreement=pen.number(protocol.set.agreement_pct, 0),
        level=pen.number(settings.coverage.level_pct, 0),
    )


def _person(pen: Pen, occasion: Occasion) -> str:
    person = occasion.session.context.person
    parts = (
        person.code or pen("head.no_code"),
        pen.words(f"plan.{person.sex}") if person.sex else pen("lacks.sex"),
        pen("head.years", years=pen.number(person.age_years, 0)) if person.age_years is not None else pen("lacks.age"),
        f"{pen.number(person.mass_kg, 1)} kg" if person.mass_kg else pen("lacks.mass"),
        f"{pen.number(person.height_m, 2)} m" if person.height_m else pen("lacks.height"),
        _dominant(pen, person.dominant_side),
    )
    return ", ".join(parts)


def _dominant(pen: Pen, side: Side | None) -> str:
    return pen("lacks.dominant-side") if side is None else pen("head.dominant", side=pen.side(side))


def _examiners(occasion: Occasion) -> Iterable[str]:
    named = [occasion.session.context.examiner, *(each.trial.context.examiner for each in occasion.tried)]
    return dict.fromkeys(name for name in named if name)


def _trials(pen: Pen, occasion: Occasion) -> str:
    tried = occasion.tried
    aside = sum(each.trial.is_aside for each in tried)
    counted = sum(each.counts for each in tried)
    return pen("head.trials_are", all=len(tried), counted=counted, rejected=len(tried) - aside - counted, aside=aside)


def _sensors(pen: Pen, occasion: Occasion) -> str:
    rated = {each.trial.calibration.rated_force_n or 0.0 for each in occasion.tried} - {0.0}
    limits = [_whole_force(pen, force) for force in sorted(rated)]
    rates = sorted({round(each.trial.trace().sample_rate) for each in occasion.tried if len(each.trial.time) > 1})
    name = occasion.session.context.sensor or NOTHING
    parts = [name]
    if limits:
        parts.append(pen("head.rated", force=" / ".join(limits)))
    if rates:
        span = f"{rates[0]}" if len(rates) == 1 else f"{rates[0]}\u2013{rates[-1]}"
        parts.append(f"{span} Hz")
    return ", ".join(parts)


def _whole_force(pen: Pen, force_n: float) -> str:
    return f"{pen.number(force_n / pen.unit.newtons, 0)} {pen.unit.symbol}"


def _calibrations(pen: Pen, occasion: Occasion) -> str:
    day = occasion.session.context.started.date()
    found = dict.fromkeys(calibration_text(pen, each.trial.calibration, day) for each in occasion.tried)
    return "; ".join(found) or NOTHING


def calibration_text(pen: Pen, calibration: Calibration, day: dt.date) -> str:
    """Return what newtons rest on."""
    if calibration.date is None:
        return pen("calibration.missing")
    until = calibration.date + dt.timedelta(days=calibration.valid_days)
    state = "expired" if calibration.state(day) is CalibrationState.EXPIRED else "current"
    parts = [pen(f"calibration.{state}", date=pen.day(calibration.date), until=pen.day(until))]
    if calibration.serial:
        parts.append(pen("calibration.serial", serial=calibration.serial))
    if calibration.by:
        parts.append(pen("calibration.by", by=calibration.by))
    return ", ".join([*parts, _evidence(pen, calibration)])


def _evidence(pen: Pen, calibration: Calibration) -> str:
    count = len(calibration.points)
    if not count:
        return pen("calibration.no_loads")
    if count == 2:
        return pen("calibration.two_loads")
    largest = float(abs(residuals(calibration).force_n).max())
    top = max(abs(point.load_n) for point in calibration.points)
    return pen(
        "calibration.loads",
        count=count,
        top=_whole_force(pen, top),
        largest=f"{pen.number(largest / pen.unit.newtons, 2)} {pen.unit.symbol}",
    )
