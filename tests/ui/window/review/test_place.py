"""Review as a user meets it: by keyboard, with good files and bad ones, in both languages and themes."""

from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

import numpy as np
import pytest
from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QAbstractButton, QApplication, QFileDialog, QInputDialog, QLabel

from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import FAULTY, GOOD, recording, simulate
from acquire.storage.csv_trace import CsvTrace, write_csv_trace
from acquire.storage.session_file import read_session, write_session
from acquire.values.records import Person, Session, SessionContext, Trial, TrialContext
from acquire.values.units import ForceUnit
from analysis.results.settings import load_result_settings
from analysis.trial.protocol import load_protocol
from ui.model.review.text import COLUMNS
from ui.model.theme import DARK, LIGHT
from ui.papers.report.from_review import report_of
from ui.session.store import SessionStore
from ui.window.review.place import ReviewPlace
from ui.window.widgets.ask import DecisionDialog, ask_rate, pick_file
from ui.window.widgets.style import apply_style
from ui.words.words import Words, languages

NOW = datetime(2026, 3, 2, 9, 5, tzinfo=UTC)
PLAN = (
    ("good", "knee-extension", "left"),
    ("fast-ramp", "knee-extension", "left"),
    ("shake", "elbow-flexion", "right"),
    ("good", "elbow-flexion", "right"),
    ("lost-samples", "hip-abduction", "right"),
)
Key = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier


def trial(code, action, side, seed=1):
    profile = load_profile("simulated")
    trace = simulate(FAULTY.get(code, GOOD), rate_hz=profile.rate_hz, seed=seed).trace
    there = ~np.isnan(trace.force)
    return Trial(
        time=trace.time[there],
        counts=np.rint(trace.force[there] * profile.counts_per_newton).astype(np.int32),
        calibration=profile.nominal_calibration(),
        zero_counts=0.0,
        context=TrialContext(action=action, side=side),
    )


@pytest.fixture
def store(tmp_path):
    context = SessionContext(session="ab", started=NOW, person=Person(code="P-7"), examiner="EX-1")
    store = SessionStore(tmp_path / "crew.h5", Session(context=context), load_protocol())
    for seed, (code, action, side) in enumerate(PLAN):
        store.add(trial(code, action, side, seed))
    return store


@pytest.fixture
def path(store):
    return store.path


@pytest.fixture
def csv(tmp_path):
    trace = recording([GOOD, FAULTY["short-hold"]], rate_hz=250.0, seed=2)
    write_csv_trace(tmp_path / "two.csv", CsvTrace(time=trace.time, force=trace.force))
    return tmp_path / "two.csv"


@pytest.fixture
def placed(qtbot, qapp):
    """Show a place of its own."""

    def make(language="en", *, theme=LIGHT, unit=ForceUnit.NEWTON, size=(1280, 668), **more):
        apply_style(qapp, theme)
        place = ReviewPlace(Words(language), theme, unit, **{"now": lambda: NOW, **more})
        qtbot.addWidget(place)
        place.resize(*size)
        place.show()
        qtbot.waitExposed(place)
        place.activateWindow()
        qtbot.waitUntil(place.isActiveWindow)
        return place

    return make


@pytest.fixture
def place(placed, path):
    place = placed()
    place.show_session(path)
    place.setFocus()
    return place


def press(qtbot, key, modifier=Qt.KeyboardModifier.NoModifier):
    """Press a key wherever the focus is."""
    qtbot.keyClick(QApplication.focusWidget(), key, modifier)


def cell(place, row, column):
    return place._table.item(row, COLUMNS.index(column)).text()


def said(place):
    """The sentence of what went wrong; empty when there is none."""
    return place._head._message.text() if place._head._message.isVisible() else ""


def page(place):
    return place._details.toPlainText()


# what is shown


def test_nothing_is_open_at_first(placed):
    place = placed()
    assert place._head._title.text() == "No file is open."
    assert not place._body.isVisible()
    place.press()
    assert place.model.selected is None


