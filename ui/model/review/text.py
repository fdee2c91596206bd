"""The words of Review: rows of its table, what a trial came to, and what a file is, in a language and a unit."""

from __future__ import annotations

from dataclasses import dataclass

from acquire.values.records import SetAside
from acquire.values.units import ForceUnit, from_newtons
from analysis.battery.actions import in_language, load_actions
from analysis.trial.faults import Fault, Severity
from analysis.trial.judged_trial import TIMES, JudgedTrial
from analysis.trial.measures import Measures
from analysis.trial.rfd import BANDS_MS
from analysis.trial.withheld import Reason, Withheld
from ui.model.review.review import ReviewModel
from ui.words.calibration_text import calibrations_sentence
from ui.words.fault_text import fault_name, fault_sentence
from ui.words.remark_text import remark_text
from ui.words.withheld_text import withheld_sentence
from ui.words.words import NOTHING, Words

GOOD, BAD, ASIDE, MILD = "\u2713", "\u2717", "\u2298", "!"
"""Marks that go with every colour."""

DIGITS = {ForceUnit.NEWTON: 1, ForceUnit.KILOGRAM_FORCE: 2, ForceUnit.POUND_FORCE: 1}
"""Figures after the point: a tenth of a newton, about as fine in the other units."""

COLUMNS = (
    "number",
    "action",
    "side",
    "method",
    "verdict",
    "plateau",
    "peak",
    "ramp",
    "hold",
    "spread",
    "faults",
)
NUMBERS = ("plateau", "peak", "ramp", "hold", "spread")
"""The columns that hold numbers."""

_FORCE, _RATE, _IMPULSE, _SECONDS, _PERCENT, _TREND = "{unit}", "{unit}/s", "{unit} s", "s", "%", "%/s"

_RATES = {"rfd_n_per_s": "rfd", "rfd_pct_per_s": "rfd_relative"}
"""The words of the measures that are one number a band."""

_UNITS = {
    "plateau_force_n": _FORCE,
    "peak_force_n": _FORCE,
    "hold_time_s": _SECONDS,
    "ramp_time_s": _SECONDS,
    "rise_10_90_s": _SECONDS,
    "time_to_50_pct_s": _SECONDS,
    "hold_cv_pct": _PERCENT,
    "hold_trend_pct_per_s": _TREND,
    "fatigue_index_pct": _PERCENT,
    "time_to_peak_s": _SECONDS,
    "ramp_slope_n_per_s": _RATE,
    "peak_rfd_n_per_s": _RATE,
    "rfd_n_per_s": _RATE,
    "rfd_pct_per_s": _TREND,
    "impulse_n_s": _IMPULSE,
    "baseline_n": _FORCE,
    "onset_s": _SECONDS,
    "onset_uncertainty_s": _SECONDS,
    "plateau_start_s": _SECONDS,
    "plateau_end_s": _SECONDS,
    "release_s": _SECONDS,
}
"""Every measure in the order in which it is shown: what is asked for most comes first."""

