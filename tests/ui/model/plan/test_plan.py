"""The plan as a value: what will be tried, in which order, for how long, and by which protocol."""

import datetime as dt

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.simulation.efforts import GOOD, simulate
from acquire.values.records import Person
from acquire.values.units import ForceUnit
from analysis.battery.actions import load_actions
from analysis.battery.battery import Item
from analysis.battery.ordering import STANDARD, duration_s
from analysis.errors import ActionsError
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge
from ui.model.plan.plan import (
    PlanDraft,
    contexts_of,
    estimate_of,
    finished,
    items_of,
    make_folder,
    run_protocol,
    suggested_out,
)
from ui.session.cues import Cue
from ui.session.engine import Engine
from ui.session.transitions import Event

ACTIONS = load_actions()
PROTOCOL = load_protocol()
ACCEPTED = judge(simulate(GOOD, seed=1).trace, PROTOCOL)
DAY = dt.datetime(2026, 3, 2, 9, 5, tzinfo=dt.UTC)


def own(*keys, **more):
    return PlanDraft(battery="own", own=keys, **more)


def way_s(before, context):
    """What lies between two efforts, told anew and not by the code that is tested."""
    if before is None:
        return STANDARD.action_s
    seconds = STANDARD.side_s * (before.side != context.side) + STANDARD.method_s * (before.method != context.method)
    if before.action != context.action:
        one, other = (ACTIONS[each.action].position for each in (before, context))
        seconds += STANDARD.action_s + STANDARD.position_s * (one != other)
    return seconds


def carried_through(draft):
    """Let the real engine carry a plan through, each trial accepted; return what was tried and how long it took."""
    engine, now, before, tried = Engine(contexts_of(draft), run_protocol(draft)), 0.0, None, []
    while engine.cue is not Cue.DONE:
        context = engine.item.context
        now += way_s(before, context)
        engine.see(now, 0.0)
        if engine.cue is Cue.REST:
            now += engine.rest_left(now)
            engine.see(now, 0.0)
        if engine.cue is Cue.PLACE:
            engine.handle(Event.PRESS)
        now += STANDARD.effort_s
        engine.see(now, 0.0)
        engine.take(ACCEPTED)
        tried.append((context.action, context.side))
        before = context
    return tried, now


# order and time


@pytest.mark.parametrize("battery", ["all", "arm", "leg"])
@pytest.mark.parametrize("sides", [("left", "right"), ("right",)])
def test_battery_takes_as_long_as_estimated(battery, sides):
    draft = PlanDraft(battery=battery, sides=sides)
    tried, seconds = carried_through(draft)
    assert len(tried) == 3 * len(contexts_of(draft))
    assert seconds == pytest.approx(estimate_of(draft).total_s)


@settings(deadline=None, max_examples=25)
@given(
    st.lists(st.sampled_from(list(ACTIONS)), min_size=1, max_size=5, unique=True),
    st.dictionaries(st.sampled_from(list(ACTIONS)), st.sampled_from(["hand", "belt"])),
    st.integers(2, 5),
    st.integers(60, 240),
)
def test_battery_takes_as_long_as_estimated_for_any_choice(keys, methods, trials, rest):
    draft = own(*keys, methods=methods, trials=trials, rest_s=float(rest))
    assert carried_through(draft)[1] == pytest.approx(estimate_of(draft).total_s)


def test_thirteen_on_both_sides_change_position_once_and_take_about_an_hour():
    estimate = estimate_of(PlanDraft())
    assert estimate.position_changes == 1
    assert 3600.0 < estimate.total_s < 4200.0


def test_estimate_is_that_of_the_order_that_is_planned():
    draft = PlanDraft(battery="leg")
    assert estimate_of(draft) == duration_s(items_of(draft), ACTIONS, trials=3, rest_s=90.0)
    assert estimate_of(draft).position_changes == 1


def test_more_rest_and_more_trials_take_longer():
    plain = estimate_of(PlanDraft()).total_s
    assert estimate_of(PlanDraft(rest_s=120.0)).total_s > plain
    assert estimate_of(PlanDraft(trials=4)).total_s > plain


def test_nothing_chosen_is_nothing_to_do():
    assert contexts_of(own()) == ()
    assert estimate_of(own()).total_s == 0.0


# what each trial is


def test_contexts_carry_examiner_and_limit():
    (context,) = contexts_of(own("elbow-flexion", sides=("left",), examiner="X01", examiner_limit_n=260.0))
    assert (context.examiner, context.examiner_limit_n) == ("X01", 260.0)
    assert (context.action, context.side, context.method) == ("elbow-flexion", "left", "hand")


def test_examiner_that_is_not_named_is_none():
    assert contexts_of(own("elbow-flexion"))[0].examiner is None


def test_method_is_the_actions_until_the_user_says_otherwise():
    methods = {item.action: item.method for item in items_of(PlanDraft(methods={"knee-flexion": "hand"}))}
    assert methods["knee-flexion"] == "hand"
    assert methods["knee-extension"] == "belt"
    assert methods["elbow-flexion"] == "hand"


