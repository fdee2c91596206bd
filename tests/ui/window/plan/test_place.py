"""The Plan place as a user meets it: by keyboard, in both languages."""

import datetime as dt
import json
import threading

import msgspec
import pytest
from PyQt6.QtCore import QEvent, QObject, QPoint, QRect, Qt
from PyQt6.QtWidgets import QAbstractButton, QApplication, QComboBox, QLabel, QLineEdit, QSpinBox

from acquire.errors import LinkError, LinkFailure
from acquire.links.bluetooth_search import BluetoothSensor
from acquire.links.ports import PortInfo
from acquire.sensor.calibration_file import save_calibration
from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import GOOD
from acquire.values.calibration import Calibration
from acquire.values.records import Person
from acquire.values.units import ForceUnit
from ui.model.plan.checks import problems
from ui.model.plan.plan import PlanDraft, contexts_of
from ui.model.plan.remembered import Remembered
from ui.model.theme import DARK, LIGHT
from ui.session.open_sensor import open_sensor
from ui.window.plan import limit as plan_limit
from ui.window.plan.bluetooth import BluetoothSearch
from ui.window.plan.place import PlanPlace
from ui.window.plan.table import ACTION, COLUMNS, LEVERS, METHOD
from ui.window.widgets.style import apply_style
from ui.words.words import Words, languages

NOW = dt.datetime(2026, 3, 2, 9, 5, tzinfo=dt.UTC)
PORTS = (PortInfo(device="/dev/ttyACM7", description="force sensor"), PortInfo(device="COM3", description="COM3"))
replace = msgspec.structs.replace