_FINE = ("onset_s", "onset_uncertainty_s")
"""Seconds that are shown to the millisecond: early rates hang on them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialRow:
    """One trial in the table."""

    cells: tuple[str, ...]
    """In the order of `COLUMNS`."""
    accepted: bool
    aside: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureLine:
    """One measure of a trial."""

    name: str
    value: str
    unit: str
    meaning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultLine:
    """One fault of a trial."""

    mark: str
    name: str
    text: str
    rejects: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Details:
    """All that one trial came to."""

    title: str
    verdict: str
    accepted: bool
    aside: bool
    cut_off: str
    """What ended the record before the trial did; empty where nothing did."""
    stored: str
    """What it came to when it was recorded; empty when that is the same, or nothing is stored."""
    faults: tuple[FaultLine, ...]
    decisions: tuple[str, ...]
    notes: tuple[str, ...]
    damage: tuple[str, ...]
    measures: tuple[MeasureLine, ...]
    withheld: tuple[tuple[str, str], ...]
    """Names of measures, and the reason why they are not shown."""


def rows(model: ReviewModel, words: Words, unit: ForceUnit) -> tuple[TrialRow, ...]:
    """Return the table: every trial of the file, those set aside too."""
    return tuple(_row(model, index, words, unit) for index in range(len(model.trials)))


def _row(model: ReviewModel, index: int, words: Words, unit: ForceUnit) -> TrialRow:
    judged = model.trials[index]
    measures, context = judged.judgement.measures, judged.trial.context
    return TrialRow(
        cells=(
            str(index + 1),
            action_name(context.action, words) or judged.name or NOTHING,
            words(f"test.{context.side}") if context.side else NOTHING,
            words(f"test.{context.method}") if model.can_decide else NOTHING,
            verdict_of(model, index, words),
            force(measures.plateau_force_n, unit, words),
            force(measures.peak_force_n, unit, words),
            words.number(measures.ramp_time_s, 2),
            words.number(measures.hold_time_s, 1),
            words.number(measures.hold_cv_pct, 1),
            ", ".join(_fault_name(fault, words) for fault in judged.faults),
        ),
        accepted=judged.judgement.verdict == "accepted",
        aside=_aside(model, index),
    )


def _aside(model: ReviewModel, index: int) -> bool:
    """Whether a trial is set aside, by somebody or because the recording ended before it did."""
    return model.is_aside(index) or model.trials[index].cut_off is not None


def verdict_of(model: ReviewModel, index: int, words: Words) -> str:
    """Return whether a trial counts, and what is stored where that differs."""
    if _aside(model, index):
        return f"{ASIDE} {words('review.is_aside')}"
    now, stored = model.trials[index].judgement.verdict, model.stored_verdict(index)
    text = words(f"review.{now}")
    if stored is not None and stored.verdict != now and stored.verdict in {"accepted", "rejected"}:
        text = words("review.was", now=text, then=words(f"review.{stored.verdict}"))
    return f"{GOOD if now == 'accepted' else BAD} {text}"


def details(model: ReviewModel, words: Words, unit: ForceUnit) -> Details | None:
    """Return what the selected trial came to; None when none is selected."""
    index = model.selected
    if index is None:
        return None
    judged = model.trials[index]
    judgement = judged.judgement
    return Details(
        title=title_of(judged, index, words),
        verdict=verdict_of(model, index, words),
        accepted=judgement.verdict == "accepted",
        aside=_aside(model, index),
        cut_off="" if judged.cut_off is None else remark_text(judged.cut_off, words),
        stored=_stored(model, index, words),
        faults=tuple(_fault_line(fault, words, unit) for fault in judged.faults),
        decisions=tuple(_decision(decision, words) for decision in judged.trial.set_aside),
        notes=tuple(words("review.note", at=words.moment(n.at), by=n.by, text=n.text) for n in judged.trial.notes),
        damage=tuple(remark_text(each, words) for each in judged.trial.damage),
        measures=_measures(judged, words, unit),
        withheld=_withheld(judgement.withheld, words),
    )


def title_of(judged: JudgedTrial, index: int, words: Words) -> str:
    """Return a trial by its number, and what it was."""
    context = judged.trial.context
    what = [action_name(context.action, words) or judged.name, words(f"test.{context.side}") if context.side else ""]
    return ", ".join([words("review.trial", number=index + 1), *(word for word in what if word)])


def about(model: ReviewModel, words: Words) -> tuple[str, ...]:
    """Return what is open, a phrase each: file, person, date, examiner, protocol, calibration."""
    opened = model.opened
    if opened is None:
        return ()
    day = None if opened.session is None else opened.session.context.started.date()
    known = calibrations_sentence(opened.trials, day, words)
    judged_by = words("review.judged_by", name=model.protocol.name)
    phrases = [opened.path.name]
    if opened.session is not None:
        context = opened.session.context
        phrases += [
            words("review.person", code=context.person.code) if context.person.code else "",
            words.moment(context.started),
            words("review.examiner", code=context.examiner) if context.examiner else "",
            words("review.invented") if context.invented else "",
        ]
    if opened.contacts:
        phrases.append(words("review.contacts", count=opened.contacts))
    return tuple(phrase for phrase in (*phrases, judged_by, known) if phrase)


def curves_heard(model: ReviewModel, words: Words, unit: ForceUnit) -> str:
    """Return the curves in words, for those who do not see them; empty where none is shown."""
    index = model.selected
    if index is None:
        return ""
    judged = model.trials[index]
    measures = judged.judgement.measures
    told = words(
        "review.heard",
        title=title_of(judged, index, words),
        verdict=verdict_of(model, index, words)[2:],
        plateau=force(measures.plateau_force_n, unit, words),
        unit=unit.symbol,
        ramp=words.number(measures.ramp_time_s, 2),
        hold=words.number(measures.hold_time_s, 1),
    )
    faults = ", ".join(_fault_name(fault, words) for fault in judged.faults)
    under = ", ".join(str(number + 1) for number in model.overlaid)
    parts = [
        told,
        words("review.heard_faults", faults=faults) if faults else "",
        words("review.heard_under", numbers=under) if under else "",
    ]
    return " ".join(filter(None, parts))


def limits(model: ReviewModel, words: Words) -> str:
    """Return the protocol that the trials are judged by, with the hash that names its limits."""
    return words("review.limits", name=model.protocol.name, hash=model.protocol.hash)


def action_name(key: str | None, words: Words) -> str:
    """Return what an action is called: a user's own by the words of its key; any action if empty, nothing for None."""
    if not key:
        return "" if key is None else words("card.free")
    known = load_actions().get(key)
    return key.replace("-", " ") if known is None else in_language(known, words.language).name


