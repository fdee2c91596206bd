"""The check of a sensor in the window: by keyboard, in both languages, and what it leaves."""

import datetime as dt
import threading
from functools import partial
from types import SimpleNamespace

import msgspec
import numpy as np
import pytest
from check_bench import whole_check
from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QCheckBox, QLabel, QLineEdit, QPushButton

from acquire.errors import LinkError, LinkFailure
from acquire.sensor.calibration_file import load_calibration
from acquire.simulation.cell import Cell
from acquire.values.units import ForceUnit
from analysis.sensor_check import load_check_limits
from ui.model.check.job import CheckJob
from ui.model.check.log import CheckLog, SessionZero
from ui.model.check.note import SensorName
from ui.model.plan.plan import PlanDraft
from ui.model.plan.remembered import Remembered
from ui.model.theme import DARK, LIGHT
from ui.session.check_routine import State
from ui.session.open_sensor import open_for_check
from ui.window.app import build_window
from ui.window.check import dialog as check_dialog
from ui.window.check.dialog import CheckDialog
from ui.window.controller import Controller
from ui.window.plan import check as plan_check
from ui.window.plan.place import PlanPlace
from ui.window.widgets.style import apply_style
from ui.words.words import Words, languages

NOW = dt.datetime(2026, 3, 2, 9, 5, tzinfo=dt.UTC)
WAIT_MS = 60_000
replace = msgspec.structs.replace
STANDARD = load_check_limits()
QUICK = replace(
    STANDARD, procedure=replace(STANDARD.procedure, look_s=3.0, rest_s=2.0, creep_s=5.0, preloads=0, runs=1)
)


@pytest.fixture
def log(tmp_path):
    return CheckLog(tmp_path / "checks")


@pytest.fixture
def dialogs(qtbot, qapp, log, tmp_path):
    """Show a dialog on a cell that lives fast."""
    parents = []

    def make(language="en", *, cell=None, theme=LIGHT, speed=40.0, **more):
        apply_style(qapp, theme)
        parent = QLabel()
        parents.append(parent)  # what is let go of is deleted, and its dialog with it
        qtbot.addWidget(parent)
        known = cell or Cell(noise_n=0.05)
        asked = {
            "opened": lambda *_: open_for_check("simulated", port=None, calibration=None, speed=speed, cell=known),
            "now": lambda: NOW,
            "limits": QUICK,
            **more,
        }
        pick = asked.pop("pick", lambda _: "")
        job = CheckJob(draft=PlanDraft(), sensor=SensorName(profile="simulated"), log=log, folder=tmp_path, **asked)
        dialog = CheckDialog(Words(language), theme, ForceUnit.NEWTON, job=job, parent=parent, pick=pick)
        dialog.show()
        qtbot.waitExposed(dialog)
        dialog.activateWindow()
        qtbot.waitUntil(dialog.isActiveWindow)
        return dialog

    return make


def over(qtbot, dialog):
    qtbot.waitUntil(lambda: dialog.check is not None or dialog.trouble.text() != "", timeout=WAIT_MS)
    assert dialog.trouble.text() == ""
    return dialog.check


def recorders():
    return [thread for thread in threading.enumerate() if thread.name == "recorder"]


@pytest.mark.slow
def test_whole_check_by_keyboard(qtbot, dialogs, log):
    dialog = dialogs()
    assert dialog.focusWidget() is dialog.setup_page.weights
    qtbot.keyClicks(dialog.focusWidget(), "10 5")
    qtbot.keyClick(dialog.focusWidget(), Qt.Key.Key_Return)  # begins: the main button is the default one
    qtbot.waitUntil(lambda: dialog.run is not None, timeout=WAIT_MS)
    assert dialog.focusWidget() is dialog.main
    check = over(qtbot, dialog)
    assert log.all("simulated") == [check]
    assert {reading.purpose for reading in check.readings} == {"zero", "up", "down", "rest", "hold", "return"}
    assert dialog.focusWidget() is dialog.main
    assert recorders() == []
    qtbot.keyClick(dialog.main, Qt.Key.Key_Space)
    assert not dialog.isVisible()