@pytest.fixture
def remembered(tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    return Remembered(tmp_path / "state" / "remembered.json")


@pytest.fixture
def placed(qtbot, qapp, remembered):
    """Show a place of its own."""

    def make(language="en", *, theme=LIGHT, unit=ForceUnit.NEWTON, memory=None, **more):
        apply_style(qapp, theme)
        more = {"now": lambda: NOW, "ports": lambda: PORTS, **more}
        place = PlanPlace(Words(language), theme, unit, memory or remembered, **more)
        qtbot.addWidget(place)
        place.resize(1280, 675)
        place.show()
        qtbot.waitExposed(place)
        place.activateWindow()
        qtbot.waitUntil(place.isActiveWindow)
        return place

    return make


@pytest.fixture
def place(placed):
    return placed()


@pytest.fixture
def good(tmp_path):
    return PlanDraft(
        person=Person(code="P-014"),
        examiner="X01",
        out=str(tmp_path / "p.h5"),
        cautions_acknowledged=NOW,
        language="en",
    )


def typed(qtbot, *strokes):
    """Press keys one after the other, whatever has the focus."""
    for stroke in strokes:
        widget = QApplication.focusWidget()
        if isinstance(stroke, str):
            qtbot.keyClicks(widget, stroke)
        else:
            qtbot.keyClick(widget, stroke)


def cell(place, key, column):
    rows = place.what.table.rows
    at = next(place for place, row in enumerate(rows.rows) if row.action.key == key)
    return rows.index(at, COLUMNS.index(column))


def shown(place, key, column):
    return cell(place, key, column).data()


TAB, SPACE, DOWN, RIGHT, ENTER = Qt.Key.Key_Tab, Qt.Key.Key_Space, Qt.Key.Key_Down, Qt.Key.Key_Right, Qt.Key.Key_Return


# a session planned without a mouse


@pytest.mark.parametrize("language", languages())
def test_plan_is_filled_and_begun_by_keyboard(qtbot, placed, tmp_path, language):
    place = placed(language)
    place.setFocus()
    assert QApplication.focusWidget() is place.who.code
    begun = []
    place.begin.connect(begun.append)
    typed(qtbot, "P-014", TAB, DOWN, TAB, "34", TAB, "61,5", TAB, "168", TAB, DOWN, DOWN, TAB, "X01", TAB, "260")
    while QApplication.focusWidget() is not place.last.understood:
        typed(qtbot, TAB)
    typed(qtbot, SPACE, TAB, SPACE)
    (draft,) = begun
    assert draft.person == Person(
        code="P-014", sex="female", age_years=34.0, mass_kg=61.5, height_m=1.68, dominant_side="right"
    )
    assert (draft.examiner, draft.examiner_limit_n, draft.limit_measured) == ("X01", 260.0, False)
    assert (draft.cautions_acknowledged, draft.language) == (NOW, language)
    assert draft.out == str(tmp_path / "ramphold" / "P-014_2026-03-02_0905.h5")
    assert (tmp_path / "ramphold").is_dir()
    assert problems(draft) == ()
    assert len(contexts_of(draft)) == 26


def test_tab_goes_through_everything_once_and_comes_round(qtbot, place):
    place.show_draft(replace(place.draft, port="COM3", sensor="bridge-80"))  # or the simulated sensor's are passed by
    place.setFocus()
    turns = []
    for _ in place.in_turn():
        turns.append(QApplication.focusWidget())
        typed(qtbot, TAB)
    assert [_owner(place, widget) for widget in turns] == place.in_turn()
    assert QApplication.focusWidget() is place.who.code


def _owner(place, widget):
    return next((field for field in place.in_turn() if field is widget or field.isAncestorOf(widget)), widget)


def test_every_field_has_a_name_and_its_label_is_its_buddy(place):
    fields = [w for w in place.in_turn() if isinstance(w, QLineEdit | QComboBox | QSpinBox)]
    buddies = [label.buddy() for label in place.findChildren(QLabel) if label.buddy() is not None]
    assert set(fields) <= set(buddies)
    for widget in place.in_turn():
        name = widget.accessibleName() or (widget.text() if isinstance(widget, QAbstractButton) else "")
        assert name
        assert "&" not in widget.accessibleName()


def test_letter_of_a_label_goes_to_its_field(qtbot, place):
    qtbot.keyClick(place, Qt.Key.Key_M, Qt.KeyboardModifier.AltModifier)
    assert place.who.mass.hasFocus()


# what keeps it from beginning


def test_begin_is_blocked_until_the_cautions_are_acknowledged(qtbot, place, good):
    place.show_draft(replace(good, cautions_acknowledged=None))
    with qtbot.assertNotEmitted(place.begin):
        place.press()
    assert place.last.understood.hasFocus()
    assert place.last.status.text() == "! Still open: the cautions, to be read and acknowledged"
    assert place.last.status.font().bold()
    typed(qtbot, SPACE)
    assert place.draft.cautions_acknowledged == NOW
    assert place.last.status.text() == "All is there: begin."
    with qtbot.waitSignal(place.begin) as begun:
        place.press()
    assert begun.args[0].person.code == "P-014"


def test_cautions_taken_back_block_again(qtbot, place, good):
    place.show_draft(good)
    place.last.understood.setFocus()
    typed(qtbot, SPACE)
    assert problems(place.draft) == ("plan.missing.cautions",)


@pytest.mark.parametrize("language", languages())
def test_cautions_are_all_to_be_read(placed, language):
    place = placed(language)
    said = [label.text() for label in place.last.findChildren(QLabel)]
    for key in ("pain", "breath", "injury", "clearance", "belt", "rules"):
        assert Words(language)(f"caution.{key}") in said


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"person": Person()}, "who.code"),
        ({"person": Person(code="P", age_years=200.0)}, "who.age"),
        ({"person": Person(code="P", mass_kg=900.0)}, "who.mass"),
        ({"person": Person(code="P", height_m=0.17)}, "who.stature"),
        ({"examiner": ""}, "who.examiner"),
        ({"examiner_limit_n": 0.0}, "who.limit"),
        ({"rest_s": 30.0}, "what.rest"),
        ({"trials": 0}, "what.trials"),
        ({"sides": ()}, "what.sides"),
        ({"battery": "own"}, "what.table"),
        ({"battery": "nowhere.toml"}, "what.battery"),
        ({"port": "COM3", "sensor": ""}, "sensor.sensor"),
        ({"port": "COM3", "sensor": "nowhere"}, "sensor.sensor"),
        ({"port": "", "sensor": "bridge-80"}, "sensor.port"),
        ({"port": "COM3", "sensor": "bridge-80", "calibration": "nowhere.toml"}, "sensor.calibration"),
        ({"protocol": "nowhere.toml"}, "sensor.protocol"),
        ({"out": " "}, "sensor.out"),
        ({"out": "/nowhere/at/all/p.h5"}, "sensor.out"),
    ],
)
def test_press_goes_to_the_first_thing_missing_and_says_what(qtbot, place, good, change, field):
    place.show_draft(replace(good, **change))
    place.last.begin.setFocus()
    with qtbot.assertNotEmitted(place.begin):
        place.press()
    card, name = field.split(".")
    wanted = getattr(getattr(place, card), name)
    assert _owner(place, QApplication.focusWidget()) is wanted
    assert place.last.status.text().startswith("! Still open: ")


