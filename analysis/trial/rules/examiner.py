"""Rules about the examiner: pushing, giving way, holding more than they can."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from acquire.values.arrays import FloatArray
from analysis.trial.faults import Fault, Severity
from analysis.trial.number import Kind, Number
from analysis.trial.protocol import ExaminerPushed
from analysis.trial.rules.evidence import Evidence, Rule, once
from analysis.trial.swings import EDGE, Drop, find_drops
from analysis.trial.windows import LEVEL_BLOCK_S, block_means, moving_mean, slope

SETTLED = 0.1
"""A plateau before a second rise stays within this share of its mean."""

NEW_HEIGHT = 1.05
"""A second rise goes higher than anything before it by this factor: the crest of a wave does not."""

AT_THE_TOP = 0.7
"""The force is at the top of a rise above this share of it."""

STILL_PUSHING = 0.25
"""After a break the person still pushes while the force stays above this share of the plateau."""

SLOWER_BACK = 1.6
"""A hand that gives way comes back more slowly than it falls, by this factor; a wave does not."""

SUDDEN = 2.65
"""A hand gives way faster than the held force usually changes, by this many standard deviations."""

SAWTOOTH = 1.7
TEETH = 4
SAWTOOTH_SHARE = 0.75
"""So many drops at least, and this share of all, that come back slower than they fall by this factor: a sawtooth."""

ALONE = 0.5
"""A drop out of a level hold lasts no longer than this share of the time up to the next; a wave is as long below."""

STEP_S = 0.2
"""A step down happens within this."""

DROP_SMOOTHING_S = 0.05
"""The depth of a drop is that of the means over so long."""

SMOOTHED = 0.6
"""Drops are looked for, and timed, in the smoothing of the hold, which tremor does not pass; there they keep at least
this share of their depth."""

STEADY_S = 1.0
"""The slide before a step, and the lower hold after it that no release has, last this long."""


@once
def examiner_pushed(evidence: Evidence) -> Fault | None:
    """A second rise after some plateau that breaks: the examiner overcame the person.

    A person who gives more at the end and then stops makes a rise and a fall too. It is a break when the person
    still pushes after the fall, or when the fall follows the rise at once, with no time at the top.
    """
    effort, phases, rule = evidence.effort, evidence.phases, evidence.protocol.examiner_pushed
    width = effort.samples(LEVEL_BLOCK_S)
    levels = block_means(effort.force[phases.level_start :], width)
    found = [rise for rise in _second_rises(evidence, levels) if _breaks(levels, rise, rule)]
    if not found:
        return None
    rise = max(found, key=lambda each: each.percent)
    return Fault(
        code="examiner-pushed",
        severity=Severity.REJECT,
        measured=rise.percent,
        limit=rule.rise_pct,
        kind=Kind.PERCENT,
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
    """Return every quick rise from a settled plateau to a new height, above what the plateau's own trend leads to."""
    rule = evidence.protocol.examiner_pushed
    count, reach = round(rule.plateau_s / LEVEL_BLOCK_S), round(rule.rise_within_s / LEVEL_BLOCK_S)
    if len(levels) <= count + reach:
        return []
    before = np.lib.stride_tricks.sliding_window_view(levels[:-reach], count)[:-1]
    ahead = np.lib.stride_tricks.sliding_window_view(levels[count:], reach + 1)
    means, highest = before.mean(axis=1), np.maximum.accumulate(levels)[count - 1 : -reach - 1]
    rises = ahead.max(axis=1) / np.maximum(means, 1e-9) - 1.0
    quick = (rises > rule.rise_pct / 100.0) & (ahead.max(axis=1) > NEW_HEIGHT * highest)
    quick &= (means >= 0.5 * evidence.phases.plateau_force) & (np.ptp(before, axis=1) <= SETTLED * means)
    time = np.asarray(np.arange(count) * LEVEL_BLOCK_S, dtype=np.float64)
    found = []
    for i in np.flatnonzero(quick).tolist():
        top = int(np.argmax(ahead[i]))
        trend = max(0.0, slope(time, before[i]) / float(means[i])) * (0.5 * count + top) * LEVEL_BLOCK_S
        if rises[i] - trend > rule.rise_pct / 100.0:
            found.append(_Rise(100.0 * float(rises[i]), i + count, i + count + top, float(means[i])))
    return found


