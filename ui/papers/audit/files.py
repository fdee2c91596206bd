"""An audit for programs: one JSON object, and tables as CSV; column names carry units."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from acquire.errors import ArchiveError
from acquire.files.atomic import replace_together
from analysis.audit.archive_audit import Audit
from analysis.audit.examiners import ExaminerAudit
from analysis.audit.table import FactTable
from analysis.audit.trend import Course
from analysis.trial.technique import NAMES
from ui.model.audit.findings_text import day
from ui.words.csv_text import csv_text

Row = Sequence[object]


def audit_json(audit: Audit) -> dict[str, Any]:
    """Return a whole audit as plain JSON values; None where a number is not known."""
    return {
        "protocol": {"name": audit.protocol.name, "hash": audit.protocol.hash},
        "sessions": audit.files,
        "trials": len(audit.table),
        "left_out": len(audit.unreadable),
        "unreadable": [{"file": file, "why": why} for file, why in audit.unreadable],
        "examiners": [_examiner(examiner) for examiner in audit.examiners],
        "sensors": [
            {
                "sensor": sensor.sensor,
                "sessions": sensor.sessions,
                "zero_n": _course(sensor.zero),
                "newtons_per_count": _course(sensor.sensitivity),
            }
            for sensor in audit.sensors
        ],
        "agreement": [_study(study) for study in audit.agreement],
    }


def _examiner(examiner: ExaminerAudit) -> dict[str, Any]:
    ceiling = examiner.ceiling
    return {
        "examiner": examiner.code,
        "trials": examiner.trials,
        "sessions": examiner.sessions,
        "enough": examiner.enough,
        "shares": {
            code: {
                "count": share.found.count,
                "share": share.found.share,
                "interval": share.found.interval,
                "expected": _known(share.found.expected),
                "effective_trials": share.found.effective,
                "p": _known(share.found.p),
                "q": _known(share.q),
                "finding": share.finding,
            }
            for code, share in examiner.shares.items()
        },
        "numbers": {
            name: {
                "quartiles": number.found.quartiles,
                "others_median": _known(number.found.others),
                "p": _known(number.found.p),
                "q": _known(number.q),
                "finding": number.finding,
            }
            for name, number in examiner.numbers.items()
        },
        "sets": {
            "trials_median": examiner.sets.trials_median,
            "spread_pct_median": examiner.sets.spread_pct_median,
            "rest_kept_pct": examiner.sets.rest_kept_pct,
        },
        "ceiling": ceiling
        and {
            "force_n": ceiling.force_n,
            "count": ceiling.count,
            "of": ceiling.of,
            "others_n": ceiling.others_n,
            "actions": ceiling.actions,
        },
        "courses": {name: _course(course) for name, course in examiner.courses.items()},
    }


def _course(course: Course | None) -> dict[str, Any] | None:
    if course is None:
        return None
    return {
        "day": [day(at).isoformat() for at in course.at_s],
        "value": course.value.tolist(),
        "average": course.average.tolist(),
        "low": course.low.tolist(),
        "high": course.high.tolist(),
        "signals": [{"day": day(s.at_s).isoformat(), "chart": s.chart, "change": s.change} for s in course.signals],
        "since": None if course.since_s is None else day(course.since_s).isoformat(),
    }


def _study(study: Any) -> dict[str, Any]:  # noqa: ANN401 # of analysis.reliability, with numbers
    numbers, kind = study.numbers, study.kind
    icc, limits = numbers.icc["ICC(2,1)"], numbers.agreement
    return {
        "examiners": study.ratings,
        "action": kind.action,
        "side": kind.side,
        "method": kind.method,
        "persons": len(study.persons),
        "icc_2_1": icc.value,
        "icc_2_1_interval": (icc.low, icc.high),
        "sem_n": numbers.sem.value,
        "mdc95_n": numbers.mdc95,
        "bias_n": None if limits is None else limits.bias,
        "limits_n": None if limits is None else (limits.low, limits.high),
    }


def _known(value: float) -> float | None:
    return None if math.isnan(value) else value


def write_csv(audit: Audit, folder: Path) -> list[Path]:
    """Write an audit as CSV files into a folder, which is made; return their paths.

    Raises
    ------
    ArchiveError
        If a file cannot be written.
    """
    tables: dict[str, tuple[Sequence[str], Iterable[Row]]] = {
        "examiners.csv": (SHARES, _share_rows(audit)),
        "technique.csv": (NUMBERS, _number_rows(audit)),
        "signals.csv": (SIGNALS, _signal_rows(audit)),
        "trials.csv": (TRIALS, _trial_rows(audit.table)),
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
        replace_together((folder / name, partial(_write, *table)) for name, table in tables.items())
    except OSError as error:
        raise ArchiveError(f"{folder}: the tables cannot be written: {error.strerror or error}") from error
    return [folder / name for name in tables]


def _write(headings: Sequence[str], rows: Iterable[Row], aside: Path) -> None:
    with aside.open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        table.writerow(headings)
        table.writerows([csv_text(cell) if isinstance(cell, str) else cell for cell in row] for row in rows)


SHARES = ("examiner", "fault", "count", "trials", "share", "low95", "high95", "expected", "p", "q", "finding")
NUMBERS = ("examiner", "number", "lower_quartile", "median", "upper_quartile", "others_median", "p", "q", "finding")
SIGNALS = ("of", "what", "day", "chart", "change")
TRIALS = (
    *("file", "trial", "person", "examiner", "stratum", "side", "sensor", "started_s", "rejected", "faults"),
    *("plateau_n", "rest_s", *NAMES),
)


def _share_rows(audit: Audit) -> Iterator[Row]:
    for examiner in audit.examiners:
        for code, share in examiner.shares.items():
            found = share.found
            numbers = (found.share, *found.interval, found.expected, found.p, share.q)
            yield (examiner.code, code, found.count, found.trials, *map(_cell, numbers), int(share.finding))


def _number_rows(audit: Audit) -> Iterator[Row]:
    for examiner in audit.examiners:
        for name, number in examiner.numbers.items():
            numbers = (*number.found.quartiles, number.found.others, number.found.p, number.q)
            yield (examiner.code, name, *map(_cell, numbers), int(number.finding))


def _signal_rows(audit: Audit) -> Iterator[Row]:
    for examiner in audit.examiners:
        for name, course in examiner.courses.items():
            yield from ((examiner.code, name, day(s.at_s).isoformat(), s.chart, s.change) for s in course.signals)
    for sensor in audit.sensors:
        for name, drift in (("zero_n", sensor.zero), ("newtons_per_count", sensor.sensitivity)):
            signals = () if drift is None else drift.signals
            yield from ((sensor.sensor, name, day(s.at_s).isoformat(), s.chart, s.change) for s in signals)


def _trial_rows(table: FactTable) -> Iterator[Row]:
    words = (table.person, table.examiner, table.action, table.method, table.side, table.sensor, table.file)
    for row in range(len(table)):
        person, examiner, action, method, side, sensor, file = (column.words[column.codes[row]] for column in words)
        stratum = f"{action or 'any action'}, {method}"
        faults = " ".join(code for code, has in table.faults.items() if has[row])
        numbers = (table.plateau_n[row], table.rest_s[row], *(table.technique[name][row] for name in NAMES))
        started = _cell(table.started_s[row])
        who = (person, examiner, stratum, side, sensor)
        yield (file, table.number[row], *who, started, int(table.rejected[row]), faults, *map(_cell, numbers))


def _cell(value: float) -> str:
    return "" if math.isnan(value) else f"{value:.6g}"