def test_space_ends_a_look_and_the_run_shows_what_it_sees(qtbot, dialogs):
    long = replace(QUICK, procedure=replace(QUICK.procedure, look_s=500.0))
    dialog = dialogs(cell=Cell(zero_n=40.0), limits=long)
    dialog.press()
    qtbot.waitUntil(lambda: "s more" in dialog.run_page.see.text() and dialog.run.routine.left_s < 490, timeout=WAIT_MS)
    assert dialog.run_page.ask.text() == "Leave the sensor unloaded and still."
    assert dialog.run_page.force.text() == "40.0 N"
    assert dialog.run_page.step.text() == "step 1 of 1"
    qtbot.keyClick(dialog.focusWidget(), Qt.Key.Key_Space)
    over(qtbot, dialog)
    assert "The zero is +40.00 N" in findings(dialog)


def findings(dialog):
    layout = dialog.result_page.findings
    widgets = [layout.itemAt(at).widget() for at in range(layout.count())]
    return "\n".join(widget.text() for widget in widgets if widget is not None)


def test_worst_finding_comes_first_with_sign_and_colour(qtbot, dialogs):
    dialog = dialogs(cell=Cell(zero_n=150.0, noise_n=1.0))
    dialog.press()
    over(qtbot, dialog)
    lines = findings(dialog).splitlines()
    assert lines[0].startswith("\u2717 The zero is +150.")
    assert lines[1].startswith("! The noise is ")
    assert {line[0] for line in lines[2:]} <= {"\u2713", "!"}
    assert dialog.result_page.verdict.text() == "\u2717 Do not use this sensor before this is put right."
    assert dialog.result_page.verdict.objectName() == "bad"
    assert not dialog.save.isVisible()  # nothing was hung


@pytest.mark.slow
def test_calibration_is_saved_with_its_uncertainty(qtbot, dialogs, tmp_path):
    path, saved = tmp_path / "cell.toml", []
    dialog = dialogs(pick=lambda start: saved.append(start) or str(path))
    dialog.setup_page.weights.setText("5 10 20")
    dialog.setup_page.full.setChecked(False)
    dialog.setup_page.serial.setText("LC-3")
    dialog.press()
    over(qtbot, dialog)
    assert dialog.save.isVisible()
    with qtbot.waitSignal(dialog.calibrated) as told:
        qtbot.mouseClick(dialog.save, Qt.MouseButton.LeftButton)
    assert told.args == [str(path)]
    assert saved == [str(tmp_path / "LC-3_2026-03-02.toml")]
    made = load_calibration(path)
    assert (made.serial, made.date) == ("LC-3", dt.date(2026, 3, 2))
    assert made.uncertainty.sensitivity_pct > 0.0
    assert str(path) in dialog.told.text()


def test_calibration_that_cannot_be_written_is_told(qtbot, dialogs, tmp_path):
    dialog = dialogs(pick=lambda _: str(tmp_path / "nowhere" / "cell.toml"))
    dialog.setup_page.weights.setText("20")
    dialog.setup_page.full.setChecked(False)
    dialog.press()
    over(qtbot, dialog)
    dialog.save.click()
    assert "cannot write the calibration" in dialog.trouble.text()


def test_next_check_begins_with_what_was_hung_the_last_time(qtbot, dialogs):
    dialog = dialogs()
    dialog.setup_page.weights.setText("20; 2,5")
    dialog.setup_page.latitude.setText("52,1")
    dialog.setup_page.elevation.setText("80")
    dialog.setup_page.by.setText("X-1")
    dialog.setup_page.full.setChecked(False)
    dialog.press()
    over(qtbot, dialog)
    dialog.accept()
    page = dialogs().setup_page
    assert (page.weights.text(), page.latitude.text(), page.elevation.text()) == ("2.5 20", "52.1", "80")
    assert (page.by.text(), page.full.isChecked()) == ("X-1", False)


def test_again_goes_back_to_the_fields(qtbot, dialogs, log):
    dialog = dialogs()
    dialog.press()
    over(qtbot, dialog)
    dialog.again.click()
    assert dialog.check is None
    assert dialog.main.text() == "&Begin"
    dialog.press()
    over(qtbot, dialog)
    assert len(log.all("simulated")) == 2
    assert findings(dialog).count("The noise is") == 1
    assert dialog.curves.accessibleName().startswith("2 checks: zero, noise and sensitivity over time")


