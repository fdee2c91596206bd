"""Audit as a user meets it: by keyboard, in both languages and themes, with an archive of invented sessions."""

import csv
import json
import shutil
import sqlite3
import threading
from concurrent.futures.process import BrokenProcessPool
from importlib import resources
from pathlib import Path

import pytest
from pypdf import PdfReader
from PyQt6.QtCore import QPointF, Qt
from PyQt6.QtWidgets import QAbstractButton, QApplication, QFileDialog, QLabel

from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from acquire.values.units import ForceUnit
from analysis.audit.examiners import REJECTED
from ui.model.audit.work import STORE
from ui.model.plan.remembered import Remembered
from ui.model.theme import DARK, LIGHT
from ui.window.audit.ask import pick_target
from ui.window.audit.place import AuditPlace
from ui.window.widgets.ask import pick_folder
from ui.window.widgets.style import apply_style
from ui.words.words import Words, languages

Key = Qt.Key


@pytest.fixture
def remembered(tmp_path):
    return Remembered(tmp_path / "state" / "remembered.json")


@pytest.fixture
def placed(qtbot, qapp, remembered):
    """Show a place of its own; what it does in threads is over at the end of the test."""
    places = []

    def make(language="en", *, theme=LIGHT, size=(1280, 668), unit=ForceUnit.NEWTON, **more):
        apply_style(qapp, theme)
        place = AuditPlace(Words(language), theme, unit, remembered, **{"mapper": map, **more})
        places.append(place)
        qtbot.addWidget(place)
        place.resize(*size)
        place.show()
        qtbot.waitExposed(place)
        place.activateWindow()
        qtbot.waitUntil(place.isActiveWindow)
        return place

    yield make
    for place in places:
        place.end()


@pytest.fixture
def audited(placed, archive, qtbot):
    """Show the archive, audited."""

    def make(*arguments, **options):
        place = placed(*arguments, **options)
        place.open_folder(archive)
        place.run()
        done(qtbot, place)
        return place

    return make


@pytest.fixture
def place(audited):
    return audited()


def done(qtbot, place):
    """Wait until nothing is under way."""
    qtbot.waitUntil(lambda: not place.busy, timeout=30_000)


def press(qtbot, key, modifier=Qt.KeyboardModifier.NoModifier):
    """Press a key wherever the focus is."""
    qtbot.keyClick(QApplication.focusWidget(), key, modifier)


def said(label):
    """What a label says; empty while it is hidden."""
    return label.text() if label.isVisible() else ""


def codes(place):
    return [place.body.table.item(row, 0).text() for row in range(place.body.table.rowCount())]


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
    assert "where others' " in place.body.page.toPlainText()
    assert "ask the person to build up" in place.body.page.toPlainText()


def test_too_few_to_tell_shows_no_course(place, qtbot):
    place.setFocus()
    for _ in range(4):
        press(qtbot, Key.Key_Down)
    assert place.model.selected.code == "EX-4"
    assert "nothing is said" in place.body.page.toPlainText()
    assert place.body.courses[REJECTED].course is None


# to the curves


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


# blind


def test_blind_audit_names_nobody_and_still_shows_the_curves(place, qtbot):
    press(qtbot, Key.Key_B, Qt.KeyboardModifier.ControlModifier)
    assert not place.body.isVisible()
    done(qtbot, place)
    assert codes(place)[0].startswith("examiner ")
    place.body.shares.opened.emit(1)
    done(qtbot, place)
    words = [label.text() for label in place.findChildren(QLabel)] + [place.body.page.toPlainText()]
    words += [place.body.archive.toPlainText(), *codes(place)]
    assert place.body.behind.read.trials
    assert not [text for text in words if "EX-" in text]
    assert not place.save.buttons["coach"].isEnabled()
    assert place.save.buttons["csv"].isEnabled()


@pytest.mark.slow
def test_blind_is_remembered(place, placed, qtbot):
    place.set_blind(True)
    done(qtbot, place)
    assert placed()._blind.isChecked()


# writing


