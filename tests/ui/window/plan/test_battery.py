"""The battery in the place Plan: what is tested, by which method, with which lever arms."""

import pytest
from msgspec.structs import replace
from planned import DOWN, ENTER, SPACE, TAB, cell, shown, typed
from PyQt6.QtCore import QPoint, Qt

from ui.window.plan.table import LEVERS, METHOD
from ui.words.words import Words, languages


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