def test_session_is_shown(place):
    assert place._table.rowCount() == 5
    assert place._head._title.text() == "crew.h5"
    assert "person P-7" in place._head._about.text()
    assert cell(place, 0, "verdict") == "\u2713 accepted"
    assert cell(place, 1, "faults").startswith("ramp too fast")
    assert "Trial 1, Knee extension, left" in page(place)
    assert "plateau force" in page(place)
    assert "Withheld" in page(place)


def test_trace_is_shown(placed, csv):
    place = placed()
    place.open_path(csv)
    assert place._table.rowCount() == 2
    assert not place._head._decide_button.isEnabled()
    assert "keeps no decisions" in place._head._decide_button.toolTip()


def test_line_that_is_looked_at_is_bold(place):
    place.press()
    fonts = [place._table.item(row, 1).font().bold() for row in range(5)]
    assert fonts == [False, True, False, False, False]


def test_first_and_only_the_selected_curve_is_strong(place):
    widths = [line.opts["pen"].widthF() for _, line in place._curves._lines]
    assert widths == [1.0, 2.0]


# keyboard


@pytest.mark.slow
def test_space_goes_to_the_next_trial_and_round(place, qtbot):
    seen = []
    for _ in range(5):
        press(qtbot, Key.Key_Space)
        seen.append(place.model.selected)
    assert seen == [1, 2, 3, 4, 0]
    assert place._table.currentRow() == 0


def test_arrows_choose_a_trial(place, qtbot):
    press(qtbot, Key.Key_Down)
    press(qtbot, Key.Key_Down)
    press(qtbot, Key.Key_Up)
    assert place.model.selected == 1
    assert "Trial 2" in page(place)
    assert "ramp too fast" in page(place)


def test_space_works_from_the_curves_too(place, qtbot):
    place._curves.setFocus()
    press(qtbot, Key.Key_Space)
    assert place.model.selected == 1


def test_every_control_is_reached_by_tab(place, qtbot):
    reached = set()
    for _ in range(20):
        reached.add(QApplication.focusWidget())
        press(qtbot, Key.Key_Tab)
    wanted = {
        place._table,
        place._curves,
        place._details,
        place._head._alike_box,
        place._head._open_button,
        place._head._judge_button,
        place._head._decide_button,
        place._head._report_button,
    }
    assert wanted <= reached


def test_overlay_is_switched_by_its_key(place, qtbot):
    assert place.model.overlaid == (1,)
    press(qtbot, Key.Key_L, Qt.KeyboardModifier.ControlModifier)
    assert place.model.overlaid == ()
    assert len(place._curves._lines) == 1
    assert not place._head._alike_box.isChecked()
    press(qtbot, Key.Key_L, Qt.KeyboardModifier.ControlModifier)
    assert len(place._curves._lines) == 2


@pytest.mark.slow
def test_curve_is_kept_by_its_key_and_by_its_box(place, qtbot):
    press(qtbot, Key.Key_K, Qt.KeyboardModifier.ControlModifier)
    assert place._table.item(0, 0).checkState() is Qt.CheckState.Checked
    place._table.item(3, 0).setCheckState(Qt.CheckState.Checked)
    for _ in range(4):
        press(qtbot, Key.Key_Space)
    assert place.model.overlaid == (0, 3)
    assert len(place._curves._lines) == 3


def test_file_is_opened_by_its_key(placed, path, qtbot):
    asked = []

    def pick(*given):
        asked.append(given)
        return path

    place = placed(pick=pick)
    place.setFocus()
    press(qtbot, Key.Key_O, Qt.KeyboardModifier.ControlModifier)
    assert place._table.rowCount() == 5
    assert asked[0][:2] == (place, "Open a session or a trace")
    assert "*.h5" in asked[0][2]
    assert "*.csv" in asked[0][2]


def test_enter_presses_a_button(placed, path, qtbot):
    place = placed(pick=lambda *_: path)
    place._head._open_button.setFocus()
    press(qtbot, Key.Key_Return)
    assert place._table.rowCount() == 5


