"""The order of a battery: never worse than the plain list, and the best there is where all can be tried."""

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.battery.actions import Action, load_actions
from analysis.battery.battery import Item, load_battery
from analysis.battery.ordering import Costs, Estimate, duration_s, order_items
from analysis.errors import ActionsError

ACTIONS = load_actions()
SIDES = ("left", "right")
LIKE_PLAN = {"trials": 3, "rest_s": 90.0}

any_item = st.builds(
    Item,
    action=st.sampled_from(list(ACTIONS)),
    side=st.sampled_from(["left", "right", None]),
    method=st.sampled_from(["hand", "belt", None]),
)
batteries = st.lists(any_item, max_size=20)
small_batteries = st.lists(any_item, min_size=1, max_size=5)
plans = st.fixed_dictionaries({"trials": st.integers(1, 5), "rest_s": st.floats(0.0, 180.0)})
costs = st.builds(
    Costs,
    effort_s=st.floats(1.0, 20.0),
    action_s=st.floats(0.0, 120.0),
    position_s=st.floats(0.0, 300.0),
    side_s=st.floats(0.0, 60.0),
    method_s=st.floats(0.0, 60.0),
)


def worth(items, plan, spent=Costs()):  # noqa: B008 - a frozen value
    took = duration_s(items, ACTIONS, costs=spent, **plan)
    return took.position_changes, took.total_s


def not_worse(one, other):
    return one[0] < other[0] or (one[0] == other[0] and one[1] <= other[1] + 1e-4)


def actions_in_turn(items):
    """The actions as they follow one another, each stretch once."""
    return [item.action for place, item in enumerate(items) if not place or items[place - 1].action != item.action]


@settings(max_examples=40)
@given(batteries, plans, costs)
def test_order_of_any_battery_is_never_worse_than_the_plain_list(items, plan, spent):
    ordered = order_items(items, ACTIONS, costs=spent, **plan)
    assert sorted(ordered, key=repr) == sorted(items, key=repr)
    assert not_worse(worth(ordered, plan, spent), worth(items, plan, spent))


@pytest.mark.slow
@settings(max_examples=40)
@given(batteries, plans)
def test_items_of_one_action_stay_adjacent(items, plan):
    turns = actions_in_turn(order_items(items, ACTIONS, **plan))
    assert len(turns) == len(set(turns))


@settings(deadline=None, max_examples=60)
@given(small_batteries, plans, costs)
def test_small_battery_is_as_good_as_the_best_of_all_orders(items, plan, spent):
    best = min(worth(order, plan, spent) for order in permutations(items))
    changes, total_s = worth(order_items(items, ACTIONS, costs=spent, **plan), plan, spent)
    assert changes == best[0]
    assert total_s == pytest.approx(best[1], abs=1e-4)


@pytest.mark.parametrize(
    "names",
    [
        "hip-flexion r, knee-flexion l, elbow-flexion r, knee-flexion r, elbow-flexion l, hip-flexion l",
        "knee-extension r, elbow-flexion r, hip-flexion l, knee-flexion l, wrist-extension l, ankle-dorsiflexion r",
    ],
)
def test_six_items_are_as_good_as_the_best_of_720_orders(names):
    items = [Item(action=name[:-2], side="left" if name.endswith("l") else "right") for name in names.split(", ")]
    best = min(worth(order, LIKE_PLAN) for order in permutations(items))
    assert worth(order_items(items, ACTIONS, **LIKE_PLAN), LIKE_PLAN) == best
    assert best < worth(items, LIKE_PLAN)


@pytest.mark.slow
@settings(max_examples=40)
@given(batteries, plans)
def test_list_that_is_in_order_comes_back_as_it_is(items, plan):
    once = order_items(items, ACTIONS, **plan)
    assert order_items(once, ACTIONS, **plan) == once


def test_thirteen_on_both_sides_change_position_once():
    items = load_battery("all", ACTIONS, sides=SIDES)
    ordered = order_items(items, ACTIONS, **LIKE_PLAN)
    plain, planned = duration_s(items, ACTIONS, **LIKE_PLAN), duration_s(ordered, ACTIONS, **LIKE_PLAN)
    assert (plain.position_changes, planned.position_changes) == (2, 1)
    assert planned.total_s < plain.total_s


def test_next_action_begins_on_the_side_where_the_last_ended():
    items = load_battery("arm", ACTIONS, sides=SIDES)
    sides = [item.side for item in order_items(items, ACTIONS, **LIKE_PLAN)]
    assert sides[:6] == ["left", "right", "right", "left", "left", "right"]


def test_hand_and_belt_are_changed_once():
    keys = ["elbow-flexion", "hip-flexion", "elbow-extension", "hip-abduction"]
    ordered = order_items([Item(action=key, side="left") for key in keys], ACTIONS, **LIKE_PLAN)
    assert [item.action for item in ordered] == ["elbow-flexion", "elbow-extension", "hip-flexion", "hip-abduction"]


def test_order_of_equals_is_the_users():
    keys = ["wrist-extension", "elbow-flexion", "shoulder-flexion"]
    items = tuple(Item(action=key, side="left") for key in keys)
    assert order_items(items, ACTIONS, **LIKE_PLAN) == items


