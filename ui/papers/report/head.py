"""Who was tested, when, how, by whom and with what."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from acquire.values.calibration import Calibration, CalibrationState, residuals
from acquire.values.records import Side
from analysis.trial.protocol import Protocol
from ui.papers.report.content import Blanks, Facts, Section
from ui.papers.report.occasion import Occasion
from ui.papers.report.wording import Wording
from ui.words.words import NOTHING


def head(wording: Wording, occasion: Occasion, protocol: Protocol) -> Section:
    """Return the head of a report. No name is known; there is a line to write one on."""
    context = occasion.session.context
    pairs = (
        (wording("head.person"), _person(wording, occasion)),
        (wording("head.when"), wording.moment(context.started)),
        (wording("head.examiner"), ", ".join(_examiners(occasion)) or NOTHING),
        (
            wording("head.cautions"),
            wording.moment(context.cautions_acknowledged) if context.cautions_acknowledged else NOTHING,
        ),
        (wording("head.protocol"), _protocol(wording, occasion, protocol)),
        (wording("head.trials"), _trials(wording, occasion)),
        (wording("head.sensor"), _sensors(wording, occasion)),
        (wording("head.calibration"), _calibrations(wording, occasion)),
    )
    return Section(title="", blocks=(Blanks(labels=(wording("head.name"),)), Facts(pairs=pairs)))


def how(wording: Wording, occasion: Occasion, protocol: Protocol) -> str:
    """Return in one sentence how the efforts were made and scored."""
    settings = occasion.summary.settings
    return wording(
        "how",
        trial=wording(f"trial_score.{settings.score.trial.value}", seconds=wording.number(protocol.hold.score_s, 0)),
        score=wording(f"score.{settings.score.of.value}"),
        trials=protocol.set.trials,
        agreement=wording.number(protocol.set.agreement_pct, 0),
        level=wording.number(settings.coverage.level_pct, 0),
    )


def _protocol(wording: Wording, occasion: Occasion, protocol: Protocol) -> str:
    settings = occasion.summary.settings
    return wording(
        "head.protocol_is",
        name=protocol.name,
        hash=protocol.hash,
        settings=settings.name,
        settings_hash=settings.hash,
    )


def _person(wording: Wording, occasion: Occasion) -> str:
    person = occasion.session.context.person
    parts = (
        person.code or wording("head.no_code"),
        wording.words(f"plan.{person.sex}") if person.sex else wording("lacks.sex"),
        wording("head.years", years=wording.number(person.age_years, 0))
        if person.age_years is not None
        else wording("lacks.age"),
        f"{wording.number(person.mass_kg, 1)} kg" if person.mass_kg else wording("lacks.mass"),
        f"{wording.number(person.height_m, 2)} m" if person.height_m else wording("lacks.height"),
        _dominant(wording, person.dominant_side),
    )
    return ", ".join(parts)


def _dominant(wording: Wording, side: Side | None) -> str:
    return wording("lacks.dominant-side") if side is None else wording("head.dominant", side=wording.side(side))


def _examiners(occasion: Occasion) -> Iterable[str]:
    named = [occasion.session.context.examiner, *(each.trial.context.examiner for each in occasion.trials)]
    return dict.fromkeys(name for name in named if name)


def _trials(wording: Wording, occasion: Occasion) -> str:
    judged = occasion.trials
    aside = sum(each.trial.is_aside for each in judged)
    counted = sum(each.counts for each in judged)
    return wording(
        "head.trials_are", all=len(judged), counted=counted, rejected=len(judged) - aside - counted, aside=aside
    )


def _sensors(wording: Wording, occasion: Occasion) -> str:
    rated = {each.trial.calibration.rated_force_n or 0.0 for each in occasion.trials} - {0.0}
    limits = [_whole_force(wording, force) for force in sorted(rated)]
    rates = sorted({round(each.trial.trace().sample_rate) for each in occasion.trials if len(each.trial.time) > 1})
    name = occasion.session.context.sensor or NOTHING
    parts = [name]
    if limits:
        parts.append(wording("head.rated", force=" / ".join(limits)))
    if rates:
        span = f"{rates[0]}" if len(rates) == 1 else f"{rates[0]}\u2013{rates[-1]}"
        parts.append(f"{span} Hz")
    return ", ".join(parts)


def _whole_force(wording: Wording, force_n: float) -> str:
    return f"{wording.number(force_n / wording.unit.newtons, 0)} {wording.unit.symbol}"


def _calibrations(wording: Wording, occasion: Occasion) -> str:
    day = occasion.session.context.started.date()
    found = dict.fromkeys(calibration_text(wording, each.trial.calibration, day) for each in occasion.trials)
    return "; ".join(found) or NOTHING


def calibration_text(wording: Wording, calibration: Calibration, day: dt.date) -> str:
    """Return what newtons rest on."""
    made, until = calibration.date, calibration.last_day
    if made is None or until is None:
        return wording("calibration.missing")
    state = "expired" if calibration.state(day) is CalibrationState.EXPIRED else "current"
    parts = [wording(f"calibration.{state}", date=wording.day(made), until=wording.day(until))]
    if calibration.serial:
        parts.append(wording("calibration.serial", serial=calibration.serial))
    if calibration.by:
        parts.append(wording("calibration.by", by=calibration.by))
    return ", ".join([*parts, _evidence(wording, calibration)])


def _evidence(wording: Wording, calibration: Calibration) -> str:
    count = len(calibration.points)
    if not count:
        return wording("calibration.no_loads")
    if count == 2:
        return wording("calibration.two_loads")
    largest = float(abs(residuals(calibration).force_n).max())
    top = max(abs(point.load_n) for point in calibration.points)
    return wording(
        "calibration.loads",
        count=count,
        top=_whole_force(wording, top),
        largest=f"{wording.number(largest / wording.unit.newtons, 2)} {wording.unit.symbol}",
    )