@pytest.mark.slow
def test_focus_is_where_the_next_step_is(placed, path, qtbot):
    place = placed(pick=lambda *_: path)
    place.setFocus()
    assert place._first_open.hasFocus()
    press(qtbot, Key.Key_Return)
    assert place._table.hasFocus()
    press(qtbot, Key.Key_Down)
    assert place.model.selected == 1


@pytest.mark.slow
def test_picking_no_file_changes_nothing(placed, path, qtbot):
    place = placed(pick=lambda *_: None)
    place.open_path(path)
    press(qtbot, Key.Key_O, Qt.KeyboardModifier.ControlModifier)
    assert place._table.rowCount() == 5


def test_keys_are_told_in_the_tool_tips(place):
    tips = {place._head._open_button: "Ctrl+O", place._head._judge_button: "Ctrl+J", place._head._alike_box: "Ctrl+L"}
    tips[place._head._decide_button] = "Del"
    for button, keys in tips.items():
        assert f"({keys})" in button.toolTip()
        assert button.accessibleDescription() == button.toolTip()
    assert "(Ctrl+K)" in place._table.item(0, 0).toolTip()


# decisions


def ask(place, qtbot):
    """Press the key for a decision and return the dialog it opens."""
    press(qtbot, Key.Key_Delete)
    (dialog,) = place.findChildren(DecisionDialog)
    qtbot.waitUntil(dialog.isActiveWindow)
    return dialog


@pytest.mark.slow
def test_trial_is_set_aside_and_taken_back_by_keyboard(place, path, qtbot):
    place.press()
    ask(place, qtbot)
    qtbot.keyClicks(QApplication.focusWidget(), "coughed")
    press(qtbot, Key.Key_Return)
    assert cell(place, 1, "verdict") == "\u2298 set aside"
    assert "by EX-1: coughed" in page(place)
    assert place._head._decide_button.text() == "Take back …"
    qtbot.waitUntil(lambda: not place.findChildren(DecisionDialog))
    place.activateWindow()
    qtbot.waitUntil(place.isActiveWindow)
    ask(place, qtbot)
    qtbot.keyClicks(QApplication.focusWidget(), "it was me")
    press(qtbot, Key.Key_Return)
    assert cell(place, 1, "verdict") == "\u2717 rejected"
    kept = read_session(path).trials[1].set_aside
    assert [(each.aside, each.reason, each.by, each.at) for each in kept] == [
        (True, "coughed", "EX-1", NOW),
        (False, "it was me", "EX-1", NOW),
    ]


def test_decision_waits_for_reason_and_examiner(place, path, qtbot):
    dialog = ask(place, qtbot)
    assert not dialog.confirm.isEnabled()
    dialog.by.clear()
    qtbot.keyClicks(dialog.reason, "coughed")
    assert not dialog.confirm.isEnabled()
    qtbot.keyClicks(dialog.by, "EX-9")
    assert dialog.confirm.isEnabled()
    press(qtbot, Key.Key_Escape)
    assert not read_session(path).trials[0].set_aside
    assert cell(place, 0, "verdict") == "\u2713 accepted"


@pytest.mark.slow
def test_examiner_who_decided_is_remembered(place, qtbot):
    dialog = ask(place, qtbot)
    dialog.by.setText("EX-9")
    qtbot.keyClicks(dialog.reason, "coughed")
    press(qtbot, Key.Key_Return)
    qtbot.waitUntil(lambda: not place.findChildren(DecisionDialog))
    place.activateWindow()
    qtbot.waitUntil(place.isActiveWindow)
    place.press()
    assert ask(place, qtbot).by.text() == "EX-9"


def test_decision_that_cannot_be_kept_is_said(place, path, qtbot):
    dialog = ask(place, qtbot)
    path.unlink()
    qtbot.keyClicks(dialog.reason, "coughed")
    press(qtbot, Key.Key_Return)
    assert "there is no such file" in said(place)
    assert cell(place, 0, "verdict") == "\u2713 accepted"