def test_press_goes_to_the_first_lever_arm_that_is_missing(place, good):
    arms = {"shoulder-flexion": {"left": 0.25, "right": 0.25}, "shoulder-extension": {"left": 0.25}}
    place.show_draft(replace(good, want_torque=True, lever_arms=arms))
    place.press()
    assert place.what.table.hasFocus()
    assert place.what.table.currentIndex() == cell(place, "shoulder-extension", "right")
    assert shown(place, "shoulder-extension", "right") == "missing"


def test_folder_that_cannot_be_made_is_said(qtbot, place, good, tmp_path):
    place.show_draft(replace(good, out=str(tmp_path / "new" / "p.h5")))
    (tmp_path / "new").symlink_to(tmp_path / "gone")  # neither there, nor can it be made
    with qtbot.assertNotEmitted(place.begin):
        place.press()
    assert "its folder cannot be made" in place.last.status.text()


def test_trouble_of_a_session_is_shown_and_gone_with_the_next_edit(place, good):
    place.show_draft(good)
    place.show_trouble("there is no port COM3")
    assert place.last.status.text() == "! there is no port COM3"
    place.edit(lambda draft: replace(draft, trials=4))
    assert place.last.status.text() == "All is there: begin."


# the battery


def test_estimate_follows_the_plan(qtbot, place):
    assert place.what.estimate.text() == "about 66 min, 1 change of position"
    place.what.battery.setFocus()
    typed(qtbot, DOWN)
    assert place.draft.battery == "arm"
    assert place.what.estimate.text() == "about 39 min, no change of position"
    place.what.rest.setFocus()
    typed(qtbot, Qt.Key.Key_Up)
    assert place.draft.rest_s == 105.0
    assert place.what.estimate.text() == "about 43 min, no change of position"


def test_estimate_is_in_the_users_language(placed):
    assert placed("de").what.estimate.text() == "etwa 66 min, 1 Lagewechsel"


def test_space_takes_an_action_out_and_in(qtbot, place):
    table = place.what.table
    table.setFocus()
    table.setCurrentIndex(cell(place, "shoulder-flexion", "action"))
    typed(qtbot, SPACE)
    assert place.draft.battery == "own"
    assert "shoulder-flexion" not in place.draft.own
    assert place.what.battery.currentText() == "own choice"
    assert cell(place, "shoulder-flexion", "action").data(Qt.ItemDataRole.CheckStateRole) == Qt.CheckState.Unchecked
    assert table.hasFocus()
    assert table.currentIndex() == cell(place, "shoulder-flexion", "action")
    typed(qtbot, ENTER)
    assert len(place.draft.own) == 13


def test_click_takes_an_action_out_once(qtbot, place):
    table = place.what.table
    where = table.visualRect(cell(place, "elbow-flexion", "action"))
    for spot in (where.center(), where.topLeft() + QPoint(10, 10)):
        qtbot.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=spot)
    assert "elbow-flexion" in place.draft.own
    qtbot.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=where.center())
    assert "elbow-flexion" not in place.draft.own


