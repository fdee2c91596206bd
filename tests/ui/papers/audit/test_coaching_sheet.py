"""The coaching sheet of one examiner, from an archive on disk."""

import pytest
from pypdf import PdfReader

from acquire.errors import ArchiveError
from ui.model.audit.run import AuditRun
from ui.model.plan.remembered import AuditChoice
from ui.papers.audit.coaching_sheet import coach
from ui.words.words import ENGLISH


@pytest.fixture(scope="module")
def audit(archive):
    return AuditRun(AuditChoice(folder=str(archive)), mapper=map)()


@pytest.mark.slow
def test_worst_habit_and_usual_curve_are_on_the_sheet(audit, archive, tmp_path):
    path = coach(audit, archive, "EX-1", tmp_path / "sheet.pdf", ENGLISH)
    (page,) = PdfReader(path).pages
    said = page.extract_text()
    assert "Coaching sheet: EX-1" in said
    assert "1. ramp too fast" in said
    assert "middle half of 48 trials" in said


def test_examiner_who_has_no_trial_is_told_with_those_who_have(audit, archive, tmp_path):
    with pytest.raises(ArchiveError, match=r"by an examiner EX-7; there are: EX-1, EX-10, EX-2, EX-3, EX-4"):
        coach(audit, archive, "EX-7", tmp_path / "sheet.pdf", ENGLISH)
    assert not list(tmp_path.iterdir())