@pytest.mark.slow
def test_decision_during_a_recording_goes_through_its_store(placed, store, qtbot):
    place = placed()
    place.show_session(store.path, store)
    place.setFocus()
    dialog = ask(place, qtbot)
    qtbot.keyClicks(dialog.reason, "coughed")
    press(qtbot, Key.Key_Return)
    store.add(trial("good", "hip-abduction", "left"))
    assert read_session(store.path).trials[0].set_aside


def test_user_is_asked_for_file_and_rate_by_the_dialogs_of_the_system(qtbot, monkeypatch, tmp_path):
    parent, asked = QLabel(), []
    qtbot.addWidget(parent)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *given: asked.append(given) or ("/x/y.h5", ""))
    assert pick_file(parent, "Open", "*.h5") == Path("/x/y.h5")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: ("", ""))
    assert pick_file(parent, "Open", "*.h5") is None
    monkeypatch.setattr(QInputDialog, "getDouble", lambda *given: asked.append(given) or (250.0, True))
    assert ask_rate(parent, Words("en"), tmp_path / "force.csv") == 250.0
    monkeypatch.setattr(QInputDialog, "getDouble", lambda *_: (250.0, False))
    assert ask_rate(parent, Words("en"), tmp_path / "force.csv") is None
    assert asked[0] == (parent, "Open", "", "*.h5")
    assert "force.csv holds force alone" in asked[1][2]


# what goes wrong


@pytest.mark.parametrize(
    ("name", "content", "sentence"),
    [
        ("none.h5", None, "none.h5: there is no such file"),
        ("bad.h5", b"\x89HDF\r\n\x1a\n" + bytes(600), "bad.h5"),
        ("bad.csv", b"time_s,force_n\n0,1\n0,2\n", "bad.csv, line 3"),
        ("picture.png", b"\x89PNG\r\n\x1a\n" + bytes(90), "picture.png, line 1: is not text"),
    ],
)
def test_bad_file_is_said_and_what_was_shown_stays(place, tmp_path, name, content, sentence):
    if content is not None:
        (tmp_path / name).write_bytes(content)
    place.open_path(tmp_path / name)
    assert sentence in said(place)
    assert place._table.rowCount() == 5
    assert "Trial 1" in page(place)


def test_damaged_session_is_said(place, path):
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 0xFF
    path.write_bytes(data)
    place.show_session(path)
    assert "crew.h5" in said(place)
    assert place._table.rowCount() == 5


def test_sentence_stands_in_the_line_of_the_file_and_moves_nothing(place, tmp_path):
    QApplication.processEvents()
    before = place._table.mapTo(place, place._table.rect().topLeft())
    place.open_path(tmp_path / "none.csv")
    QApplication.processEvents()
    assert said(place)
    assert place._table.mapTo(place, place._table.rect().topLeft()) == before


def test_sentence_goes_when_a_good_file_comes(place, tmp_path, path):
    place.open_path(tmp_path / "none.csv")
    assert said(place)
    place.open_path(path)
    assert said(place) == ""


def test_rate_is_asked_for_where_it_is_all_that_lacks(placed, tmp_path):
    path = tmp_path / "force.csv"
    path.write_text("".join(f"{n:.3f}\n" for n in simulate(GOOD, rate_hz=250.0, seed=1).trace.force))
    place = placed(rate=lambda *_: 250.0)
    place.open_path(path)
    assert place._table.rowCount() == 1
    assert said(place) == ""


def test_rate_that_is_not_given_is_said(placed, tmp_path):
    path = tmp_path / "force.csv"
    path.write_text("1\n2\n3\n")
    place = placed(rate=lambda *_: None)
    place.open_path(path)
    assert "its sample rate is needed" in said(place)


# protocols


def test_menu_offers_what_comes_with_the_program(place):
    place._head._protocols.popup(place.mapToGlobal(place.rect().center()))
    names = [action.text() for action in place._head._protocols.actions() if action.text()]
    place._head._protocols.close()
    assert names == ["brief", "fast", "ramp-and-hold", "A protocol file …"]