def test_method_changes_between_hand_and_belt(qtbot, place):
    table = place.what.table
    table.setFocus()
    table.setCurrentIndex(cell(place, "elbow-flexion", "method"))
    assert table.currentIndex().column() == METHOD
    typed(qtbot, SPACE)
    assert (place.draft.methods, shown(place, "elbow-flexion", "method")) == ({"elbow-flexion": "belt"}, "belt")
    typed(qtbot, SPACE)
    assert place.draft.methods == {"elbow-flexion": "hand"}


def test_order_is_the_one_in_which_actions_are_tried(place):
    assert shown(place, "ankle-dorsiflexion", "order") == "9"
    assert shown(place, "hip-flexion", "order") == "10"


def test_lever_arms_are_typed_in_centimetres(qtbot, place):
    place.show_draft(replace(place.draft, battery="own", own=("elbow-flexion",)))
    table = place.what.table
    assert all(table.isColumnHidden(column) for column in LEVERS)
    place.what.torque.setFocus()
    typed(qtbot, SPACE)
    assert not any(table.isColumnHidden(column) for column in LEVERS)
    table.setFocus()
    table.setCurrentIndex(cell(place, "elbow-flexion", "left"))
    typed(qtbot, "2")
    typed(qtbot, "2,5", TAB)  # into the next cell
    assert place.draft.lever_arms == {"elbow-flexion": {"left": 0.225}}
    assert shown(place, "elbow-flexion", "left") == "22.5"
    typed(qtbot, "23", ENTER)
    both = {"elbow-flexion": {"left": 0.225, "right": 0.23}}
    qtbot.waitUntil(lambda: place.draft.lever_arms == both)  # Qt takes Enter one turn later
    qtbot.waitUntil(table.hasFocus)
    table.setCurrentIndex(cell(place, "elbow-flexion", "left"))
    typed(qtbot, SPACE)
    typed(qtbot, "30", Qt.Key.Key_Escape)
    assert place.draft.lever_arms == both


def test_lever_arm_is_not_asked_for_of_an_action_left_out(place):
    place.show_draft(replace(place.draft, battery="own", own=("elbow-flexion",), want_torque=True))
    assert shown(place, "knee-flexion", "left") == ""
    assert not cell(place, "knee-flexion", "left").flags() & Qt.ItemFlag.ItemIsEditable
    assert cell(place, "elbow-flexion", "left").flags() & Qt.ItemFlag.ItemIsEditable


def test_lever_arms_of_one_side_only_have_one_column(place):
    place.show_draft(replace(place.draft, sides=("right",), want_torque=True))
    assert [place.what.table.isColumnHidden(column) for column in LEVERS] == [True, False]


@pytest.mark.parametrize("language", languages())
def test_cells_speak_for_themselves(placed, language):
    place, words = placed(language), Words(language)
    place.edit(lambda draft: replace(draft, battery="own", own=("elbow-flexion",), want_torque=True))
    spoken = cell(place, "elbow-flexion", "action").data(Qt.ItemDataRole.AccessibleTextRole)
    assert spoken.endswith(words("plan.chosen"))
    assert (
        cell(place, "knee-flexion", "action").data(Qt.ItemDataRole.AccessibleTextRole).endswith(words("plan.left_out"))
    )
    lever = cell(place, "elbow-flexion", "left").data(Qt.ItemDataRole.AccessibleTextRole)
    assert words("test.left") in lever
    assert words("plan.lever_missing") in lever


