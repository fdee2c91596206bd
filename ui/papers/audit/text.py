"""An audit as plain text: one table of examiners, then a sentence for each finding."""

from __future__ import annotations

import math
from collections.abc import Iterator

from acquire.values.outside_text import visible
from analysis.audit.archive_audit import Audit
from analysis.audit.compare import LEAST_SESSIONS, LEAST_TRIALS
from analysis.audit.examiners import REJECTED, ExaminerAudit
from analysis.reliability.retest import Reliability
from ui.model.audit.findings_text import finding_lines, says, sensor_lines
from ui.papers.tables import NOTHING, text_table
from ui.words.words import ENGLISH


def audit_text(audit: Audit) -> str:
    """Return a whole audit as text."""
    parts = [_head(audit), _examiners_table(audit), *_findings(audit), *_sensors(audit), *_agreement(audit)]
    return "\n\n".join(part for part in parts if part)


def _head(audit: Audit) -> str:
    lines = [
        f"{audit.files} sessions, {len(audit.table)} trials, judged by {audit.protocol.name} ({audit.protocol.hash})",
        *(visible(f"left out: {file}: {why}") for file, why in audit.unreadable),
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
        says(examiner, ENGLISH),
    )


def _findings(audit: Audit) -> Iterator[str]:
    for examiner in audit.examiners:
        lines = finding_lines(examiner, ENGLISH)
        if lines:
            yield "\n".join([examiner.code, *(f"  - {line}" for line in lines)])
    few = [examiner.code for examiner in audit.examiners if not examiner.enough]
    if few:
        yield f"fewer than {LEAST_TRIALS} trials or {LEAST_SESSIONS} sessions, too few to tell: {', '.join(few)}"


def _sensors(audit: Audit) -> Iterator[str]:
    for sensor in audit.sensors:
        yield from sensor_lines(sensor, ENGLISH)


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
