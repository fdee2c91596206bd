"""From a number of the audit to the curves behind it, by keyboard and by mouse."""

import shutil
from pathlib import Path

import pytest
from audit_window import codes, done, press, said
from PyQt6.QtCore import QPointF, Qt
from PyQt6.QtWidgets import QApplication

from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from acquire.values.units import ForceUnit
from analysis.audit.examiners import REJECTED

Key = Qt.Key


def test_enter_on_a_fault_shows_its_curves_with_the_fault_named(place, qtbot):
    place.body.said.button("shares").click()
    place.body.shares.setFocus()
    press(qtbot, Key.Key_Down)
    press(qtbot, Key.Key_Return)
    done(qtbot, place)
    assert place.body.charts.shown == "curves"
    read = place.body.behind.read
    assert len(read.trials) == min(12, place.model.selected.shares["fast-ramp"].found.count)
    assert len(place.body.behind.curves._lines) == len(read.trials)
    assert "\u2717 ramp too fast" in [each.name for each in place.body.behind.curves.placed_faults()]
    assert "trials with \u201cramp too fast\u201d" in said(place.body.behind._title)


def test_space_and_page_keys_go_from_curve_to_curve(place, qtbot):
    place.body.shares.opened.emit(1)
    done(qtbot, place)
    assert QApplication.focusWidget() is place.body.behind.curves
    first = said(place.body.behind._trial)
    press(qtbot, Key.Key_Space)
    assert place.body.behind.at == 1
    assert said(place.body.behind._trial) != first
    press(qtbot, Key.Key_PageUp)
    assert said(place.body.behind._trial) == first
    press(qtbot, Key.Key_PageUp)
    assert place.body.behind.at == len(place.body.behind.read.trials) - 1


def test_enter_on_an_examiner_shows_rejected_curves(place, qtbot):
    place.setFocus()
    press(qtbot, Key.Key_Return)
    done(qtbot, place)
    verdicts = {trial.judged.judgement.verdict for trial in place.body.behind.read.trials}
    assert verdicts == {"rejected"}


def test_enter_on_a_number_shows_curves(place, qtbot):
    rows = [number for number, row in enumerate(place.body._share_rows) if row.key == "ramp_time_s"]
    place.body.shares.opened.emit(rows[0])
    done(qtbot, place)
    assert "near the median, ramp" in said(place.body.behind._title)


def test_session_of_a_course_is_chosen_and_opened_by_keyboard(place, qtbot):
    place.body.charts.button(REJECTED).click()
    view = place.body.courses[REJECTED]
    view.setFocus()
    press(qtbot, Key.Key_Right)
    press(qtbot, Key.Key_Right)
    assert view.selected == 1
    assert place.body._about_courses[REJECTED].text().startswith("Session of 2026-")
    press(qtbot, Key.Key_Left)
    press(qtbot, Key.Key_Left)
    assert view.selected == 0
    press(qtbot, Key.Key_Return)
    done(qtbot, place)
    assert len(place.body.behind.read.trials) == 6
    assert "session of 2026-" in said(place.body.behind._title)


def test_session_of_a_course_is_opened_by_mouse(place, qtbot):
    place.body.charts.show_view(REJECTED)
    view = place.body.courses[REJECTED]
    qtbot.waitUntil(lambda: view.viewport().width() > 200)
    at = QPointF(*view._pixel(3)).toPoint()
    qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=at)
    assert view.selected == 3
    qtbot.mouseDClick(view.viewport(), Qt.MouseButton.LeftButton, pos=at)
    done(qtbot, place)
    assert len(place.body.behind.read.trials) == 6


def test_arrows_in_the_funnel_choose_an_examiner(place, qtbot):
    place.body.funnel.setFocus()
    press(qtbot, Key.Key_Left)
    chosen = place.body.funnel.code_at(place.body.funnel.selected)
    assert place.model.selected.code == chosen != "EX-1"
    assert codes(place)[place.body.table.currentRow()] == chosen