def test_lever_arm_is_kept_only_where_torque_is_wanted():
    arms = {"elbow-flexion": {"left": 0.22, "right": 0.23}}
    draft = own("elbow-flexion", lever_arms=arms, want_torque=True)
    assert {item.side: item.lever_arm_m for item in items_of(draft)} == arms["elbow-flexion"]
    plain = msgspec.structs.replace(draft, want_torque=False)
    assert {item.lever_arm_m for item in items_of(plain)} == {None}


def test_battery_file_is_tried_with_its_own_sides_methods_and_levers(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(
        '[[item]]\naction = "elbow-flexion"\nside = "right"\nmethod = "belt"\nlever_arm_m = 0.2\n'
        '[[item]]\naction = "knee-flexion"\n'
    )
    draft = PlanDraft(battery=str(file), sides=("left",), want_torque=True)
    assert items_of(draft) == (
        Item(action="elbow-flexion", side="right", method="belt", lever_arm_m=0.2),
        Item(action="knee-flexion", method="belt"),
    )
    typed = msgspec.structs.replace(
        draft, lever_arms={"elbow-flexion": {"right": 0.3}}, methods={"knee-flexion": "hand"}
    )
    assert [(item.method, item.lever_arm_m) for item in items_of(typed)] == [("belt", 0.3), ("hand", None)]


def test_battery_file_that_is_not_there_is_named():
    with pytest.raises(ActionsError, match=r"nowhere\.toml: there is no such file"):
        contexts_of(PlanDraft(battery="nowhere.toml"))


def test_own_actions_are_planned_like_the_thirteen(tmp_path):
    file = tmp_path / "own.toml"
    file.write_text(
        '[[action]]\nkey = "neck-flexion"\nname = "Neck flexion"\nregion = "arm"\nposition = "supine"\n'
        'limb = "head on the couch"\npad = "forehead"\npush = "chin to the chest"\nsteady = "chest"\n'
    )
    draft = PlanDraft(actions=str(file), sides=("left",))
    assert [context.action for context in contexts_of(draft)] == ["neck-flexion"]


# protocol


def test_trials_and_rest_of_the_plan_are_the_runners():
    rule = run_protocol(PlanDraft(trials=6, rest_s=120.0)).set
    assert (rule.trials, rule.most_trials, rule.rest_s) == (6, 6, 120.0)
    assert run_protocol(PlanDraft(trials=2)).set.most_trials == PROTOCOL.set.most_trials


def test_plan_like_the_protocol_leaves_it_as_it_is():
    assert run_protocol(PlanDraft()) == PROTOCOL


# the file


def test_suggested_file_is_made_of_code_and_time(tmp_path):
    assert suggested_out(tmp_path, " P-014 ", DAY) == tmp_path / "P-014_2026-03-02_0905.h5"


@pytest.mark.parametrize(
    ("code", "name"),
    [("", "session"), ("../../etc", "etc"), ("a b/c\\d:e", "a-b-c-d-e"), ("...", "session"), ("Ä 7", "Ä-7")],
)
def test_suggested_file_stays_in_its_folder_whatever_the_code(tmp_path, code, name):
    assert suggested_out(tmp_path, code, DAY) == tmp_path / f"{name}_2026-03-02_0905.h5"


def test_suggested_file_is_never_one_that_exists(tmp_path):
    for name in ("P_2026-03-02_0905.h5", "P_2026-03-02_0905-2.h5"):
        (tmp_path / name).touch()
    assert suggested_out(tmp_path, "P", DAY) == tmp_path / "P_2026-03-02_0905-3.h5"


def test_folder_is_made_one_deep_and_may_be_there(tmp_path):
    draft = PlanDraft(out=str(tmp_path / "sessions" / "p.h5"))
    make_folder(draft)
    make_folder(draft)
    assert (tmp_path / "sessions").is_dir()
    with pytest.raises(FileNotFoundError):
        make_folder(PlanDraft(out=str(tmp_path / "a" / "b" / "p.h5")))


def test_finished_draft_has_clean_codes_and_a_whole_path(tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    draft = finished(PlanDraft(person=Person(code=" P-014 ", mass_kg=61.5), examiner=" X01", out=" ~/p.h5 "))
    assert (draft.person, draft.examiner) == (Person(code="P-014", mass_kg=61.5), "X01")
    assert draft.out == str(tmp_path / "p.h5")
    monkeypatch.chdir(tmp_path)
    assert finished(PlanDraft(out="p.h5")).out == str(tmp_path / "p.h5")


# the value


def test_draft_survives_json_whole():
    draft = PlanDraft(
        person=Person(code="P-014", sex="female"),
        unit=ForceUnit.POUND_FORCE,
        lever_arms={"elbow-flexion": {"left": 0.22}},
        methods={"elbow-flexion": "belt"},
        cautions_acknowledged=DAY,
        own=("elbow-flexion",),
        sides=("right",),
        port="/dev/ttyUSB0",
    )
    assert msgspec.json.decode(msgspec.json.encode(draft), type=PlanDraft) == draft
