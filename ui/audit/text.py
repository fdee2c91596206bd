"""An audit as plain text: one table of examiners, then a sentence for each finding."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import zip_longest

from analysis.audit.compare import LEAST_SESSIONS, LEAST_TRIALS
from analysis.audit.course import Course
from analysis.audit.examiners import REJECTED, ExaminerAudit, Number, Share
from analysis.audit.whole import Audit
from analysis.reliability.retest import Reliability
from ui.tables import NOTHING, text_table

NUMBER_WORDS = {
    "ramp_time_s": ("ramp", "s"),
    "jerk_pct_per_s": ("steepest rise", "%/s"),
    "preload_pct": ("force before the ramp", "%"),
    "hold_time_s": ("hold", "s"),
    "hold_spread_pct": ("spread of the hold", "%"),
    "hold_trend_pct_per_s": ("trend of the hold", "%/s"),
    "shake_pct": ("trembling", "%"),
}
"""What each number of the technique is called, and its unit."""

ADVICE = {
    REJECTED: "look at the single faults below",
    "no-effort": "check pad, sensor and port before each trial",
    "preload": "let the limb rest lightly on the pad until the word to build up",
    "countermovement": "keep the pad still and ask for a push without a wind-up",
    "fast-ramp": "ask for a build-up over one to two seconds, and show it",
    "slow-ramp": "ask for full force within two seconds",
    "jerk": "take up the slack first, and ask for a smooth squeeze",
    "stepped-ramp": "ask for one push that does not stop on the way",
    "short-hold": "say stop only when five seconds are over, and keep encouraging until then",
    "unsteady-hold": "settle limb, pad and stance before the word to go",
    "still-rising": "ask for the full force within the ramp",
    "fading": "keep the rests, and encourage to the end",
    "overshoot": "ask for a level that can be held",
    "examiner-pushed": "hold the sensor still and let the person push",
    "gave-way": "brace against the body, or use a belt",
    "shake": "brace the arms, or use a belt",
    "zero-shift": "zero before each trial, and check that pad and belt do not slip",
    "clipped": "use a sensor with a larger rated force, or a longer lever arm",
    "lost-samples": "bring the sensor near, or use a cable",
    "slow-sensor": "set the sensor to a higher rate",
}
"""One sentence for a habit."""


def audit_text(audit: Audit) -> str:
    """Return a whole audit as text."""
    parts = [_head(audit), _examiners_table(audit), *_findings(audit), *_sensors(audit), *_agreement(audit)]
    return "\n\n".join(part for part in parts if part)


def _head(audit: Audit) -> str:
    lines = [
        f"{audit.files} sessions, {len(audit.table)} trials, judged by {audit.protocol.name} ({audit.protocol.hash})",
        *(f"left out: {file}: {why}" for file, why in audit.unreadable),
    ]
    return "\n".join(lines)


def _examiners_table(audit: Audit) -> str:
    rows = [_row(examiner) for examiner in audit.examiners]
    headings = ("examiner", "sessions", "trials", "rejected %", "95 % interval", "expected %", "ramp s", "says")
    return text_table(rows, headings) if rows else "no trial names its examiner"


def _row(examiner: ExaminerAudit) -> tuple[str, ...]:
    share, ramp = examiner.shares[REJECTED].found, examiner.numbers.get("ramp_time_s")
    low, high = share.interval
    return (
        examiner.code,
        str(examiner.sessions),
        str(examiner.trials),
        f"{100.0 * share.share:.0f}",
        f"{100.0 * low:.0f} to {100.0 * high:.0f}",
        NOTHING if math.isnan(share.expected) else f"{100.0 * share.expected:.0f}",
        NOTHING if ramp is None else f"{ramp.found.quartiles[1]:.2f}",
        says(examiner),
    )


def says(examiner: ExaminerAudit) -> str:
    """Return what an audit says of an examiner in a few words."""
    if not examiner.enough:
        return "too few to tell"
    found = [code for code, share in examiner.shares.items() if share.finding and code != REJECTED]
    found += [NUMBER_WORDS[name][0] for name, number in examiner.numbers.items() if number.finding]
    found += ["ceiling"] if examiner.ceiling else []
    return ", ".join(found) or "nothing stands out"


def _findings(audit: Audit) -> Iterator[str]:
    for examiner in audit.examiners:
        lines = finding_lines(examiner)
        if lines:
            yield "\n".join([examiner.code, *(f"  - {line}" for line in lines)])
    few = [examiner.code for examiner in audit.examiners if not examiner.enough]
    if few:
        yield f"fewer than {LEAST_TRIALS} trials or {LEAST_SESSIONS} sessions, too few to tell: {', '.join(few)}"


def finding_lines(examiner: ExaminerAudit) -> list[str]:
    """Return a sentence for each finding of one examiner; none where there are too few trials."""
    if not examiner.enough:
        return []
    lines = [_share_line(code, share) for code, share in examiner.shares.items() if share.finding and code != REJECTED]
    lines += [_number_line(name, number) for name, number in examiner.numbers.items() if number.finding]
    ceiling = examiner.ceiling
    if ceiling is not None:
        lines.append(
            f"{ceiling.count} of {ceiling.of} hand-held plateaus pile up near {ceiling.force_n:.0f} N where others "
            f"find {ceiling.others_n:.0f} N on average: they may say what the examiner can hold; repeat with a belt "
            f"({', '.join(action.replace('-', ' ') for action in ceiling.actions)})"
        )
    lines += [line for name, course in examiner.courses.items() for line in _course_lines(name, course)]
    return lines


def _share_line(code: str, share: Share) -> str:
    found = share.found
    return (
        f"{code}: {found.count} of {found.trials} trials ({100.0 * found.share:.0f} %), where others' "
        f"{100.0 * found.expected:.0f} % were expected: {ADVICE.get(code, 'look at the curves')}"
    )


def _number_line(name: str, number: Number) -> str:
    what, unit = NUMBER_WORDS[name]
    found = number.found
    return f"{what}: median {found.quartiles[1]:.2f} {unit}, others {found.others:.2f} {unit}"


def _course_lines(name: str, course: Course) -> Iterator[str]:
    """Say when an average left its limits; fewer rejected trials than expected are no news."""
    what = "share of rejected trials" if name == REJECTED else NUMBER_WORDS[name][0]
    signals = [signal for signal in course.signals if signal.chart == "ewma"]
    for signal, after in zip_longest(signals, signals[1:]):
        if signal.change == "back" or (name == REJECTED and signal.change == "below"):
            continue
        until = "and is so still" if after is None else f"until {day(after.at_s)}"
        yield f"over time: {what} {signal.change} what others' lets expect from {day(signal.at_s)} {until}"


def day(at_s: float) -> str:
    """Return a date."""
    return f"{datetime.fromtimestamp(at_s, UTC):%Y-%m-%d}"


def _sensors(audit: Audit) -> Iterator[str]:
    for sensor in audit.sensors:
        for what, course in (("zero", sensor.zero), ("sensitivity", sensor.sensitivity)):
            out = [] if course is None else [s for s in course.signals if s.change != "back"]
            if out:
                yield f"sensor {sensor.sensor}: its {what} has moved since {day(out[0].at_s)}: check it"


def _agreement(audit: Audit) -> Iterator[str]:
    rows = [_study_row(study) for study in audit.agreement]
    if rows:
        headings = ("examiners", "what", "persons", "ICC(2,1)", "95 % interval", "SEM N", "MDC95 N", "limits N")
        yield "agreement where two examiners tested the same persons\n" + text_table(rows, headings)


def _study_row(study: Reliability) -> tuple[str, ...]:
    numbers = study.numbers
    if numbers is None:
        raise ValueError("a study without numbers has no row")
    icc = numbers.icc["ICC(2,1)"]
    limits = numbers.agreement
    kind = study.kind
    return (
        " and ".join(study.ratings),
        ", ".join(word for word in (kind.action, kind.side or "", kind.method) if word),
        str(len(study.persons)),
        f"{icc.value:.2f}",
        f"{icc.low:.2f} to {icc.high:.2f}",
        f"{numbers.sem.value:.1f}",
        f"{numbers.mdc95:.1f}",
        NOTHING if limits is None else f"{limits.low:+.0f} to {limits.high:+.0f}",
    )