@pytest.fixture(scope="module")
def pairs(tmp_path_factory):
    """An archive in which two examiners tested the same persons."""
    folder = tmp_path_factory.mktemp("pairs") / "paired"
    plan = ArchivePlan(
        examiners=(Examiner(code="EX-1"), Examiner(code="EX-2")),
        sessions_each=60,
        trials_each=2,
        rate_hz=50.0,
        days=10.0,
        persons=60,
        paired=True,
    )
    write_archive(folder, plan, seed=3)
    return folder


@pytest.mark.slow
def test_study_of_agreement_is_plotted_and_leads_to_the_trials_of_a_person(placed, pairs, qtbot):
    place = placed()
    place.open_folder(pairs)
    place.run()
    done(qtbot, place)
    place.body.charts.button("agreement").click()
    view, (study, *more) = place.body.agreement, place.model.audit.agreement
    view.setFocus()
    assert said(place.body._about_study).startswith("EX-1 and EX-2: ")
    press(qtbot, Key.Key_Right)
    person = view.person_at(0)
    one, other = study.values[person]
    assert view._points[0] == pytest.approx(((one + other) / 2.0, one - other))
    assert said(place.body._about_study) == f"{study.persons[person]}: {one:.1f} N and {other:.1f} N"
    press(qtbot, Key.Key_Return)
    done(qtbot, place)
    assert said(place.body.behind._title).startswith(f"EX-1 and EX-2: trials of {study.persons[person]}")
    forces = [each.judged.judgement.measures.plateau_force_n for each in place.body.behind.read.trials]
    assert {round(one, 6), round(other, 6)} <= {round(force, 6) for force in forces}
    view.setFocus()
    assert more
    place.body.charts.button("agreement").click()
    view.setFocus()
    press(qtbot, Key.Key_Down)
    assert len(view._points) == len(more[0].persons)
    press(qtbot, Key.Key_Up)
    assert len(view._points) == len(study.persons)


def test_archive_without_a_study_says_so(place):
    assert place.body._about_study.text().startswith("No two examiners tested nine persons")
    assert not place.body.agreement.has_points
    assert "No two examiners" in place.body.archive.toPlainText()


def test_names_in_the_funnel_do_not_lie_on_one_another(place):
    names = place.body.funnel.names()
    assert "EX-1" in [name for name, _ in names]
    boxes = [box for _, box in names]
    assert not any(one.intersects(other) for one in boxes for other in boxes if one is not other)


def test_signals_of_a_course_are_words_in_lanes(place):
    boxes = place.body.courses[REJECTED].signals()
    assert len(boxes) == len([s for s in place.model.selected.courses[REJECTED].signals if s.chart == "ewma"]) > 0
    assert not any(a.intersects(b) for _, a in boxes for _, b in boxes if a is not b)


def test_trial_that_is_gone_is_told(placed, archive, tmp_path, qtbot):
    copy = Path(shutil.copytree(archive, tmp_path / "copy"))
    place = placed()
    place.open_folder(copy)
    place.run()
    done(qtbot, place)
    shutil.rmtree(copy / "EX-1")
    place.body.shares.opened.emit(1)
    done(qtbot, place)
    assert "Could not be read again: EX-1/" in said(place.body.behind._gone)
    assert not place.body.behind.curves.isVisible()


@pytest.mark.slow
def test_page_of_a_ceiling_leads_to_its_trials(placed, tmp_path, qtbot):
    plan = ArchivePlan(
        examiners=(Examiner(code="EX-1", limit_n=170.0), *(Examiner(code=f"EX-{n}") for n in (2, 3, 4))),
        sessions_each=20,
        trials_each=4,
        rate_hz=50.0,
    )
    write_archive(tmp_path / "weak", plan, seed=3)
    place = placed(unit=ForceUnit.POUND_FORCE)
    place.open_folder(tmp_path / "weak")
    place.run()
    done(qtbot, place)
    place.model.select("EX-1")
    place.body.show_audit()
    assert "show these trials" in place.body.page.toPlainText()
    place.body.page.setFocus()
    press(qtbot, Key.Key_Return)
    done(qtbot, place)
    assert "plateaus near" in said(place.body.behind._title)
    assert "lbf" in said(place.body.behind._title)
