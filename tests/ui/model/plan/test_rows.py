"""The table of actions and what an edit makes of the plan."""

import pytest

from analysis.battery.actions import load_actions
from ui.model.plan.edits import with_limit, with_person, with_port, with_protocol
from ui.model.plan.plan import PlanDraft, items_of
from ui.model.plan.rows import rows_of, with_actions, with_battery, with_choice, with_lever, with_method

KEYS = list(load_actions())


def row(draft, key):
    return next(row for row in rows_of(draft) if row.action.key == key)


def chosen(draft):
    return {row.action.key for row in rows_of(draft) if row.chosen}


def test_every_action_has_a_row_in_the_order_of_the_file():
    assert [row.action.key for row in rows_of(PlanDraft(battery="leg"))] == KEYS


def test_order_numbers_are_those_in_which_actions_are_tried():
    draft = PlanDraft()
    numbers = {row.action.key: row.order for row in rows_of(draft)}
    tried = list(dict.fromkeys(item.action for item in items_of(draft)))
    assert numbers == {key: place for place, key in enumerate(tried, start=1)}
    assert row(PlanDraft(battery="arm"), "knee-flexion").order is None


def test_taking_an_action_out_makes_the_battery_ones_own():
    draft = with_choice(PlanDraft(battery="leg"), "hip-flexion", chosen=False)
    assert draft.battery == "own"
    assert chosen(draft) == {"hip-abduction", "knee-flexion", "knee-extension", "ankle-dorsiflexion"}
    again = with_choice(draft, "elbow-flexion", chosen=True)
    assert chosen(again) == chosen(draft) | {"elbow-flexion"}


def test_own_battery_begins_with_what_is_chosen_and_is_kept_aside():
    own = with_battery(PlanDraft(battery="arm"), "own")
    assert chosen(own) == chosen(PlanDraft(battery="arm"))
    few = with_choice(own, "elbow-flexion", chosen=False)
    assert with_battery(few, "own") == few
    assert chosen(with_battery(few, "leg")) == chosen(PlanDraft(battery="leg"))


def test_battery_file_made_ones_own_keeps_its_methods_and_levers(tmp_path):
    file = tmp_path / "battery.toml"
    file.write_text(
        '[[item]]\naction = "elbow-flexion"\nside = "right"\nmethod = "belt"\nlever_arm_m = 0.2\n'
        '[[item]]\naction = "elbow-extension"\nside = "right"\nlever_arm_m = 0.21\n'
    )
    start = PlanDraft(battery=str(file), lever_arms={"elbow-extension": {"right": 0.3}})
    draft = with_choice(start, "knee-flexion", chosen=True)
    assert chosen(draft) == {"elbow-flexion", "elbow-extension", "knee-flexion"}
    assert draft.methods == {"elbow-flexion": "belt"}
    # what was typed is not overwritten by the file
    assert draft.lever_arms == {"elbow-extension": {"right": 0.3}, "elbow-flexion": {"right": 0.2}}


def test_method_is_changed_for_one_action():
    draft = with_method(PlanDraft(), "elbow-flexion", "belt")
    assert (row(draft, "elbow-flexion").method, row(draft, "elbow-extension").method) == ("belt", "hand")


def test_method_of_an_action_left_out_is_shown_and_kept():
    draft = with_method(PlanDraft(battery="leg"), "elbow-flexion", "belt")
    assert row(draft, "elbow-flexion").method == "belt"


def test_lever_arms_are_missing_until_typed():
    draft = PlanDraft(battery="own", own=("elbow-flexion",), want_torque=True)
    assert [row(draft, "elbow-flexion").missing(side) for side in ("left", "right")] == [True, True]
    draft = with_lever(draft, "elbow-flexion", "left", 0.22)
    assert [row(draft, "elbow-flexion").missing(side) for side in ("left", "right")] == [False, True]
    assert row(draft, "elbow-flexion").levers == {"left": 0.22, "right": None}
    assert not row(draft, "knee-flexion").missing("left")


