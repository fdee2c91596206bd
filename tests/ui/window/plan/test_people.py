"""Who is tested and by whom in the place Plan: what is remembered of them, and sessions not ended."""

import json

import pytest
from msgspec.structs import replace
from planned import SPACE, shown, typed
from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QLabel

from acquire.values.records import Person
from acquire.values.units import ForceUnit
from ui.model.plan.checks import problems
from ui.model.plan.problems import ProblemCode
from ui.model.plan.remembered import Remembered

# the people, and what is remembered of them
from ui.words.words import Words, languages


def test_lever_arms_come_back_with_the_persons_code(qtbot, placed, remembered, good):
    arms = {"elbow-flexion": {"left": 0.225, "right": 0.23}}
    remembered.keep(replace(good, want_torque=True, battery="own", own=("elbow-flexion",), lever_arms=arms))
    place = placed(memory=Remembered(remembered.path))
    assert shown(place, "elbow-flexion", "left") == "missing"
    place.setFocus()
    typed(qtbot, "P-014")
    assert shown(place, "elbow-flexion", "left") == "22.5"
    assert place.draft.lever_arms == arms
    typed(qtbot, "5")
    assert shown(place, "elbow-flexion", "left") == "missing"


def test_limit_comes_back_with_the_examiners_code_and_is_shown_in_the_unit(qtbot, placed, remembered, good):
    remembered.keep(replace(good, examiner_limit_n=444.82216152605))
    place = placed(unit=ForceUnit.POUND_FORCE, memory=Remembered(remembered.path))
    place.edit(lambda draft: replace(draft, examiner="", examiner_limit_n=None))
    place.who.examiner.setFocus()
    typed(qtbot, "X01")
    assert place.who.limit.text() == "100"
    place.who.limit.setFocus()
    place.who.limit.selectAll()
    typed(qtbot, "50")
    assert place.draft.examiner_limit_n == pytest.approx(222.411080763025)


def test_code_that_looks_like_a_name_is_warned_of(qtbot, place):
    place.setFocus()
    typed(qtbot, "Maria")
    assert Words()("plan.warn.name") in place.who.warning.text()
    assert place.who.warning.isVisible()


def test_number_half_typed_is_left_alone(qtbot, place):
    place.who.mass.setFocus()
    typed(qtbot, "61,")
    assert (place.who.mass.text(), place.draft.person.mass_kg) == ("61,", 61.0)
    typed(qtbot, "x5")
    assert (place.who.mass.text(), place.draft.person.mass_kg) == ("61,5", 61.5)
    place.who.mass.selectAll()
    typed(qtbot, Qt.Key.Key_Delete)
    assert place.draft.person.mass_kg is None


def test_begun_plan_is_kept(place, remembered, good):
    place.show_draft(replace(good, examiner_limit_n=250.0))
    place.press()
    kept = json.loads(remembered.path.read_text())
    assert kept["draft"]["examiner"] == "X01"
    assert kept["examiner_limits"]["X01"]["newtons"] == 250.0


def test_renewed_plan_is_another_persons(place, good, tmp_path):
    place.show_draft(replace(good, trials=4, lever_arms={"elbow-flexion": {"left": 0.2}}))
    place.press()
    place.renew()
    assert (place.draft.trials, place.draft.examiner) == (4, "X01")
    assert (place.draft.person, place.draft.lever_arms, place.draft.cautions_acknowledged) == (Person(), {}, None)
    assert place.who.code.text() == ""
    assert not place.last.understood.isChecked()
    assert place.draft.out == str(tmp_path / "session_2026-03-02_0905.h5")


# a session that was not ended


@pytest.fixture
def unfinished(remembered, good):
    path = good.out
    with open(path, "w"):  # noqa: PTH123 - that it is there is all
        pass
    remembered.keep(good)
    remembered.begun(good)
    return Remembered(remembered.path)


@pytest.mark.parametrize("language", languages())
def test_session_not_ended_is_offered_and_gone_on_with(qtbot, placed, unfinished, language):
    place = placed(language, memory=unfinished)
    assert place.go_on.isVisible()
    place.go_on.click()
    assert (place.draft.person.code, place.draft.resume) == ("P-014", True)
    assert not place.go_on.isVisible()
    assert place.last.understood.hasFocus()
    assert [problem.code for problem in problems(place.draft)] == [ProblemCode.CAUTIONS]
    typed(qtbot, SPACE)
    with qtbot.waitSignal(place.begin) as begun:
        place.press()
    assert begun.args[0].resume


def test_session_left_is_not_offered_again(placed, unfinished):
    place = placed(memory=unfinished)
    place.leave.click()
    assert not place.leave.isVisible()
    assert Remembered(unfinished.path).unfinished is None


def test_memory_that_cannot_be_read_is_said(placed, remembered):
    remembered.path.parent.mkdir()
    remembered.path.write_text("{")
    place = placed(memory=Remembered(remembered.path))
    assert any("could not be read" in label.text() for label in place.findChildren(QLabel) if label.isVisible())