def _breaks(levels: FloatArray, rise: _Rise, rule: ExaminerPushed) -> bool:
    """Tell whether the force breaks soon after the top of a rise, and stays down."""
    span, reach = round(rule.fall_within_s / LEVEL_BLOCK_S), round(rule.rise_within_s / LEVEL_BLOCK_S)
    after = levels[rise.top : rise.top + reach + span + 1]
    falls = np.array([float(after[i] - after[i + 1 : i + 1 + span].min()) for i in range(len(after) - 1)])
    broken = np.flatnonzero(falls > rule.fall_pct / 100.0 * rise.level)
    high = rise.level * (1.0 + AT_THE_TOP * rise.percent / 100.0)
    if not len(broken) or bool((levels[rise.top + len(after) :] >= high).any()):
        return False
    at_top = np.flatnonzero(levels[rise.start : rise.top + len(after)] >= high)
    if float(at_top[-1] - at_top[0] + 1) * LEVEL_BLOCK_S < rule.top_s:
        return True
    still = round(rule.push_on_s / LEVEL_BLOCK_S)
    for i in broken.tolist():
        lowest = rise.top + i + 1 + int(np.argmin(after[i + 1 : i + 1 + span]))
        pushing = levels[lowest : lowest + still]
        level = len(pushing) == still and float(np.ptp(pushing)) <= 2.0 * SETTLED * rise.level
        if level and float(pushing.min()) >= STILL_PUSHING * rise.level:
            return True
    return False


def gave_way(evidence: Evidence) -> Fault | None:
    """Drops with quick recovery, or a slide that ends in a step: the examiner was overpowered."""
    effort, phases, rule = evidence.effort, evidence.phases, evidence.protocol.gave_way
    depth = rule.drop_pct / 100.0 * phases.plateau_force
    held = slice(phases.level_start, phases.level_stop)
    drops = find_drops(effort.smooth[held], effort.rate, depth=SMOOTHED * depth)
    sharp = moving_mean(effort.force[held], effort.samples(DROP_SMOOTHING_S))
    drops = _giving(evidence, drops, sharp, depth)
    spans = [(phases.level_start + drop.peak, phases.level_start + drop.back) for drop in drops]
    slide = _slide_and_step(evidence, depth)
    spans += [] if slide is None else [slide]
    count = len(spans)
    if count < rule.warn_count:
        return None
    severity = Severity.REJECT if count >= rule.reject_count else Severity.WARN
    limit = rule.reject_count if severity is Severity.REJECT else rule.warn_count
    return Fault(
        code="gave-way",
        severity=severity,
        measured=float(count),
        limit=float(limit),
        kind=Kind.COUNT,
        values=(Number("depth", rule.drop_pct, Kind.PERCENT),),
        start=evidence.at(min(a for a, _ in spans)),
        stop=evidence.at(max(b for _, b in spans)),
    )


def _giving(evidence: Evidence, drops: list[Drop], sharp: FloatArray, depth: float) -> list[Drop]:
    """Return the drops of a hand that gives way: sudden, and slower to come back or alone in a level hold.

    Where it gives way again and again, nothing in the hold is usual; then that nearly all drops come back
    slowly tells it from a wave.
    """
    rule, near = evidence.protocol.gave_way, evidence.effort.samples(DROP_SMOOTHING_S)
    fast = [
        drop
        for drop in drops
        if drop.below_s >= rule.shortest_s
        and drop.recovery_s <= rule.recovery_s
        and evidence.percent((1.0 - 2.0 * EDGE) * drop.depth) >= rule.fall_pct_per_s * drop.fall_s
        and np.ptp(sharp[drop.peak : drop.trough + near]) >= depth
    ]
    sawtooth = [drop for drop in fast if drop.recovery_s >= SAWTOOTH * drop.fall_s]
    if len(sawtooth) >= max(TEETH, SAWTOOTH_SHARE * len(drops)):
        return sawtooth
    return [
        drop
        for drop in fast
        if drop.suddenness >= SUDDEN
        and (drop.recovery_s >= SLOWER_BACK * drop.fall_s or drop.below_s <= ALONE * drop.above_s)
    ]


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
    return Fault(
        code="examiner-limit",
        severity=Severity.WARN,
        measured=measured,
        limit=limit,
        kind=Kind.FORCE,
    )


RULES: tuple[Rule, ...] = (examiner_pushed, gave_way, examiner_limit)
