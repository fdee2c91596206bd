"""Rules about the sensor: zero, limit, lost samples, rate."""

from __future__ import annotations

import numpy as np

from acquire.values.arrays import BoolArray
from analysis.trial.faults import Fault, Severity, graded, graded_below
from analysis.trial.measures import RATE_TOLERANCE
from analysis.trial.number import Kind, Number
from analysis.trial.rules.evidence import Evidence, Rule
from analysis.trial.windows import runs
from analysis.trial.zero import zero_after

FLAT_S = 0.05
"""On a sensor whose limit is unknown, equal readings at the very top for this long are taken for the limit."""


def zero_shift(evidence: Evidence) -> Fault | None:
    """Zero after the release against zero before; not judged when the trace ends too soon."""
    effort, rule = evidence.effort, evidence.protocol.zero_shift
    after = zero_after(effort, evidence.phases)
    if after is None:
        return None
    measured = evidence.percent(abs(after.shift_n))
    grade = graded(measured, warn=rule.warn_pct, reject=rule.reject_pct)
    if grade is None:
        return None
    return Fault(
        code="zero-shift",
        severity=grade.severity,
        measured=measured,
        limit=grade.limit,
        kind=Kind.PERCENT,
        values=(Number("moved", after.shift_n, Kind.FORCE),),
        start=evidence.at(after.start),
        stop=evidence.at(len(effort.time) - 1),
    )


def clipped(evidence: Evidence) -> Fault | None:
    """Samples at the sensor's limit."""
    effort, rule = evidence.effort, evidence.protocol.clipped
    at_limit = _flat_top(evidence) if effort.clipped is None else np.flatnonzero(effort.clipped)
    if len(at_limit) < rule.reject_samples:
        return None
    return Fault(
        code="clipped",
        severity=Severity.REJECT,
        measured=float(len(at_limit)),
        limit=float(rule.reject_samples),
        kind=Kind.COUNT,
        values=(Number("top", float(effort.fine.max()) + effort.zero, Kind.FORCE),),
        start=evidence.at(int(at_limit[0])),
        stop=evidence.at(int(at_limit[-1])),
    )


def _flat_top(evidence: Evidence) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Return the samples of a flat top, where noise shows elsewhere and so would show there.

    Equal readings are no sign of a limit on a noiseless trace, or where a count is coarser than the noise.
    """
    effort = evidence.effort
    top = effort.force[evidence.phases.onset_index : evidence.phases.release_index]
    steps = np.abs(np.diff(effort.force[: max(3, effort.quiet_stop)]))
    finest = float(steps[steps > 0].min(initial=np.inf))
    if not (effort.noise > 0.0 and finest < effort.noise):
        return np.empty(0, dtype=np.intp)
    least = max(3, round(FLAT_S * effort.rate))
    flat = [run for run in runs(top == top.max()) if run[1] - run[0] >= least]
    return evidence.phases.onset_index + np.concatenate([np.arange(a, b) for a, b in flat] or [np.empty(0, np.intp)])


def lost_samples(evidence: Evidence) -> Fault | None:
    """Samples missing in the hold, by share and by the longest gap; in the ramp by the longest gap."""
    effort, phases, rule = evidence.effort, evidence.phases, evidence.protocol.lost_samples
    if effort.lost is None:
        return None
    begin = _gap_start(effort.lost, phases.onset_index)
    lost = int(np.count_nonzero(effort.lost[begin : phases.hold.stop]))
    if lost < rule.warn_samples:
        return None
    in_hold = evidence.lost_in_hold()
    gaps = runs(effort.lost[begin : phases.hold.stop])
    longest = max((b - a for a, b in gaps), default=0) / effort.rate
    share = 100.0 * in_hold / (phases.hold.stop - phases.hold.start)
    by_gap = longest > rule.reject_gap_s
    void = by_gap or share > rule.reject_pct
    start, stop = (evidence.at(begin), evidence.hold_span[1]) if lost > in_hold else evidence.hold_span
    return Fault(
        code="lost-samples",
        severity=Severity.REJECT if void else Severity.WARN,
        measured=longest if by_gap or not in_hold else share,
        limit=rule.reject_gap_s if by_gap else rule.reject_pct if void else 0.0,
        kind=Kind.SECONDS if by_gap or not in_hold else Kind.PERCENT,
        values=(
            Number("lost", float(lost), Kind.COUNT),
            Number("share", share, Kind.PERCENT),
            Number("most_share", rule.reject_pct, Kind.PERCENT),
            Number("gap", longest, Kind.SECONDS),
            Number("longest_gap", rule.reject_gap_s, Kind.SECONDS),
        ),
        finding="hold" if in_hold == lost else "both" if in_hold else "ramp",
        start=start,
        stop=stop,
    )


def _gap_start(lost: BoolArray, index: int) -> int:
    """Return where the gap that an index lies in begins; the index itself where none is."""
    while index > 0 and lost[index] and lost[index - 1]:
        index -= 1
    return index


def slow_sensor(evidence: Evidence) -> Fault | None:
    """Sample rate; 1 % is left for the sensor's own clock."""
    rate, rule = evidence.effort.rate, evidence.protocol.slow_sensor
    grade = graded_below(rate / RATE_TOLERANCE, warn=rule.warn_below_hz, reject=rule.reject_below_hz)
    if grade is None:
        return None
    return Fault(
        code="slow-sensor",
        severity=grade.severity,
        measured=rate,
        limit=grade.limit,
        kind=Kind.HERTZ,
    )


RULES: tuple[Rule, ...] = (zero_shift, clipped, lost_samples, slow_sensor)
