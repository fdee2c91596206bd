"""The coaching sheet of one examiner: what was found, and the trials that show it."""

from __future__ import annotations

from pathlib import Path

from acquire.errors import ArchiveError
from analysis.audit.archive_audit import Audit
from analysis.audit.coaching import latest_trials, usual_curve, worst_habits
from analysis.trial.protocol import Protocol
from ui.model.audit.work import read_trials


def coach(audit: Audit, folder: Path, protocol: Protocol, code: str, sheet: Path) -> Path:
    """Write the coaching sheet of one examiner and return its path.

    Raises
    ------
    ArchiveError
        If no trial is by that examiner.
    """
    from ui.papers.audit.pages import write_coaching_sheet  # noqa: PLC0415 (drawing is heavy)

    examiner = next((each for each in audit.examiners if each.code == code), None)
    if examiner is None:
        known = ", ".join(each.code for each in audit.examiners) or "none"
        raise ArchiveError(f"no trial is by an examiner {code}; there are: {known}")
    latest = read_trials(folder, latest_trials(code, audit.table), protocol)
    habits = [(habit, read_trials(folder, habit.examples, protocol)) for habit in worst_habits(examiner, audit.table)]
    usual = usual_curve(trial.judgement for trial in latest)
    write_coaching_sheet(sheet, examiner=examiner, habits=habits, usual=usual, protocol=protocol)
    return sheet
