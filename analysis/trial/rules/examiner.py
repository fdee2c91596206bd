"""Rules about the examiner: pushing, giving way, holding more than they can."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from acquire.values.records import FloatArray
from analysis.trial.faults import Fault, SaidForce, Severity
from analysis.trial.phases import LEVEL_BLOCK_S, dips, usual_level
from analysis.trial.protocol import ExaminerPushed
from analysis.trial.rules.evidence import Evidence, Rule
from analysis.trial.windows import block_means, slope

SETTLED = 0.1
"""A plateau before a second rise stays within this share of its mean."""

NEW_HEIGHT = 1.05
"""A second rise goes higher than anything before it by this factor: the crest of a wave does not."""

STEP_S = 0.2
"""A step down happens within this."""

STEADY_S = 1.0
"""The slide before a step, and the lower hold after it that no release has, last this long."""


def examiner_pushed(evidence: Evidence) -> Fault | None:
    """A second rise after some plateau that ends in a cliff: the examiner broke the hold."""
    effort, phases, rule = evidence.effort, evidence.phases, evidence.protocol.examiner_pushed
    width = effort.samples(LEVEL_BLOCK_S)
    levels = block_means(effort.force[phases.level_start :], width)
    found = [rise for rise in _second_rises(evidence, levels) if _breaks(levels, rise.top, rise.level, rule)]
    if not found:
        return None
    rise = max(found, key=lambda each: each.percent)
    return Fault(
        code="examiner-pushed",
        severity=Severity.REJECT,
        measured=rise.percent,
        limit=rule.rise_pct,
        text=f"The force rose a second time by {rise.percent:.0f} %, more than {rule.rise_pct:.0f} %, and then broke: "
        "hold the sensor still and let the person push; do not push against them.",
        start=evidence.at(phases.level_start + rise.start * width),
        stop=evidence.at(phases.level_start + rise.top * width + effort.samples(rule.fall_within_s)),
    )


class _Rise(NamedTuple):
    """A rise from a settled level, in blocks."""

    percent: float
    start: int
    top: int
    level: float


def _second_rises(evidence: Evidence, levels: FloatArray) -> list[_Rise]:
    """Return every quick rise from a settled plateau to a new height."""
    rule = evidence.protocol.examiner_pushed
    count, reach = round(rule.plateau_s / LEVEL_BLOCK_S), round(rule.rise_within_s / LEVEL_BLOCK_S)
    if len(levels) <= count + reach:
        return []
    before = np.lib.stride_tricks.sliding_window_view(levels[:-reach], count)[:-1]
    ahead = np.lib.stride_tricks.sliding_window_view(levels[count:], reach + 1)
    means, highest = before.mean(axis=1), np.maximum.accumulate(levels)[count - 1 : -reach - 1]
    rises = ahead.max(axis=1) / np.maximum(means, 1e-9) - 1.0
    time = np.asarray(np.arange(count) * LEVEL_BLOCK_S, dtype=np.float64)
    quick = (rises > rule.rise_pct / 100.0) & (ahead.max(axis=1) > NEW_HEIGHT * highest)
    quick &= (means >= 0.5 * evidence.phases.plateau_force) & (np.ptp(before, axis=1) <= SETTLED * means)
    return [
        _Rise(100.0 * float(rises[i]), int(i) + count, int(i) + count + int(np.argmax(ahead[i])), float(means[i]))
        for i in np.flatnonzero(quick)
        if abs(evidence.percent(slope(time, before[i]))) < evidence.protocol.trend.reject_pct_per_s
    ]


def _breaks(levels: FloatArray, top: int, level: float, rule: ExaminerPushed) -> bool:
    """Tell whether the force falls off a cliff soon after the top, and stays down."""
    span = round(rule.fall_within_s / LEVEL_BLOCK_S)
    after = levels[top : top + round(rule.rise_within_s / LEVEL_BLOCK_S) + span + 1]
    falls = [float(after[i] - after[i + 1 : i + 1 + span].min()) for i in range(len(after) - 1)]
    return max(falls, default=0.0) > rule.fall_pct / 100.0 * level and bool((levels[top + len(after) :] < level).all())


def gave_way(evidence: Evidence) -> Fault | None:
    """Drops with quick recovery, or a slide that ends in a step: the examiner was overpowered."""
    effort, phases, rule = evidence.effort, evidence.phases, evidence.protocol.gave_way
    depth = rule.drop_pct / 100.0 * phases.plateau_force
    found = [dip for dip in dips(effort, phases, depth=depth) if _is_drop(evidence, dip)]
    slide = _slide_and_step(evidence, depth)
    count = len(found) + (slide is not None)
    if count < rule.warn_count:
        return None
    severity = Severity.REJECT if count >= rule.reject_count else Severity.WARN
    limit = rule.reject_count if severity is Severity.REJECT else rule.warn_count
    spans = found if slide is None else [*found, slide]
    times = "once" if count == 1 else f"{count} times"
    return Fault(
        code="gave-way",
        severity=severity,
        measured=float(count),
        limit=float(limit),
        text=f"The force dropped by more than {rule.drop_pct:.0f} % and came back {times}, where {limit} is the "
        "limit: the person may be stronger than your hold, so brace better or use a belt.",
        start=evidence.at(min(a for a, _ in spans)),
        stop=evidence.at(max(b for _, b in spans)),
    )


def _is_drop(evidence: Evidence, dip: tuple[int, int]) -> bool:
    """Tell a drop of the hand from a wave: short, sudden, and with no crest as high as the trough is deep."""
    effort, phases, rule = evidence.effort, evidence.phases, evidence.protocol.gave_way
    start, stop = dip
    if not rule.shortest_s <= (stop - start) / effort.rate <= rule.recovery_s:
        return False
    held = effort.smooth[phases.level_start : phases.level_stop]
    level = usual_level(effort, phases)
    trough = level - float(effort.smooth[start:stop].min())
    crest = float(np.percentile(held, 95)) - level
    before = effort.smooth[max(phases.level_start, start - effort.samples(1.5 * STEP_S)) : start + 1]
    return trough >= 2.0 * crest and float(before.max()) >= level - 0.4 * trough


def _slide_and_step(evidence: Evidence, depth: float) -> tuple[int, int] | None:
    """Return where a slow slide ends in a step down that is not the release, as samples; None when nowhere."""
    effort, phases, rule = evidence.effort, evidence.phases, evidence.protocol.gave_way
    width = effort.samples(LEVEL_BLOCK_S)
    levels = block_means(effort.force[phases.level_start : phases.release_index], width)
    step, around = round(STEP_S / LEVEL_BLOCK_S), round(STEADY_S / LEVEL_BLOCK_S)
    time = np.asarray(np.arange(around) * LEVEL_BLOCK_S, dtype=np.float64)
    for at in range(around, len(levels) - step - around):
        lower = levels[at + step : at + step + around]
        if levels[at] - float(lower.max()) < depth or float(np.ptp(lower)) > SETTLED * float(lower.mean()):
            continue
        slide = evidence.percent(slope(time, levels[at - around : at]))
        if slide < -rule.slide_pct_per_s:
            first = phases.level_start + (at - around) * width
            return first, phases.level_start + (at + step) * width
    return None


def examiner_limit(evidence: Evidence) -> Fault | None:
    """A hand-held plateau above what this examiner can hold."""
    own, rule = evidence.context.examiner_limit_n, evidence.protocol.examiner_limit
    if own is None or evidence.context.method != "hand":
        return None
    measured, limit = evidence.phases.plateau_force, rule.warn_pct / 100.0 * own
    if measured <= limit:
        return None
    forces = plateau, own_limit = SaidForce(measured), SaidForce(limit)
    return Fault(
        code="examiner-limit",
        severity=Severity.WARN,
        measured=measured,
        limit=limit,
        text=f"The plateau of {plateau} is above the {own_limit} that this examiner can hold, so it may be too low: "
        "repeat it with a belt.",
        forces=forces,
    )


RULES: tuple[Rule, ...] = (examiner_pushed, gave_way, examiner_limit)
