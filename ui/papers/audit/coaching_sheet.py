"""The coaching sheet of one examiner: what was found, and the trials that show it."""

from __future__ import annotations

from pathlib import Path

from acquire.errors import ArchiveError
from analysis.audit.archive_audit import Audit
from analysis.audit.coaching import latest_trials, usual_curve, worst_habits
from ui.model.audit.work import read_trials
from ui.words.words import Words


def coach(audit: Audit, folder: Path, code: str, sheet: Path, words: Words) -> Path:
    """Write the coaching sheet of one examiner in a language and return its path.

    Raises
    ------
    ArchiveError
        If no trial is by that examiner.
    """
    from ui.papers.audit.coaching_page import write_coaching_sheet  # noqa: PLC0415 (drawing is heavy)

    examiner = next((each for each in audit.examiners if each.code == code), None)
    if examiner is None:
        known = ", ".join(each.code for each in audit.examiners) or words("audit_paper.none")
        raise ArchiveError(words("audit_paper.no_examiner", code=code, known=known))
    latest = read_trials(folder, latest_trials(code, audit.table), audit.protocol)
    habits = [
        (habit, read_trials(folder, habit.examples, audit.protocol)) for habit in worst_habits(examiner, audit.table)
    ]
    usual = usual_curve(trial.judgement for trial in latest)
    write_coaching_sheet(sheet, examiner=examiner, habits=habits, usual=usual, protocol=audit.protocol, words=words)
    return sheet