def test_lever_arm_is_not_missing_where_torque_is_not_wanted():
    assert not row(PlanDraft(), "elbow-flexion").missing("left")


def test_lever_arm_can_be_forgotten():
    draft = with_lever(with_lever(PlanDraft(), "elbow-flexion", "left", 0.22), "elbow-flexion", "left", None)
    assert draft.lever_arms == {}


def test_other_sides_arm_stays_when_one_is_typed():
    draft = PlanDraft(lever_arms={"elbow-flexion": {"left": 0.2}, "knee-flexion": {"left": 0.3}})
    arms = with_lever(draft, "elbow-flexion", "right", 0.21).lever_arms
    assert arms == {"elbow-flexion": {"left": 0.2, "right": 0.21}, "knee-flexion": {"left": 0.3}}


def test_files_that_cannot_be_read_leave_nothing_chosen_and_nothing_broken():
    assert chosen(PlanDraft(battery="nowhere.toml")) == set()
    assert chosen(PlanDraft(trials=0)) == set()
    assert rows_of(PlanDraft(actions="nowhere.toml")) == ()
    assert with_choice(PlanDraft(battery="nowhere.toml"), "elbow-flexion", chosen=True).own == ("elbow-flexion",)


def test_other_actions_are_all_chosen(tmp_path):
    file = tmp_path / "own.toml"
    file.write_text(
        '[[action]]\nkey = "neck-flexion"\nname = "Neck flexion"\nregion = "arm"\nposition = "supine"\n'
        'limb = "head on the couch"\npad = "forehead"\npush = "chin to the chest"\nsteady = "chest"\n'
    )
    draft = with_actions(PlanDraft(battery="own", own=("elbow-flexion",)), str(file))
    assert chosen(draft) == {"neck-flexion"}


# sensor, protocol, people


def test_simulated_sensor_has_its_own_profile_and_no_calibration():
    real = PlanDraft(port="/dev/ttyUSB0", sensor="bridge-80", calibration="c.toml")
    simulated = with_port(real, None)
    assert (simulated.port, simulated.sensor, simulated.calibration) == (None, "simulated", "")
    assert with_port(simulated, "/dev/ttyUSB1", sensor="bridge-80", calibration="c.toml") == with_port(
        real, "/dev/ttyUSB1"
    )
    assert with_port(simulated, "/dev/ttyUSB1").sensor == ""


def test_other_protocol_brings_its_trials_and_rest(tmp_path):
    file = tmp_path / "mine.toml"
    from importlib import resources  # noqa: PLC0415 - for this test alone

    shipped = resources.files("analysis") / "data" / "protocols" / "ramp-and-hold.toml"
    text = (
        shipped.read_text(encoding="utf-8")
        .replace("\ntrials = 3", "\ntrials = 4")
        .replace("rest_s = 90.0", "rest_s = 75.0")
    )
    file.write_text(text, encoding="utf-8")
    draft = with_protocol(PlanDraft(), str(file))
    assert (draft.protocol, draft.trials, draft.rest_s) == (str(file), 4, 75.0)


def test_protocol_that_cannot_be_read_changes_neither():
    draft = with_protocol(PlanDraft(trials=5), "nowhere.toml")
    assert (draft.protocol, draft.trials, draft.rest_s) == ("nowhere.toml", 5, 90.0)


def test_person_and_limit_are_replaced_in_part():
    draft = with_person(PlanDraft(), mass_kg=61.5)
    assert (draft.person.mass_kg, draft.person.code) == (61.5, "")
    measured = with_limit(draft, 250.0, measured=True)
    assert (measured.examiner_limit_n, measured.limit_measured) == (250.0, True)
    assert with_limit(measured, 240.0).limit_measured is False


@pytest.mark.parametrize("key", KEYS)
def test_leaving_one_action_out_leaves_twelve(key):
    assert len(chosen(with_choice(PlanDraft(), key, chosen=False))) == 12
