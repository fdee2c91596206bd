"""Batteries with and without a file, actions of one's own, and what a user gets wrong."""

import re

import pytest

from analysis.battery.actions import find_action, load_actions
from analysis.battery.battery import contexts, load_battery
from analysis.errors import ActionsError

THIRTEEN = [
    "shoulder-flexion",
    "shoulder-extension",
    "shoulder-abduction",
    "shoulder-external-rotation",
    "shoulder-internal-rotation",
    "elbow-flexion",
    "elbow-extension",
    "wrist-extension",
    "hip-flexion",
    "hip-abduction",
    "knee-flexion",
    "knee-extension",
    "ankle-dorsiflexion",
]


@pytest.fixture
def written(tmp_path):
    def write(text, name="mine.toml"):
        path = tmp_path / name
        path.write_text(text)
        return str(path)

    return write


def test_the_thirteen_actions_are_there_in_their_positions():
    actions = load_actions()
    assert sorted(actions) == sorted(THIRTEEN)
    assert {key for key, action in actions.items() if action.position == "seated"} == {"knee-flexion", "knee-extension"}


def test_actions_of_ones_own_are_loaded_and_a_key_twice_refused(written):
    one = (
        '[[action]]\nkey = "neck-flexion"\nname = "Neck flexion"\nregion = "arm"\nposition = "supine"\nlimb = "head"\n'
        'pad = "forehead"\npush = "up"\nsteady = "shoulders"\n'
    )
    assert load_actions(written(one))["neck-flexion"].method == "hand"
    with pytest.raises(ActionsError, match="the action neck-flexion is there twice"):
        load_actions(written(one + one, "twice.toml"))


def test_unknown_action_lists_those_there_are():
    with pytest.raises(ActionsError, match="no action nose-flexion; there are: shoulder-flexion, "):
        find_action("nose-flexion", load_actions())


@pytest.mark.parametrize(("name", "count"), [("all", 26), ("arm", 16), ("leg", 10)])
def test_batteries_without_a_file(name, count):
    assert len(load_battery(name, load_actions(), sides=("left", "right"))) == count


def test_battery_file_becomes_contexts(written):
    text = (
        '[[item]]\naction = "knee-extension"\nside = "left"\nlever_arm_m = 0.31\nresting_force_n = 6.5\n'
        '[[item]]\naction = "elbow-flexion"\n'
    )
    actions = load_actions()
    items = load_battery(written(text), actions, sides=())
    first, second = contexts(items, actions, examiner="X1", examiner_limit_n=200.0)
    assert (first.action, first.side, first.method, first.lever_arm_m) == ("knee-extension", "left", "belt", 0.31)
    assert (first.resting_force_n, second.resting_force_n) == (6.5, None)
    assert (second.side, second.method, second.examiner) == (None, "hand", "X1")


def test_battery_without_an_item_is_refused(written):
    path = written("# nothing yet\n")
    with pytest.raises(ActionsError, match=re.escape(f"{path}: holds no [[item]]; add one for each action and side")):
        load_battery(path, load_actions(), sides=())


def test_battery_with_an_unknown_action_is_refused(written):
    with pytest.raises(ActionsError, match="there is no action toe-tap"):
        load_battery(written('[[item]]\naction = "toe-tap"\n'), load_actions(), sides=())