def test_one_side_by_itself_waits_for_its_rest():
    one = duration_s([Item(action="elbow-flexion", side="left")], ACTIONS, **LIKE_PLAN)
    # placed, then three efforts with two rests between them
    assert one == Estimate(total_s=60.0 + 3 * 10.0 + 2 * 90.0, waiting_s=180.0, position_changes=0)


def test_other_side_works_while_one_rests():
    items = [Item(action="elbow-flexion", side=side) for side in SIDES]
    both = duration_s(items, ACTIONS, **LIKE_PLAN)
    # a pair of efforts begins every 100 s (an effort and its rest); the last ends 35 s after the third pair begins
    assert both.total_s == 60.0 + 2 * 100.0 + 10.0 + 15.0 + 10.0
    assert both.waiting_s == 2 * (100.0 - 35.0 - 15.0)


def test_one_side_after_the_other_waits_for_each_rest():
    items = [Item(action="elbow-flexion", side=side) for side in SIDES]
    apart = duration_s(items, ACTIONS, alternate=False, **LIKE_PLAN)
    # each side: three efforts and two whole rests; then the turn to the other side
    assert apart.total_s == 60.0 + 2 * (3 * 10.0 + 2 * 90.0) + 15.0
    assert apart.waiting_s == 4 * 90.0
    one = [Item(action="elbow-flexion", side="left")]
    assert duration_s(one, ACTIONS, alternate=False, **LIKE_PLAN) == duration_s(one, ACTIONS, **LIKE_PLAN)


@settings(max_examples=20)
@given(small_batteries, plans, costs)
def test_order_without_turns_is_never_worse_than_the_plain_list(items, plan, spent):
    apart = {**plan, "alternate": False}
    assert not_worse(worth(order_items(items, ACTIONS, costs=spent, **apart), apart, spent), worth(items, apart, spent))


def test_ways_between_stations_add_up():
    items = [Item(action="hip-flexion", side="left"), Item(action="knee-extension", side="right", method="hand")]
    plan = {"trials": 1, "rest_s": 90.0}
    took = duration_s(items, ACTIONS, **plan)
    assert took == Estimate(
        total_s=60.0 + 10.0 + (120.0 + 60.0 + 15.0 + 30.0) + 10.0, waiting_s=0.0, position_changes=1
    )


def test_action_in_the_same_position_costs_its_placing_alone():
    items = [Item(action=key, side="left", method="hand") for key in ("elbow-flexion", "elbow-extension")]
    took = duration_s(items, ACTIONS, trials=1, rest_s=0.0)
    assert took == Estimate(total_s=60.0 + 10.0 + 60.0 + 10.0, waiting_s=0.0, position_changes=0)


def test_sides_apart_in_the_list_are_tried_together():
    apart = [Item(action=key, side=side) for side in SIDES for key in ("elbow-flexion", "elbow-extension")]
    together = [Item(action=key, side=side) for key in ("elbow-flexion", "elbow-extension") for side in SIDES]
    assert duration_s(apart, ACTIONS, **LIKE_PLAN) == duration_s(together, ACTIONS, **LIKE_PLAN)


@pytest.mark.slow
def test_long_list_of_own_actions_ends_in_time_and_is_no_worse():
    keys = [f"own-{number}" for number in range(80)]
    own = {
        key: Action(
            key=key,
            name=key,
            region="arm",
            position="seated" if number % 3 else "supine",
            limb="",
            pad="",
            push="",
            steady="",
            method="belt" if number % 5 else "hand",
        )
        for number, key in enumerate(keys)
    }
    sided = [("left", "right"), ("right",), (None,), ("left",), ("right", "left", None)]
    items = [Item(action=key, side=side) for number, key in enumerate(keys) for side in sided[number % 5]]
    ordered = order_items(items, own, **LIKE_PLAN)
    before, after = (duration_s(battery, own, **LIKE_PLAN) for battery in (items, ordered))
    assert after.position_changes == 1
    assert after.total_s < before.total_s


def test_many_items_of_one_action_keep_their_order():
    items = tuple(Item(action="elbow-flexion", side=SIDES[n % 2], lever_arm_m=0.1 + 0.01 * n) for n in range(8))
    assert order_items(items, ACTIONS, **LIKE_PLAN) == items


def test_nothing_to_do_takes_no_time():
    assert order_items([], ACTIONS, **LIKE_PLAN) == ()
    assert duration_s([], ACTIONS, **LIKE_PLAN) == Estimate(total_s=0.0, waiting_s=0.0, position_changes=0)


@pytest.mark.parametrize("call", [duration_s, order_items])
def test_wrong_arguments_are_named(call):
    one = [Item(action="elbow-flexion")]
    with pytest.raises(ValueError, match="trials must be 1 or more, got 0"):
        call(one, ACTIONS, trials=0, rest_s=90.0)
    with pytest.raises(ValueError, match=r"rest_s must not be below 0 s, got -1.0 s"):
        call(one, ACTIONS, trials=3, rest_s=-1.0)
    with pytest.raises(ValueError, match=r"rest_s must not be below 0 s, got nan s"):
        call(one, ACTIONS, trials=3, rest_s=float("nan"))
    with pytest.raises(ActionsError, match="there is no action neck-flexion"):
        call([Item(action="neck-flexion")], ACTIONS, **LIKE_PLAN)
