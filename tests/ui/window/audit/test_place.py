"""Audit as a user meets it: by keyboard, from nothing to an audit, and what is told when something is in the way."""

import shutil
import sqlite3
import threading
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import pytest
from audit_window import codes, done, press, said
from PyQt6.QtCore import Qt

from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from analysis.audit.examiners import REJECTED
from ui.model.audit.work import STORE

Key = Qt.Key


# from nothing to an audit


@pytest.mark.slow
def test_space_chooses_then_audits_then_goes_from_examiner_to_examiner(placed, archive, qtbot):
    place = placed(folder=lambda *_: archive)
    place.setFocus()
    press(qtbot, Key.Key_Space)
    assert place._title.text() == archive.name
    assert not place.running
    assert "Not audited yet" in said(place._hint)
    place.setFocus()
    press(qtbot, Key.Key_Space)
    done(qtbot, place)
    assert codes(place) == ["EX-1", "EX-2", "EX-3", "EX-10", "EX-4"]
    press(qtbot, Key.Key_Space)
    assert place.model.selected.code == "EX-2"


@pytest.mark.slow
def test_archive_is_remembered_and_not_audited_unasked(audited, placed, archive):
    audited()
    again = placed()
    assert again._title.text() == archive.name
    assert again.model.audit is None


def test_choice_that_is_given_up_changes_nothing(placed):
    place = placed(folder=lambda *_: None)
    place.press()
    assert place.model.choice.folder == ""


def test_window_lives_while_it_measures_and_space_does_not_stop_it(placed, archive, qtbot):
    go = threading.Event()

    def slow(work, batches):
        assert go.wait(30.0)
        yield from map(work, batches)

    place = placed(mapper=slow)
    place.open_folder(archive)
    place.run()
    qtbot.waitUntil(lambda: place._run.progress is not None)
    assert place._working.isVisible()
    assert not place._run_button.isEnabled()
    place.press()
    place.run()
    place.open_folder(archive.parent)
    assert place.running
    assert place.model.choice.folder == str(archive)
    go.set()
    done(qtbot, place)
    assert not place._working.isVisible()
    assert place._run_button.isEnabled()


@pytest.mark.slow
def test_cancel_keeps_what_was_measured_and_the_next_audit_goes_on(placed, archive, tmp_path, qtbot):
    fresh = Path(shutil.copytree(archive, tmp_path / "fresh", ignore=shutil.ignore_patterns(f"{STORE}*")))
    first, go, measured = threading.Event(), threading.Event(), []

    def batch_by_batch(work, batches):
        for batch in batches:
            measured.extend(batch)
            yield work(batch)
            first.set()
            assert go.wait(30.0)

    place = placed(mapper=batch_by_batch)
    place.open_folder(fresh)
    place.run()
    qtbot.waitUntil(first.is_set)
    qtbot.waitUntil(lambda: place._bar.value() == 8)
    assert place._bar.maximum() == 35
    place.setFocus()
    press(qtbot, Key.Key_Escape)
    assert said(place._so_far) == "Stopping; what was measured is being kept \u2026"
    go.set()
    done(qtbot, place)
    assert "goes on from there" in said(place._note)
    assert len(measured) == 16
    place.press()
    done(qtbot, place)
    assert len(measured) == 35
    assert codes(place)[0] == "EX-1"


def test_window_that_is_closed_stops_the_audit(placed, archive, tmp_path):
    fresh = Path(shutil.copytree(archive, tmp_path / "fresh", ignore=shutil.ignore_patterns(f"{STORE}*")))
    place = placed()
    place.open_folder(fresh)
    place.run()
    place.end()
    assert place.model.audit is None


# trouble


def test_folder_that_is_gone_is_told(placed, tmp_path, qtbot):
    place = placed()
    place.open_folder(tmp_path / "gone")
    place.run()
    done(qtbot, place)
    assert "there is no such folder" in said(place._message)
    assert not (tmp_path / "state" / "audits").exists()


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (BrokenProcessPool("terminated abruptly"), "perhaps because the computer was out of memory"),
        (sqlite3.OperationalError("database or disk is full"), "database or disk is full"),
        (OSError(5, "Input/output error"), "Input/output error"),
    ],
)
def test_audit_that_fails_says_why_and_can_be_tried_again(placed, archive, qtbot, error, told):
    def broken(*_):
        raise error

    place = placed(mapper=broken)
    place.open_folder(archive)
    place.run()
    done(qtbot, place)
    assert told in said(place._message)
    assert place._run_button.isEnabled()