def test_trials_are_judged_by_a_file_and_nothing_stored_changes(place, tmp_path, path):
    shipped = resources.files("analysis") / "data" / "protocols" / "ramp-and-hold.toml"
    text = shipped.read_text(encoding="utf-8").replace("reject_above_s = 2.5", "reject_above_s = 1.0")
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    before = path.read_bytes()
    place._head._protocols._pick = lambda *_: tmp_path / "mine.toml"
    place._head._protocols.pick_one()
    assert cell(place, 0, "verdict") == "\u2717 rejected (was accepted)"
    assert path.read_bytes() == before


def test_protocol_that_is_none_is_said(place, csv):
    place.judge_by(str(csv))
    assert "two.csv" in said(place)
    assert cell(place, 0, "verdict") == "\u2713 accepted"


def test_banner_says_that_another_protocol_was_chosen_until_the_next_file(place, path):
    assert not place._head._banner.isVisible()
    place.judge_by("brief")
    assert place._head._banner.isVisible()
    assert "Judged by brief, as you chose for this file" in place._head._banner_text.text()
    place._head._back.click()
    assert not place._head._banner.isVisible()
    assert place.model.protocol.name == "ramp-and-hold"
    place.judge_by("brief")
    place.open_path(path)
    assert not place._head._banner.isVisible()


# the list of sessions, and last time


@pytest.fixture
def folder(path):
    """Return a folder with a session of the same person a week before, one of another, and one that is broken."""
    for name, person, day in (("before", "P-7", 23), ("other", "P-8", 28)):
        context = SessionContext(session=name, started=NOW.replace(month=2, day=day), person=Person(code=person))
        store = SessionStore(path.with_name(f"{name}.h5"), Session(context=context), load_protocol())
        store.add(trial("good", "knee-extension", "left"))
    path.with_name("broken.h5").write_bytes(b"no session")
    return path.parent


def listed(place):
    return [place._sessions.list.item(row).text().split()[0] for row in range(place._sessions.list.count())]


def test_session_is_opened_from_the_list_by_person(placed, folder, qtbot):
    place = placed(folder=lambda: folder)
    qtbot.waitUntil(lambda: listed(place) == ["P-7", "P-8", "P-7"])  # the newest first
    place._sessions.typed.setFocus()
    qtbot.keyClicks(place._sessions.typed, "p-8")
    assert listed(place) == ["P-8"]
    press(qtbot, Key.Key_Return)
    assert place._head._title.text() == "other.h5"
    assert not place._sessions.isVisible()  # it makes way where there is little room
    press(qtbot, Key.Key_B, CONTROL)
    assert place._sessions.isVisible()
    qtbot.keyClicks(place._sessions.typed, "x")
    assert place._sessions._about.text() == "No session matches \u201cp-8x\u201d."
    place.end()


def test_set_stands_beside_the_trials_with_last_time(placed, folder, path, qtbot):
    place = placed(folder=lambda: folder)
    place.open_path(path)
    qtbot.waitUntil(lambda: "last time" in place._set.toPlainText())
    text = " ".join(place._set.toPlainText().split())
    assert "Knee extension, by hand left right" in text
    assert "accepted 1 of 2" in text
    assert "Last time: 2026-02-23." in text
    assert "left last time, N: " in place._set.accessibleDescription()
    place._table.setCurrentCell(4, 0)
    assert "No earlier session with this action" in place._set.toPlainText()
    place.end()


def test_bar_between_panes_is_moved_by_keys(place, qtbot):
    bar = place._body.handle(1)
    bar.setFocus()
    before = place._body.sizes()
    press(qtbot, Key.Key_Down)
    assert place._body.sizes()[0] == before[0] + 24
    assert bar.accessibleName()


# scores


def test_menu_offers_the_scores_that_come_with_the_program(place):
    place._head._scorings.popup(place.mapToGlobal(place.rect().center()))
    names = [action.text() for action in place._head._scorings.actions() if action.text()]
    place._head._scorings.close()
    assert names == ["mean-of-best-second", "peak", "standard", place._words("review.score_file")]


