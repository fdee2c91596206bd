"""Rules about what comes before the hold: rest, onset and ramp."""

from __future__ import annotations

import numpy as np

from analysis.trial.faults import Fault, Severity, graded, graded_below
from analysis.trial.number import Kind, Number
from analysis.trial.rules.evidence import Evidence, Rule, once
from analysis.trial.windows import first_true

WARN, REJECT = Severity.WARN, Severity.REJECT

BEGUN = 0.03
"""In a trace that begins with the force on, the ramp has begun when this share of the way to the plateau is done."""

NOT_TREMOR = 0.4
"""A fall within the ramp keeps this share of itself in the smoothing of the hold; a swing of tremor does not."""


def preload(evidence: Evidence) -> Fault | None:
    """Force before the onset, or a near-constant stretch that the ramp starts from."""
    rule = evidence.protocol.preload
    start, stop = _before_ramp(evidence)
    measured = preload_pct(evidence)
    grade = graded(measured, warn=rule.warn_pct, reject=rule.reject_pct)
    if grade is None:
        return None
    return Fault(
        code="preload",
        severity=grade.severity,
        measured=measured,
        limit=grade.limit,
        kind=Kind.PERCENT,
        start=evidence.at(start),
        stop=evidence.at(max(stop - 1, 0)),
    )


@once
def preload_pct(evidence: Evidence) -> float:
    """Return the force that was on before the ramp, % of the plateau."""
    start, stop = _before_ramp(evidence)
    before = float(evidence.effort.force[start:stop].mean()) if stop > start else 0.0
    return evidence.percent(max(evidence.phases.baseline, before))


def _before_ramp(evidence: Evidence) -> tuple[int, int]:
    """Return the samples just before the ramp."""
    effort, phases = evidence.effort, evidence.phases
    window = effort.samples(evidence.protocol.preload.window_s)
    if phases.onset is not None:
        return max(0, phases.onset_index - window), phases.onset_index
    # the trace begins with the force on: what it rises from is before the ramp, and nothing else is
    first = float(effort.fine[0])
    risen = first_true(effort.fine > first + BEGUN * (phases.plateau_force - first), 0)
    return 0, min(window, max(1, risen or 0))


def countermovement(evidence: Evidence) -> Fault | None:
    """A dip below the baseline just before the onset: a wind-up, or a hand that lets go."""
    effort, phases, rule = evidence.effort, evidence.phases, evidence.protocol.countermovement
    start = max(0, phases.onset_index - effort.samples(rule.window_s))
    if phases.onset is None or start >= phases.onset_index:
        return None
    lowest = start + int(np.argmin(effort.fine[start : phases.onset_index]))
    depth = phases.baseline - float(effort.fine[lowest])
    grade = graded(evidence.percent(depth), warn=rule.warn_pct, reject=rule.reject_pct)
    if grade is None or depth <= rule.noise_sds * effort.noise:
        return None
    measured = evidence.percent(depth)
    return Fault(
        code="countermovement",
        severity=grade.severity,
        measured=measured,
        limit=grade.limit,
        kind=Kind.PERCENT,
        start=evidence.at(start),
        stop=evidence.at(phases.onset_index),
    )


def fast_ramp(evidence: Evidence) -> Fault | None:
    """A ramp shorter than instructed."""
    return _ramp_time(evidence, fast=True)


def slow_ramp(evidence: Evidence) -> Fault | None:
    """A ramp longer than instructed."""
    return _ramp_time(evidence, fast=False)


def _ramp_time(evidence: Evidence, *, fast: bool) -> Fault | None:
    taken, rule, told = evidence.measures.ramp_time_s, evidence.protocol.ramp, evidence.protocol.instruction
    if taken is None:
        return None
    finding = "onset" if fast else ""
    if fast:
        grade = graded_below(taken, warn=rule.warn_below_s, reject=rule.reject_below_s)
        rise = evidence.measures.rise_10_90_s
        # the onset of a rounded ramp is unsure, its middle is not
        if rise is not None:
            steep = graded_below(rise, warn=rule.rise_warn_below_s, reject=rule.rise_reject_below_s)
            if steep is not None and (grade is None or (steep[0], grade.severity) == (REJECT, WARN)):
                finding, taken, grade = "middle", rise, steep
    else:
        grade = graded(taken, warn=rule.warn_above_s, reject=rule.reject_above_s)
    if grade is None:
        return None
    return Fault(
        code="fast-ramp" if fast else "slow-ramp",
        severity=grade.severity,
        measured=taken,
        limit=grade.limit,
        kind=Kind.SECONDS,
        values=(
            Number("least", told.ramp_least_s, Kind.SECONDS),
            Number("most", told.ramp_most_s, Kind.SECONDS),
        ),
        finding=finding,
        start=evidence.at(evidence.phases.onset_index),
        stop=evidence.phases.ramp_end,
    )


def steepest_rise(evidence: Evidence) -> Fault | None:
    """The steepest stretch of the ramp."""
    found, rule = steepest(evidence), evidence.protocol.steepest_rise
    if found is None:
        return None
    measured, start = found
    grade = graded(measured, warn=rule.warn_pct_per_s, reject=rule.reject_pct_per_s)
    if grade is None:
        return None
    return Fault(
        code="jerk",
        severity=grade.severity,
        measured=measured,
        limit=grade.limit,
        kind=Kind.PERCENT_PER_S,
        start=evidence.at(start),
        stop=evidence.at(start + evidence.effort.samples(rule.window_s)),
    )


@once
def steepest(evidence: Evidence) -> tuple[float, int] | None:
    """Return the steepest stretch of the ramp, % of the plateau per second, and its first sample; None without one."""
    effort, phases = evidence.effort, evidence.phases
    width = effort.samples(evidence.protocol.steepest_rise.window_s)
    begin = max(0, phases.onset_index - width)
    ramp = effort.fine[begin : phases.ramp_stop + width]
    if phases.onset is None or len(ramp) <= width:
        return None
    rises = ramp[width:] - ramp[:-width]
    at = int(np.argmax(rises))
    return evidence.percent(float(rises[at])) * effort.rate / width, begin + at


def stepped_ramp(evidence: Evidence) -> Fault | None:
    """A fall within the ramp that tremor does not explain."""
    effort, phases, rule = evidence.effort, evidence.phases, evidence.protocol.stepped_ramp
    part = slice(phases.onset_index, phases.ramp_stop + 1)
    ramp = effort.fine[part]
    if phases.onset is None or len(ramp) < 2:
        return None
    falls, calm = (np.maximum.accumulate(each[part]) - each[part] for each in (effort.fine, effort.smooth))
    lowest = int(np.argmax(falls))
    measured = evidence.percent(float(falls[lowest]))
    grade = graded(measured, warn=rule.warn_pct, reject=rule.reject_pct)
    if grade is None or calm.max() < NOT_TREMOR * falls[lowest]:
        return None
    return Fault(
        code="stepped-ramp",
        severity=grade.severity,
        measured=measured,
        limit=grade.limit,
        kind=Kind.PERCENT,
        start=evidence.at(phases.onset_index + int(np.argmax(ramp[: lowest + 1]))),
        stop=evidence.at(phases.onset_index + lowest),
    )


RULES: tuple[Rule, ...] = (preload, countermovement, fast_ramp, slow_ramp, steepest_rise, stepped_ramp)