def test_file_that_cannot_be_read_is_told_with_its_name(place):
    assert "! 1 not read" in place._about.text()
    assert "00009.h5" in place.body.archive.toPlainText()


def test_folder_without_sessions_says_so(placed, tmp_path, qtbot):
    (tmp_path / "empty").mkdir()
    place = placed()
    place.open_folder(tmp_path / "empty")
    place.run()
    done(qtbot, place)
    assert said(place._hint) == "There are no sessions in this folder."
    assert not place.body.isVisible()


def test_sessions_without_examiners_say_so(placed, tmp_path, qtbot):
    plan = ArchivePlan(examiners=(Examiner(code=""),), sessions_each=1, trials_each=2, rate_hz=100.0)
    write_archive(tmp_path / "nobody", plan)
    place = placed()
    place.open_folder(tmp_path / "nobody")
    place.run()
    done(qtbot, place)
    assert "No trial names its examiner" in said(place._hint)
    assert place.save.isVisible()
    assert not place.save.buttons["coach"].isEnabled()


def test_one_examiner_alone_is_shown_without_comparison(placed, tmp_path, qtbot):
    plan = ArchivePlan(examiners=(Examiner(code="EX-1"),), sessions_each=5, trials_each=4, rate_hz=100.0)
    write_archive(tmp_path / "one", plan)
    place = placed()
    place.open_folder(tmp_path / "one")
    place.run()
    done(qtbot, place)
    assert codes(place) == ["EX-1"]
    assert "nobody to compare with" in said(place._note)
    assert place.body._about_funnel.text().startswith("Nobody can be compared")
    assert not place.body.funnel.has_points
    assert place.body._about_courses[REJECTED].text().startswith("Fewer than six sessions")


def test_protocol_that_cannot_be_read_is_told(place, tmp_path):
    (tmp_path / "own.toml").write_text("name = 1")
    place.judge_by(str(tmp_path / "own.toml"))
    assert "own.toml" in said(place._message)
    assert not place.model.stale


# the table


def test_s_sorts_by_the_column_of_the_cell(place, qtbot):
    place.setFocus()
    press(qtbot, Key.Key_S)
    assert codes(place) == ["EX-1", "EX-2", "EX-3", "EX-4", "EX-10"]
    assert place.body.table.horizontalHeaderItem(0).text() == "examiner \u25b2"
    press(qtbot, Key.Key_Right)
    press(qtbot, Key.Key_S)
    assert codes(place)[-1] == "EX-4"
    assert place.body.table.horizontalHeaderItem(1).text() == "sessions \u25bc"
    assert place.body.table.horizontalHeaderItem(1).font().bold()
    assert place.model.selected.code == "EX-1"
    assert place.body.table.currentRow() == codes(place).index("EX-1")


def test_click_on_a_head_sorts(place):
    place.body.table.horizontalHeader().sectionClicked.emit(2)
    assert place.model.order == ("trials", True)


def test_arrows_choose_an_examiner_and_everything_follows(place, qtbot):
    place.setFocus()
    press(qtbot, Key.Key_Down)
    assert place.model.selected.code == "EX-2"
    assert place.body.page.toPlainText().startswith("EX-2")
    assert place.body.funnel.code_at(place.body.funnel.selected) == "EX-2"
    assert place.body.courses[REJECTED].course is place.model.selected.courses[REJECTED]


def test_findings_are_sentences_with_advice(place):
    assert "would be usual with others" in place.body.page.toPlainText()
    assert "ask the person to build up" in place.body.page.toPlainText()


def test_too_few_to_tell_shows_no_course(place, qtbot):
    place.setFocus()
    for _ in range(4):
        press(qtbot, Key.Key_Down)
    assert place.model.selected.code == "EX-4"
    assert "nothing is said" in place.body.page.toPlainText()
    assert place.body.courses[REJECTED].course is None