# what goes wrong


@pytest.mark.parametrize(
    ("fields", "text"),
    [
        ({"weights": "five"}, "the weights must be masses in kilograms"),
        ({"weights": "-5"}, "the weights must be masses in kilograms"),
        ({"latitude": "95"}, "latitude and height must be those of a place"),
        ({"elevation": "80"}, "latitude and height must be those of a place"),
        (
            {"weights": "5 200"},
            "200 kg weigh 1961 N, more than the 1000 N this sensor may carry: hang 101.9 kg at most",
        ),
    ],
)
def test_wrong_fields_are_told_and_nothing_is_begun(dialogs, fields, text):
    dialog = dialogs()
    for name, typed in fields.items():
        getattr(dialog.setup_page, name).setText(typed)
    dialog.press()
    assert text in dialog.trouble.text()
    assert dialog.run is None
    assert recorders() == []


@pytest.mark.parametrize("language", languages())
def test_sensor_that_is_not_there_is_told_in_the_language(dialogs, language):
    def refuse(*_):
        raise LinkError("english", port="COM9", reason=LinkFailure.BUSY)

    dialog = dialogs(language, opened=refuse)
    dialog.press()
    assert "COM9" in dialog.trouble.text()
    assert "english" not in dialog.trouble.text()
    assert dialog.stack.currentWidget() is dialog.setup_page


def test_sensor_that_is_unplugged_leaves_nothing(qtbot, dialogs, log, device, tmp_path):
    device("packets-1k", np.zeros(60_000), "--unplug-after", 3, link=tmp_path / "tty")
    dialog = dialogs(opened=lambda *_: open_for_check("packets-1k", port=str(tmp_path / "tty"), calibration=None))
    dialog.setup_page.weights.setText("5 10")
    dialog.press()
    qtbot.waitUntil(lambda: dialog.trouble.text() != "", timeout=WAIT_MS)
    assert dialog.stack.currentWidget() is dialog.setup_page
    assert dialog.setup_page.weights.text() == "5 10"
    assert not log.folder.exists()
    assert recorders() == []


def test_escape_in_mid_check_lets_go_and_keeps_nothing(qtbot, dialogs, log):
    dialog = dialogs(speed=1.0)
    dialog.press()
    qtbot.waitUntil(lambda: dialog.run.routine.state is State.LOOKING, timeout=WAIT_MS)
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.isVisible()
    assert recorders() == []
    assert not log.folder.exists()


def test_check_that_cannot_be_kept_is_told(qtbot, dialogs, log):
    log.folder.write_text("in the way")
    dialog = dialogs()
    dialog.press()
    qtbot.waitUntil(lambda: dialog.trouble.text() != "", timeout=WAIT_MS)
    assert "the check cannot be kept" in dialog.trouble.text()


# how it looks


@pytest.mark.parametrize("theme", [LIGHT, DARK])
@pytest.mark.parametrize("language", languages())
def test_everything_has_a_name_and_no_two_letters_are_the_same(dialogs, language, theme):
    dialog = dialogs(language, theme=theme)
    for field in (each for kind in (QLineEdit, QPushButton, QCheckBox) for each in dialog.findChildren(kind)):
        assert field.accessibleName() or getattr(field, "text", str)(), field
    shown = [
        widget
        for kind in (QLabel, QPushButton, QCheckBox)
        for widget in dialog.findChildren(kind)
        if widget.isVisible()
    ]
    letters = [widget.text()[widget.text().index("&") + 1].lower() for widget in shown if "&" in widget.text()]
    assert len(letters) == len(set(letters)) >= 7


# from Plan


