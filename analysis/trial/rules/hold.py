"""Rules about the hold: long enough, steady, level, and not overshot."""

from __future__ import annotations

import numpy as np

from analysis.trial.faults import Fault, graded, graded_below
from analysis.trial.number import Kind, Number
from analysis.trial.rules.evidence import Evidence, Rule, once
from analysis.trial.rules.examiner import examiner_pushed
from analysis.trial.steadiness import band_rms
from analysis.trial.windows import slope


def short_hold(evidence: Evidence) -> Fault | None:
    """The longest steady run."""
    held, rule = evidence.measures.hold_time_s, evidence.protocol.hold
    if held is None:
        return None
    grade = graded_below(held, warn=rule.warn_below_s, reject=rule.reject_below_s)
    if grade is None:
        return None
    start, stop = evidence.hold_span
    cut = evidence.phases.release is None
    sank = (evidence.measures.hold_trend_pct_per_s or 0.0) < -evidence.protocol.trend.warn_pct_per_s
    return Fault(
        code="short-hold",
        severity=grade.severity,
        measured=held,
        limit=grade.limit,
        kind=Kind.SECONDS,
        finding="recorded" if cut else "held" if held >= rule.score_s else "held-all",
        advice="cut" if cut else "sank" if sank else "stopped",
        start=start,
        stop=stop,
    )


def unsteady_hold(evidence: Evidence) -> Fault | None:
    """Spread of the held part about its trend."""
    phases, rule = evidence.phases, evidence.protocol.unsteady_hold
    measured = spread_pct(evidence)
    if measured is None:
        return None
    grade = graded(measured, warn=rule.warn_pct, reject=rule.reject_pct)
    if grade is None:
        return None
    return Fault(
        code="unsteady-hold",
        severity=grade.severity,
        measured=measured,
        limit=grade.limit,
        kind=Kind.PERCENT,
        start=evidence.at(phases.level_start),
        stop=evidence.at(phases.level_stop - 1),
    )


@once
def spread_pct(evidence: Evidence) -> float | None:
    """Return the standard deviation of the held part about its trend, % of the plateau; None below 3 samples."""
    effort, phases = evidence.effort, evidence.phases
    held = slice(phases.level_start, phases.level_stop)
    time, force = effort.time[held], effort.force[held]
    if len(force) < 3:
        return None
    rest = force - force.mean() - slope(time, force) * (time - time.mean())
    return evidence.percent(float(np.sqrt(rest @ rest / (len(rest) - 2))))


def still_rising(evidence: Evidence) -> Fault | None:
    """A hold that has not reached its level."""
    return _trend(evidence, rising=True)


def fading(evidence: Evidence) -> Fault | None:
    """A hold that sinks."""
    return _trend(evidence, rising=False)


def _trend(evidence: Evidence, *, rising: bool) -> Fault | None:
    trend, rule = evidence.measures.hold_trend_pct_per_s, evidence.protocol.trend
    if trend is None:
        return None
    grade = graded(trend if rising else -trend, warn=rule.warn_pct_per_s, reject=rule.reject_pct_per_s)
    if grade is None:
        return None
    return Fault(
        code="still-rising" if rising else "fading",
        severity=grade.severity,
        measured=trend,
        limit=grade.limit if rising else -grade.limit,
        kind=Kind.PERCENT_PER_S,
        start=evidence.at(evidence.phases.level_start),
        stop=evidence.at(evidence.phases.level_stop - 1),
    )


def overshoot(evidence: Evidence) -> Fault | None:
    """A peak above the plateau, unless the examiner made it."""
    peak, phases, rule = evidence.measures.peak_force_n, evidence.phases, evidence.protocol.overshoot
    if peak is None:
        return None
    measured = evidence.percent(peak)
    grade = graded(measured, warn=rule.warn_pct, reject=rule.reject_pct)
    if grade is None or examiner_pushed(evidence) is not None:
        return None
    return Fault(
        code="overshoot",
        severity=grade.severity,
        measured=measured,
        limit=grade.limit,
        kind=Kind.PERCENT,
        start=evidence.at(max(0, phases.peak_index - 1)),
        stop=evidence.at(phases.peak_index + 1),
    )


def tremor(evidence: Evidence) -> Fault | None:
    """Trembling of hands on the plateau; not judged on a sensor or a hold that cannot show it."""
    phases, rule = evidence.phases, evidence.protocol.tremor
    measured = tremor_pct(evidence)
    if measured is None:
        return None
    grade = graded(measured, warn=rule.warn_pct, reject=rule.reject_pct)
    if grade is None:
        return None
    return Fault(
        code="shake",
        severity=grade.severity,
        measured=measured,
        limit=grade.limit,
        kind=Kind.PERCENT,
        values=(Number("low", rule.low_hz, Kind.HERTZ), Number("high", rule.high_hz, Kind.HERTZ)),
        start=evidence.at(phases.level_start),
        stop=evidence.at(phases.level_stop - 1),
    )


@once
def tremor_pct(evidence: Evidence) -> float | None:
    """Return the trembling on the plateau, % of it; None where sensor or hold cannot show it."""
    effort, phases, rule = evidence.effort, evidence.phases, evidence.protocol.tremor
    held = effort.force[phases.level_start : phases.level_stop]
    if len(held) < 2.0 * effort.rate / rule.low_hz or rule.high_hz >= effort.rate / 2.0:
        return None
    return evidence.percent(band_rms(held, effort.rate, low_hz=rule.low_hz, high_hz=rule.high_hz))


RULES: tuple[Rule, ...] = (short_hold, unsteady_hold, still_rising, fading, overshoot, tremor)