def force(value: float | None, unit: ForceUnit, words: Words) -> str:
    """Return a force in a unit, without the unit."""
    return NOTHING if value is None else words.number(from_newtons(value, unit), DIGITS[unit])


def _fault_name(fault: Fault, words: Words) -> str:
    name = fault_name(fault.code, words)
    return name if fault.severity is Severity.REJECT else f"({name})"


def _fault_line(fault: Fault, words: Words, unit: ForceUnit) -> FaultLine:
    rejects = fault.severity is Severity.REJECT
    name = fault_name(fault.code, words)
    text = fault_sentence(fault, words, unit)
    return FaultLine(
        mark=BAD if rejects else MILD,
        name=name if rejects else f"{name} ({words('review.warning')})",
        text=text,
        rejects=rejects,
    )


def _decision(decision: SetAside, words: Words) -> str:
    return words(
        "review.decided_aside" if decision.aside else "review.decided_back",
        at=words.moment(decision.at),
        by=decision.by,
        reason=remark_text(decision.reason, words),
    )


def _stored(model: ReviewModel, index: int, words: Words) -> str:
    stored = model.stored_verdict(index)
    now = model.trials[index].judgement.verdict
    if stored is None or (stored.verdict, stored.hash) == (now, model.protocol.hash):
        return ""
    known = stored.verdict in {"accepted", "rejected"}
    verdict = words(f"review.{stored.verdict}") if known else stored.verdict
    return words("review.stored", verdict=verdict, protocol=stored.protocol)


def _measures(judged: JudgedTrial, words: Words, unit: ForceUnit) -> tuple[MeasureLine, ...]:
    """Return a line for every number there is."""
    measures = judged.judgement.measures
    lines = _resting(judged, words, unit)
    for name, template in _UNITS.items():
        for key, value in _values(measures, name).items():
            if value is None:
                continue
            shown = value + judged.origin if name in TIMES else value
            lines.append(
                MeasureLine(
                    name=_measure_name(key, words),
                    value=_value(shown, template, unit, words, digits=3 if name in _FINE else 2),
                    unit=template.format(unit=unit.symbol),
                    meaning=words(f"review.meaning.{_RATES.get(name, name)}"),
                )
            )
    return tuple(lines)


def _resting(judged: JudgedTrial, words: Words, unit: ForceUnit) -> list[MeasureLine]:
    """Return a line for the limb that rested on the pad; none where none did."""
    resting = judged.trial.resting_n
    name, meaning = words("review.measure.resting"), words("review.meaning.resting")
    shown = force(resting, unit, words)
    return [MeasureLine(name=name, value=shown, unit=unit.symbol, meaning=meaning)] if resting else []


def _values(measures: Measures, name: str) -> dict[str, float | None]:
    """Return a measure by its key in `Withheld`: the rates of force development are one for each band."""
    value = getattr(measures, name)
    if name not in _RATES:
        return {name: value}
    return {f"{name}.0-{band}": value.get(f"0-{band}") for band in BANDS_MS}


def _value(value: float, template: str, unit: ForceUnit, words: Words, *, digits: int) -> str:
    if "{unit}" in template:
        return force(value, unit, words)
    return words.number(value, 1 if "%" in template else digits)


def _measure_name(key: str, words: Words) -> str:
    name, _, band = key.partition(".0-")
    return words(f"review.measure.{_RATES[name]}", ms=band) if name in _RATES else words(f"review.measure.{name}")


def _withheld(withheld: Withheld, words: Words) -> tuple[tuple[str, str], ...]:
    """Return the reasons, each with all that it is the reason of."""
    reasons: dict[Reason, list[str]] = {}
    for key, reason in withheld.items():
        keys = [f"{key}.0-{band}" for band in BANDS_MS] if key in _RATES else [key]
        reasons.setdefault(reason, []).extend(_measure_name(each, words) for each in keys)
    return tuple((", ".join(names), withheld_sentence(reason, words)) for reason, names in reasons.items())