@pytest.fixture
def place(qtbot, qapp, tmp_path, monkeypatch):
    monkeypatch.setattr(
        check_dialog,
        "CheckDialog",
        partial(CheckDialog, pick=lambda _: str(tmp_path / "cal.toml")),
    )
    monkeypatch.setattr(
        plan_check,
        "CheckJob",
        partial(
            CheckJob,
            limits=QUICK,
            opened=lambda *_: open_for_check("simulated", port=None, calibration=None, speed=40.0, cell=Cell()),
        ),
    )
    apply_style(qapp, LIGHT)
    made = PlanPlace(
        Words(), LIGHT, ForceUnit.NEWTON, Remembered(tmp_path / "remembered.json"), now=lambda: NOW, ports=lambda: ()
    )
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    return made


def test_plan_says_what_is_known_of_the_sensor(place):
    assert not place.sensor.checked.isVisible()  # the simulated one need not be checked
    assert place.sensor.check.isEnabled()
    place.show_draft(replace(place.draft, port="COM3", sensor="packets-1k"))
    assert place.sensor.checked.text() == "! Never checked: no check of this sensor is on record."
    assert place.sensor.checked.font().bold()
    place.show_draft(replace(place.draft, sensor="nowhere.toml"))
    assert not place.sensor.check.isEnabled()


@pytest.mark.slow
def test_check_from_plan_is_known_there_and_calibrates_the_sensor(qtbot, place, tmp_path):
    place.show_draft(replace(place.draft, port="COM3", sensor="packets-1k"))
    place.activateWindow()
    qtbot.waitUntil(place.isActiveWindow)
    qtbot.keyClick(place, Qt.Key.Key_W, Qt.KeyboardModifier.AltModifier)
    qtbot.waitUntil(lambda: place.checks.dialog is not None)
    dialog = place.checks.dialog
    dialog.setup_page.weights.setText("5 20")
    dialog.setup_page.full.setChecked(False)
    dialog.press()
    over(qtbot, dialog)
    dialog.save.click()
    assert place.draft.calibration == str(tmp_path / "cal.toml")
    qtbot.keyClick(dialog.main, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: place.checks.dialog is None, timeout=WAIT_MS)
    # the cell that was opened calls itself simulated, so the plan's own sensor has none yet
    assert place.checks.log.last("simulated") is not None


def test_plan_tells_a_zero_that_has_moved_and_one_that_has_not(place):
    checks, made = place.checks.log, NOW - dt.timedelta(days=2)
    check = replace(whole_check(), serial="", made=made)
    checks.keep(check)
    place.show_draft(replace(place.draft, port="COM3", sensor="packets-1k"))
    assert place.sensor.checked.text() == "\u2713 Checked 2026-02-28: passed."
    counts = check.unloaded.zero_counts + 4000.0 * 12.0
    checks.note_zero("packets-1k", "", SessionZero(at=NOW, counts=counts))
    place.show_draft(place.draft)
    assert "Its zero has moved by +12.0 N (2.4 % of rated force) since" in place.sensor.checked.text()
    assert place.sensor.checked.objectName() == "warn"


def test_sensor_of_one_serial_number_is_known_without_it(place):
    place.checks.log.keep(replace(whole_check(), made=NOW))
    place.show_draft(replace(place.draft, port="COM3", sensor="packets-1k"))
    assert place.sensor.checked.text().startswith("\u2713 Checked")
    place.checks.log.keep(replace(whole_check(), serial="LC-2", made=NOW))
    place.show_draft(place.draft)
    assert place.sensor.checked.text().startswith("! Never checked")


def test_session_of_a_real_sensor_leaves_its_zero_for_plan(qapp, qtbot, tmp_path):
    apply_style(qapp, LIGHT)
    window = build_window(Remembered(tmp_path / "remembered.json"), LIGHT)
    qtbot.addWidget(window)
    controller = window.findChild(Controller)
    log = window.plan.checks.log
    log.keep(replace(whole_check(), serial="", made=NOW))
    controller._watch = controller._watch_of(PlanDraft(port="COM3", sensor="packets-1k"))
    ended = SimpleNamespace(trials=[SimpleNamespace(trial=SimpleNamespace(zero_counts=77.0))])
    controller._note_zero(ended)
    assert log.session_zero("packets-1k").counts == 77.0
    assert controller._watch_of(PlanDraft(port="COM3", sensor="nowhere.toml")) is None
