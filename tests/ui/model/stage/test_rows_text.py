"""Both sides of an action as rows: whose trial stands where, the best, the difference."""

from dataclasses import replace

import pytest

from acquire.values.records import TrialContext
from acquire.values.units import ForceUnit
from analysis.battery.actions import load_actions
from ui.model.stage.rows_text import rows_text
from ui.model.stage.text import TestText
from ui.session.battery_progress import ItemState, Result
from ui.words.words import Words

LEFT, RIGHT = (TrialContext(action="knee-extension", side=side) for side in ("left", "right"))
OTHER = ItemState(context=TrialContext(action="hip-flexion", side="left"))


def good(force):
    return Result(verdict="accepted", plateau_n=force, codes=())


BAD = Result(verdict="rejected", plateau_n=231.0, codes=("fast-ramp",))


def rows(left=(), right=(), *, shown=LEFT, planned=3, done=False, hidden=False, language="en", **changes):
    text = TestText(words=Words(language), unit=ForceUnit.NEWTON, actions=load_actions(), hidden=hidden)
    battery = (
        ItemState(context=LEFT, results=left),
        replace(ItemState(context=RIGHT, results=right), **changes),
        OTHER,
    )
    return rows_text(battery, shown, text, planned=planned, done=done)


def forces(row):
    return [box.force for box in row.boxes]


def test_each_side_has_its_own_trials_and_no_other_action_is_there():
    left, right = rows((good(196.0), good(203.0)), (good(214.0),))
    assert (left.side, right.side) == ("LEFT", "RIGHT")
    assert forces(left) == ["✓ 196 N", "✓ 203 N", "▸"]
    assert forces(right) == ["✓ 214 N", "", ""]
    assert (left.now, right.now) == (True, False)


@pytest.mark.parametrize(("planned", "tried", "boxes"), [(1, 0, 1), (3, 0, 3), (3, 2, 3), (3, 3, 4), (8, 0, 8)])
def test_there_are_as_many_boxes_as_trials_are_planned_and_more_with_repeats(planned, tried, boxes):
    left, right = rows((BAD,) * tried, planned=planned)
    assert len(left.boxes) == boxes
    assert len(right.boxes) == planned


def test_nothing_is_tried_when_all_is_done():
    left, right = rows((good(196.0),) * 3, (good(214.0),) * 3, done=True)
    assert not left.now
    assert not right.now
    assert len(left.boxes) == len(right.boxes) == 3


def test_best_stands_on_each_side_and_the_difference_on_the_weaker_alone():
    left, right = rows((good(190.0), good(180.0)), (good(200.0), BAD))
    assert (left.best, right.best) == ("best 190 N", "best 200 N")
    assert (left.difference, right.difference) == ("5 % less", "")


def test_sides_that_are_alike_say_so_and_one_side_alone_has_no_difference():
    assert rows((good(199.9),), (good(200.0),))[0].difference == "the same"
    assert rows((good(199.9),), (BAD,))[0].difference == ""


def test_trials_by_hand_stay_beside_those_with_a_belt_and_are_not_compared():
    belt = TrialContext(action=RIGHT.action, side="right", method="belt")
    left, right = rows((good(196.0),), (good(300.0),), context=belt, by_hand=(good(260.0),))
    assert [box.title for box in right.boxes][:2] == ["by hand", "trial 1"]
    assert forces(right)[:2] == ["✓ 260 N", "✓ 300 N"]
    assert right.best == "best 300 N"
    assert (left.difference, right.difference) == ("", "")


@pytest.mark.parametrize("language", ["en", "de"])
def test_hidden_force_is_in_no_row(language):
    for row in rows((good(196.0), BAD), (good(214.0),), hidden=True, language=language):
        said = row.best + row.difference + "".join(forces(row))
        assert not any(character.isdigit() for character in said)


def test_screen_reader_hears_the_row():
    heard = rows((good(196.0), BAD), (good(200.0),))[0].heard
    assert heard.startswith("Left: trial 1 ✓ 196 N accepted, trial 2 ↻ 231 N ramp too fast, trial 3 ▸ now")
    assert heard.endswith("best 196 N, 2 % less")