@pytest.mark.slow
def test_tables_json_pages_and_coaching_sheet_are_written(audited, tmp_path, qtbot):
    (tmp_path / "out").mkdir()
    place = audited(
        folder=lambda *_: tmp_path / "out" / "tables",
        target=lambda _parent, _title, start, _kinds: tmp_path / "out" / start.name,
    )
    for kind, file in (("json", "audit.json"), ("pdf", "audit.pdf"), ("coach", "coaching-EX-1.pdf"), ("csv", "tables")):
        place.save.buttons[kind].click()
        done(qtbot, place)
        assert place.save.said == f"Written: {tmp_path / 'out' / file}"
    assert json.loads((tmp_path / "out" / "audit.json").read_text())["sessions"] == 34
    assert "Audit of examiners" in PdfReader(tmp_path / "out" / "audit.pdf").pages[0].extract_text()
    assert "EX-1" in PdfReader(tmp_path / "out" / "coaching-EX-1.pdf").pages[0].extract_text()
    with (tmp_path / "out" / "tables" / "examiners.csv").open() as file:
        assert {row["examiner"] for row in csv.DictReader(file)} == {"EX-1", "EX-2", "EX-3", "EX-4", "EX-10"}


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["csv", "json", "pdf", "coach"])
def test_what_cannot_be_written_is_told(audited, tmp_path, qtbot, kind):
    (tmp_path / "file").write_text("in the way")
    wrong = tmp_path / "file" / "inside"
    place = audited(folder=lambda *_: wrong, target=lambda *_: wrong)
    place.save.buttons[kind].click()
    done(qtbot, place)
    assert str(wrong) in said(place._message)
    assert place.save.said == ""


def test_nothing_is_written_where_nothing_is_picked(audited):
    place = audited(folder=lambda *_: None, target=lambda *_: None)
    for button in place.save.buttons.values():
        button.click()
    assert not place.busy
    assert place.save.said == ""


def test_dialogs_give_paths(placed, monkeypatch, tmp_path):
    place = placed()
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(tmp_path))
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "a.pdf"), ""))
    assert pick_folder(place, "", tmp_path) == tmp_path
    assert pick_target(place, "", tmp_path, "") == tmp_path / "a.pdf"
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: "")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: ("", ""))
    assert pick_folder(place, "", tmp_path) is pick_target(place, "", tmp_path, "") is None


# other protocols


@pytest.mark.slow
def test_protocols_are_offered_and_another_one_is_judged_by_when_asked(audited, tmp_path, qtbot):
    text = (resources.files("analysis") / "data/protocols/ramp-and-hold.toml").read_text(encoding="utf-8")
    own = tmp_path / "lenient.toml"
    own.write_text(text.replace('name = "ramp-and-hold"', 'name = "lenient"'))
    place = audited(pick=lambda *_: own)
    place._protocols.aboutToShow.emit()
    names = [action.text() for action in place._protocols.actions() if action.text()]
    assert "ramp-and-hold" in names
    place._protocols.actions()[-1].trigger()
    assert said(place._note) == "Chosen: lenient. Press Audit to judge by it."
    place.press()
    done(qtbot, place)
    assert "judged by lenient" in place._about.text()
    assert said(place._note) == ""


# looks


@pytest.mark.slow
@pytest.mark.parametrize("size", [(1280, 668), (1920, 1028)], ids=["720", "1080"])
@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda theme: theme.name)
def test_nothing_is_cut(audited, theme, language, size):
    place = audited(language, theme=theme, size=size)
    place.body.said.show_view("shares")
    QApplication.processEvents()
    assert (place.width(), place.height()) == size
    assert place.minimumSizeHint().width() <= size[0]
    for button in place.findChildren(QAbstractButton):
        if button.isVisible() and button.text():
            assert button.width() >= button.sizeHint().width(), button.text()
    for label in place.findChildren(QLabel):
        if label.isVisible() and label.wordWrap():
            assert label.height() >= label.heightForWidth(label.width()), label.text()
    for table in (place.body.table, place.body.shares):
        assert table.horizontalScrollBar().maximum() == 0
        heads = table.horizontalHeader()
        for column in range(table.columnCount()):
            wanted = heads.fontMetrics().horizontalAdvance(table.horizontalHeaderItem(column).text())
            assert heads.sectionSize(column) >= wanted, table.horizontalHeaderItem(column).text()


@pytest.mark.parametrize("language", languages())
def test_first_page_is_not_cut(placed, language):
    place = placed(language)
    QApplication.processEvents()
    assert place._hint.height() >= place._hint.heightForWidth(place._hint.width())
    assert place._first.text() == Words(language)("audit.choose")


def test_everything_has_a_name_for_those_who_do_not_see_it(place):
    body = place.body
    for widget in (body.table, body.shares, body.page, body.archive, body.funnel, *body.courses.values(), place._bar):
        assert widget.accessibleName()


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