def test_battery_file_is_picked_and_shown(placed, tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text('[[item]]\naction = "knee-flexion"\nside = "left"\n')
    place = placed(pick=lambda _: str(file))
    box = place.what.battery
    box.activated.emit(box.findText("battery file …"))
    assert place.draft.battery == str(file)
    assert box.currentText() == "mine.toml"
    assert shown(place, "knee-flexion", "order") == "1"


def test_own_actions_are_picked_and_take_the_place_of_the_thirteen(placed, tmp_path):
    file = tmp_path / "own.toml"
    file.write_text(
        '[[action]]\nkey = "neck-flexion"\nname = "Neck flexion"\nregion = "arm"\nposition = "supine"\n'
        'limb = "head on the couch"\npad = "forehead"\npush = "chin to the chest"\nsteady = "chest"\n'
    )
    place = placed("de", pick=lambda _: str(file))
    box = place.what.battery
    box.activated.emit(box.findText("Bewegungsdatei …"))
    assert (place.draft.actions, place.draft.battery) == (str(file), "all")
    assert [index.data() for index in (cell(place, "neck-flexion", "action"),)] == ["Neck flexion"]
    assert place.what.table.rows.rowCount() == 1


@pytest.mark.parametrize(("column", "value"), [("left", "two"), ("action", "2")])
def test_cell_takes_nothing_but_a_lever_arm(place, column, value):
    place.edit(lambda draft: replace(draft, want_torque=True))
    before = place.draft
    assert not place.what.table.rows.setData(cell(place, "elbow-flexion", column), value)
    assert place.draft == before


def test_picking_no_file_changes_nothing(placed):
    place = placed(pick=lambda _: "", pick_new=lambda _: "")
    before = place.draft
    for box, entry in (
        (place.what.battery, "battery file …"),
        (place.what.battery, "actions file …"),
        (place.sensor.sensor, "profile file …"),
        (place.sensor.protocol, "protocol file …"),
    ):
        shown_before = box.currentText()
        box.activated.emit(box.findText(entry))
        assert box.currentText() == shown_before
    place.sensor.find_out.click()
    assert place.draft == before


# the people, and what is remembered of them


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


def test_code_with_a_blank_is_warned_of(qtbot, place):
    place.setFocus()
    typed(qtbot, "two words")
    assert "it must not be anybody's name" in place.who.warning.text()
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
    assert problems(place.draft) == ("plan.missing.cautions",)
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


# sensor, calibration, file


def test_port_is_chosen_or_typed_and_the_sensor_with_it(qtbot, place):
    assert place.draft.sensor == "simulated"
    assert not place.sensor.sensor.isEnabled()
    port = place.sensor.port
    port.setFocus()
    typed(qtbot, DOWN)
    assert (place.draft.port, place.draft.sensor) == ("/dev/ttyACM7", "")
    assert place.sensor.sensor.isEnabled()
    place.sensor.sensor.setFocus()
    typed(qtbot, DOWN)
    assert place.draft.sensor == "ble-lines"
    port.setFocus()
    port.lineEdit().selectAll()
    typed(qtbot, "/dev/pts/3")
    assert (place.draft.port, place.draft.sensor) == ("/dev/pts/3", "ble-lines")
    port.setCurrentIndex(0)
    assert (place.draft.port, place.draft.sensor) == (None, "simulated")
    port.setCurrentIndex(2)
    assert (place.draft.port, place.draft.sensor) == ("COM3", "ble-lines")


def test_ports_are_looked_for_again(qtbot, placed):
    found = []
    place = placed(ports=lambda: tuple(found))
    assert place.sensor.port.count() == 1
    found += PORTS
    qtbot.mouseClick(place.sensor.refresh, Qt.MouseButton.LeftButton)
    assert place.sensor.port.count() == 3
    assert place.draft.port is None
    place.sensor.port.setCurrentIndex(2)
    found.clear()
    qtbot.mouseClick(place.sensor.refresh, Qt.MouseButton.LeftButton)
    assert (place.draft.port, place.sensor.port.currentText()) == ("COM3", "COM3")


def test_radio_sensor_in_reach_is_chosen_with_the_profile_of_its_service(qtbot, placed):
    service = load_profile("ble-packets").service
    heard = BluetoothSensor(name="Grip-01", address="C0:FF:EE:00:00:01", signal_dbm=-61, services=(service,))
    place = placed(ports=tuple, listen=lambda: (heard,))
    place.edit(lambda draft: replace(draft, port="COM3", sensor="bridge-80"))
    qtbot.mouseClick(place.sensor.refresh, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: place.sensor.port.count() == 2)
    assert "1" in place.sensor.bluetooth.text()
    assert place.draft.port == "COM3"
    place.sensor.port.setCurrentIndex(1)
    assert (place.draft.port, place.draft.sensor) == ("Grip-01", "ble-packets")
    place.sensor.port.setCurrentIndex(0)
    assert (place.draft.port, place.draft.sensor) == (None, "simulated")


@pytest.mark.parametrize("nobody", [True, False])
def test_window_closed_while_it_listens_is_told_nothing(qapp, nobody):
    """What a thread ends with then would fail the test."""
    began, go_on = threading.Event(), threading.Event()

    def listen():
        began.set()
        assert go_on.wait(10.0)
        if nobody:
            raise LinkError("no bus", port="Bluetooth", reason=LinkFailure.NO_BLUETOOTH)
        return ()

    parent = QObject()
    search = BluetoothSearch(listen, parent)
    search.start()
    assert began.wait(10.0)
    thread = search._listening
    parent.deleteLater()
    qapp.sendPostedEvents(parent, QEvent.Type.DeferredDelete.value)
    go_on.set()
    thread.join(10.0)
    assert not thread.is_alive()


def test_machine_without_bluetooth_is_told_in_words(qtbot, placed):
    def listen():
        raise LinkError("no bus", port="Bluetooth", reason=LinkFailure.NO_BLUETOOTH)

    place = placed(ports=tuple, listen=listen)
    qtbot.mouseClick(place.sensor.refresh, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "Bluetooth" in place.sensor.bluetooth.text())


@pytest.mark.parametrize("language", languages())
def test_calibration_is_told_in_words_and_weight(placed, tmp_path, language):
    place, statement = placed(language), None
    file = tmp_path / "cal.toml"
    place.edit(lambda draft: replace(draft, port="COM3", sensor="bridge-80"))
    statement = place.sensor.statement
    assert statement.text().startswith("! ")
    assert statement.font().bold()
    save_calibration(file, Calibration(newtons_per_count=1 / 8400.0, date=NOW.date()))
    place.edit(lambda draft: replace(draft, calibration=str(file)))
    assert statement.text().startswith("\u2713 ")
    assert Words(language).day(dt.date(2026, 3, 2)) in statement.text()
    assert not statement.font().bold()
    save_calibration(file, Calibration(newtons_per_count=1 / 8400.0, date=dt.date(2020, 1, 1)))
    place.edit(lambda draft: draft)
    assert statement.text().startswith("! ")
    assert statement.font().bold()


def test_calibration_is_picked(placed):
    place = placed(pick=lambda _: "/a/cal.toml", pick_new=lambda _: "/a/new.h5")
    place.edit(lambda draft: replace(draft, port="COM3", sensor="bridge-80"))
    place.sensor.find_calibration.click()
    place.sensor.find_out.click()
    assert (place.draft.calibration, place.draft.out) == ("/a/cal.toml", "/a/new.h5")


def test_file_follows_the_code_until_another_is_typed(qtbot, place):
    place.setFocus()
    typed(qtbot, "P-1")
    assert place.draft.out.endswith("ramphold/P-1_2026-03-02_0905.h5")
    place.sensor.out.setFocus()
    place.sensor.out.selectAll()
    typed(qtbot, "my.h5")
    place.who.code.setFocus()
    typed(qtbot, "2")
    assert place.draft.out == "my.h5"


def test_unit_and_language_are_told_to_the_window(qtbot, place):
    place.edit(lambda draft: replace(draft, examiner_limit_n=98.0665))
    with qtbot.waitSignal(place.switched) as switched:
        place.sensor.unit.setFocus()
        typed(qtbot, DOWN)
    assert switched.args[0].unit is ForceUnit.KILOGRAM_FORCE
    assert place.who.limit.text() == "10"
    with qtbot.waitSignal(place.switched) as switched:
        place.sensor.language.setFocus()
        typed(qtbot, DOWN)
    assert switched.args[0].language == "de"


# measuring the examiner's limit


def test_limit_is_measured_with_the_simulated_sensor(qtbot, place, monkeypatch):
    def fast(draft, _):
        return open_sensor(draft.sensor, port=draft.port, calibration=None, speed=20.0, efforts=(GOOD,))

    monkeypatch.setattr(place._limit, "_open", fast)
    place.who.measure.setFocus()
    typed(qtbot, SPACE)
    assert place.who.measure.text() == "Stop"
    qtbot.waitUntil(lambda: not place._limit.running, timeout=20_000)
    assert place.draft.examiner_limit_n == pytest.approx(GOOD.plateau_n, rel=0.03)
    assert place.draft.limit_measured
    assert place.who.holding.text() == "Measured."
    assert place.who.measure.text() == "Meas&ure"


def test_sensor_is_let_go_of_when_the_measuring_stops(place):
    place.who.measure.click()
    assert place._limit.running
    place.who.measure.click()
    assert not place._limit.running
    place.who.measure.click()
    place.hide()
    assert not place._limit.running
    assert place.draft.examiner_limit_n is None


def test_sensor_that_is_not_there_is_said(place):
    place.edit(lambda draft: replace(draft, port="/dev/nowhere", sensor="bridge-80"))
    place.who.measure.click()
    assert place.who.holding.text().startswith("there is no port /dev/nowhere")
    assert not place._limit.running
    assert place.who.measure.text() == "Meas&ure"


class Gone:
    """A watch on a sensor that is gone."""

    def __init__(self, _):
        self.closed = False

    def fresh(self):
        raise LinkError("the sensor was unplugged", port="COM3", reason=LinkFailure.UNPLUGGED)

    def close(self):
        self.closed = True


def test_sensor_that_goes_away_ends_the_measuring(qtbot, place, monkeypatch):
    monkeypatch.setattr(plan_limit, "ForceWatch", Gone)
    monkeypatch.setattr(place._limit, "_open", lambda draft, _: draft)
    place.who.measure.click()
    qtbot.waitUntil(lambda: not place._limit.running)
    assert place.who.holding.text() == "the sensor was unplugged"
    assert place.draft.examiner_limit_n is None


# the look


LOOKS = [(language, theme) for language in languages() for theme in (LIGHT, DARK)]


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: f"{look[0]}-{look[1].name}")
@pytest.mark.parametrize("size", [(1280, 670), (1920, 1020)], ids=["720", "1080"])
def test_nothing_is_cut(qtbot, placed, good, look, size):
    language, theme = look
    place = placed(language, theme=theme)
    draft = replace(good, want_torque=True, port="/dev/ttyACM7", sensor="bridge-80", language=language)
    place.show_draft(replace(draft, person=Person(code="two words")))
    place.press()
    place.resize(*size)
    qtbot.waitUntil(lambda: cut(place) == [])
    assert (place.width(), place.height()) == size


def cut(place):
    """Return the texts that are not whole, and the fields that are not all there."""
    found = []
    for label in place.findChildren(QLabel):
        if label.isVisible() and label.text():
            needed = label.heightForWidth(label.width()) if label.wordWrap() else label.sizeHint().height()
            if label.width() < label.minimumSizeHint().width() or label.height() < needed:
                found.append(label.text())
    for widget in place.in_turn():
        area = QRect(widget.mapTo(place, widget.rect().topLeft()), widget.size())
        if not place.rect().contains(area) or widget.height() < widget.minimumSizeHint().height():
            found.append(widget.accessibleName())
    return found


@pytest.mark.parametrize("language", languages())
def test_names_of_actions_are_whole_beside_lever_arms(qtbot, placed, good, language):
    place = placed(language)
    place.show_draft(replace(good, want_torque=True))
    place.press()
    table = place.what.table
    qtbot.waitUntil(lambda: table.columnWidth(ACTION) >= table.sizeHintForColumn(ACTION))
