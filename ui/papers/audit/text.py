"""An audit as plain text: one table of examiners, then a sentence for each finding, in a language."""

from __future__ import annotations

from collections.abc import Iterator

from acquire.values.outside_text import visible
from analysis.audit.archive_audit import Audit
from analysis.audit.compare import LEAST_SESSIONS, LEAST_TRIALS
from analysis.audit.examiners import REJECTED, ExaminerAudit
from analysis.reliability.retest import Reliability
from analysis.results.scores import ScoreKind
from ui.model.audit.findings_text import finding_lines, says, sensor_lines
from ui.model.audit.text import pair_name
from ui.model.review.text import action_name
from ui.papers.tables import text_table
from ui.words.fault_text import fault_name
from ui.words.words import NOTHING, Words


def audit_text(audit: Audit, words: Words) -> str:
    """Return a whole audit as text."""
    parts = [
        "\n".join([about_line(audit, words), *_left_out(audit, words)]),
        _examiners_table(audit, words),
        *_findings(audit, words),
        *_sensors(audit, words),
        *_agreement(audit, words),
    ]
    return "\n\n".join(part for part in parts if part)


def about_line(audit: Audit, words: Words) -> str:
    """Return what was audited, and by which protocol."""
    return words(
        "audit_paper.about",
        sessions=words("audit_paper.sessions", count=audit.files),
        trials=words("audit_paper.trials", count=len(audit.table)),
        name=audit.protocol.name,
        hash=audit.protocol.hash,
    )


def kind_text(kind: ScoreKind, words: Words) -> str:
    """Return what a study is of: action, side and method."""
    side = words(f"test.{kind.side}") if kind.side else ""
    return ", ".join(word for word in (action_name(kind.action, words), side, words(f"test.{kind.method}")) if word)


def _left_out(audit: Audit, words: Words) -> Iterator[str]:
    yield from (visible(words("audit_paper.left_out", file=file, why=why)) for file, why in audit.unreadable)


def _examiners_table(audit: Audit, words: Words) -> str:
    rows = [_row(examiner, words) for examiner in audit.examiners]
    columns = ("examiner", "sessions", "trials", "rejected", "interval", "expected")
    headings = (
        *(words(f"audit.column.{name}") for name in columns),
        words("audit_paper.column.ramp"),
        words("audit.column.says"),
    )
    return text_table(rows, headings) if rows else words("audit_paper.nobody")


def _row(examiner: ExaminerAudit, words: Words) -> tuple[str, ...]:
    share, ramp = examiner.shares[REJECTED].found, examiner.numbers.get("ramp_time_s")
    low, high = share.interval
    return (
        examiner.code,
        str(examiner.sessions),
        str(examiner.trials),
        words.number(100.0 * share.share, 0),
        _range(words.number(100.0 * low, 0), words.number(100.0 * high, 0), words),
        words.number(100.0 * share.expected, 0),
        words.number(None if ramp is None else ramp.found.quartiles[1], 2),
        says(examiner, words, lambda code: fault_name(code, words)),
    )


def _findings(audit: Audit, words: Words) -> Iterator[str]:
    for examiner in audit.examiners:
        lines = finding_lines(
            examiner, words, lambda code: fault_name(code, words), lambda action: action_name(action, words)
        )
        if lines:
            yield "\n".join([examiner.code, *(f"  - {line}" for line in lines)])
    few = [examiner.code for examiner in audit.examiners if not examiner.enough]
    if few:
        yield words("audit_paper.few", trials=LEAST_TRIALS, sessions=LEAST_SESSIONS, codes=", ".join(few))


def _sensors(audit: Audit, words: Words) -> Iterator[str]:
    for sensor in audit.sensors:
        yield from sensor_lines(sensor, words)


def _agreement(audit: Audit, words: Words) -> Iterator[str]:
    rows = [_study_row(study, words) for study in audit.agreement]
    if rows:
        headings = (
            *(words(f"audit_paper.column.{name}") for name in ("examiners", "what", "persons")),
            *(words(f"audit.agreement.{name}", unit="N") for name in ("icc", "interval", "sem", "mdc", "limits")),
        )
        yield words("audit_paper.agreement") + "\n" + text_table(rows, headings)


def _study_row(study: Reliability, words: Words) -> tuple[str, ...]:
    numbers = study.numbers
    if numbers is None:
        raise ValueError("a study without numbers has no row")
    icc, limits = numbers.icc["ICC(2,1)"], numbers.agreement
    return (
        pair_name(study, words),
        kind_text(study.kind, words),
        str(len(study.persons)),
        words.number(icc.value, 2),
        _range(words.number(icc.low, 2), words.number(icc.high, 2), words),
        words.number(numbers.sem.value, 1),
        words.number(numbers.mdc95, 1),
        NOTHING
        if limits is None
        else _range(words.number(limits.low, 0, signed=True), words.number(limits.high, 0, signed=True), words),
    )


def _range(low: str, high: str, words: Words) -> str:
    return words("audit.agreement.range", low=low, high=high)
