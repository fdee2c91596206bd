"""`ramphold audit`: how examiners work, from the shape of the curves of a whole archive."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from acquire.errors import ArchiveError
from analysis.audit.coaching import latest_trials, usual_curve, worst_habits
from analysis.audit.whole import Audit
from analysis.protocol import Protocol, load_protocol
from ui.audit.files import audit_json, write_csv
from ui.audit.text import audit_text
from ui.audit.work import Told, audit_archive, mapper_for, read_trials


def run(options: argparse.Namespace) -> int:
    """Audit an archive; print it, and write what was asked for."""
    folder, protocol = Path(options.archive), load_protocol(options.protocol)
    audit = audit_archive(
        folder,
        protocol,
        store=None if options.store is None else Path(options.store),
        mapper=mapper_for(options.processes, options.cluster),
        blind=options.blind,
        progress=Told(),
    )
    if options.json:
        print(json.dumps(audit_json(audit), indent=1, allow_nan=False))
    else:
        print(audit_text(audit))
    for path in _written(audit, folder, protocol, options):
        print(f"written: {path}", file=sys.stderr)
    return 0


def _written(audit: Audit, folder: Path, protocol: Protocol, options: argparse.Namespace) -> list[Path]:
    written: list[Path] = []
    if options.csv:
        written += write_csv(audit, Path(options.csv))
    if options.pdf:
        from ui.audit.pages import write_audit_pages  # noqa: PLC0415 (drawing is heavy)

        write_audit_pages(audit, Path(options.pdf))
        written.append(Path(options.pdf))
    if options.coach:
        written.append(coach(audit, folder, protocol, options.coach, Path(options.sheet)))
    return written


def coach(audit: Audit, folder: Path, protocol: Protocol, code: str, sheet: Path) -> Path:
    """Write the coaching sheet of one examiner and return its path.

    Raises
    ------
    ArchiveError
        If no trial is by that examiner.
    """
    from ui.audit.pages import write_coaching_sheet  # noqa: PLC0415 (drawing is heavy)

    examiner = next((each for each in audit.examiners if each.code == code), None)
    if examiner is None:
        known = ", ".join(each.code for each in audit.examiners) or "none"
        raise ArchiveError(f"no trial is by an examiner {code}; there are: {known}")
    latest = read_trials(folder, latest_trials(code, audit.table), protocol)
    habits = [(habit, read_trials(folder, habit.examples, protocol)) for habit in worst_habits(examiner, audit.table)]
    usual = usual_curve(trial.judgement for trial in latest)
    write_coaching_sheet(sheet, examiner=examiner, habits=habits, usual=usual, protocol=protocol)
    return sheet