def test_report_is_scored_by_what_was_chosen(place):
    place._head.settings_chosen.emit("peak")
    assert place.model.settings == load_result_settings("peak")
    page = report_of(place.model, Words(), ForceUnit.NEWTON).page.read_text(encoding="utf-8")
    assert f"scored by peak, {place.model.settings.hash}" in page


def test_settings_that_are_none_are_said(place, csv):
    place.score_by(str(csv))
    assert "two.csv" in said(place)
    assert place.model.settings == load_result_settings()


# every window


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda theme: theme.name)
@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("size", [(1280, 668), (1920, 1028)], ids=["720", "1080"])
def test_nothing_is_cut(placed, path, language, theme, size):
    place = placed(language, theme=theme, size=size)
    place.show_session(path)
    QApplication.processEvents()  # the list of sessions makes way
    assert place.size().width() == size[0]  # no widget asks for more than there is
    assert place.minimumSizeHint().width() <= size[0]
    assert place.minimumSizeHint().height() <= size[1]
    for button in place.findChildren(QAbstractButton):
        if button.isVisible() and button.text():
            assert button.width() >= button.sizeHint().width(), button.text()
    for label in place.findChildren(QLabel):
        if label.isVisible() and label.wordWrap():
            assert label.height() >= label.heightForWidth(label.width()), label.text()
    assert place._table.horizontalScrollBar().maximum() == 0


@pytest.mark.parametrize("unit", ForceUnit)
def test_forces_are_in_the_unit_that_was_chosen(placed, path, unit):
    place = placed(unit=unit)
    place.show_session(path)
    heading = place._table.horizontalHeaderItem(COLUMNS.index("plateau")).text()
    assert heading == f"plateau, {unit.symbol}"
    assert unit.symbol in place._curves.getPlotItem().getAxis("left").labelText
    newtons = place.model.trials[0].judgement.measures.plateau_force_n
    assert float(cell(place, 0, "plateau")) == pytest.approx(newtons / unit.newtons, abs=0.06)


def test_everything_has_a_name_for_those_who_do_not_see_it(place):
    for widget in (place._table, place._curves, place._details, place._head._open_button, place._head._judge_button):
        assert widget.accessibleName()


def test_session_without_trials_says_so(placed, tmp_path):
    context = SessionContext(session="ab", started=NOW)
    write_session(tmp_path / "new.h5", Session(context=context))
    place = placed()
    place.show_session(tmp_path / "new.h5")
    assert place._head._title.text() == "new.h5"
    assert place._hint.text() == "This session holds no trials yet."


# report


def test_report_is_written_beside_the_session_and_named(place, qtbot, path):
    press(qtbot, Key.Key_R, CONTROL)
    pdf = path.with_name("crew-report.pdf")
    assert place._head._told.isVisible()
    assert place._head._told.text() == f"Report: {pdf} and crew-report.html"
    assert pdf.read_bytes().startswith(b"%PDF")
    assert "Elbow flexion" in path.with_name("crew-report.html").read_text(encoding="utf-8")
    place.open_path(path)
    assert not place._head._told.isVisible(), "it is of what was open before"


@pytest.mark.slow
def test_report_is_in_the_words_and_unit_of_the_window(placed, path):
    place = placed("de", unit=ForceUnit.KILOGRAM_FORCE)
    place.show_session(path)
    place._head._report_button.click()
    page_ = path.with_name("crew-report.html").read_text(encoding="utf-8")
    assert "Ellbogenflexion" in page_
    assert "Kraft, kgf" in page_
    assert place._head._told.text().startswith("Bericht: ")


def test_trace_as_text_has_no_report(placed, csv):
    place = placed()
    place.open_path(csv)
    assert not place._head._report_button.isEnabled()
    assert "has no report" in place._head._report_button.toolTip()


@pytest.mark.slow
def test_report_that_cannot_be_written_is_said(place, path):
    path.with_name("crew-report.pdf").mkdir()
    place._head._report_button.click()
    assert "the report cannot be written" in said(place)
    assert not place._head._told.isVisible()
