"""People as they were tested before, and the plan that is filled in from last time."""

from dataclasses import replace
from datetime import timedelta

import msgspec
from planned import NOW
from stored_session import PLAIN

from acquire.storage.session_file import write_session
from acquire.values.records import Person, Session, SessionContext, TrialContext
from analysis.battery.actions import load_actions
from ui.model.plan.people import known_people, matching_people, person_lines, with_known_person
from ui.model.plan.plan import PlanDraft, items_of
from ui.words.words import Words

OLDER = Person(code="P-7", age_years=33.0, mass_kg=60.0)
NEWER = Person(code="P-7", sex="female", age_years=34.0, mass_kg=61.0, height_m=1.7)


def item(action, side="left", **more):
    return TrialContext(action=action, side=side, **more)


def saved(folder, name, day, person, *items, invented=False, skipped=()):
    context = SessionContext(
        session=name, started=NOW + timedelta(days=day), person=person, invented=invented, skipped=skipped
    )
    trials = tuple(replace(PLAIN, time=PLAIN.time + 10.0 * number, context=each) for number, each in enumerate(items))
    write_session(folder / f"{name}.h5", Session(context=context, trials=trials))


def test_each_person_comes_once_with_what_they_had_last_time(tmp_path):
    saved(tmp_path, "first", 0, OLDER, item("knee-extension"))
    saved(tmp_path, "last", 9, NEWER, item("elbow-flexion"), skipped=(item("hip-flexion", "right"),))
    saved(tmp_path, "other", 4, Person(code="P-8"), item("knee-flexion"))
    saved(tmp_path, "demo", 20, Person(code="DEMO"), item("knee-flexion"), invented=True)
    saved(tmp_path, "nobody", 21, Person(), item("knee-flexion"))
    saved(tmp_path, "empty", 22, Person(code="P-9"))
    (tmp_path / "broken.h5").write_bytes(b"no session")
    people = known_people(tmp_path)
    assert [each.person for each in people] == [NEWER, Person(code="P-8")]
    assert (people[0].sessions, people[0].actions) == (2, ("elbow-flexion", "hip-flexion"))
    assert [each.person.code for each in matching_people(people, " p-8 ")] == ["P-8"]
    title, about = person_lines(people[0], Words("en"), load_actions())
    assert title.startswith("P-7")
    assert about.startswith("2 sessions, ")
    assert known_people(tmp_path / "nowhere") == ()


def test_choosing_somebody_fills_the_plan_from_last_time(tmp_path):
    saved(
        tmp_path,
        "last",
        0,
        NEWER,
        item("elbow-flexion", lever_arm_m=0.24),
        item("elbow-flexion", "right", method="belt"),
        item("no-longer-there"),
    )
    draft = PlanDraft(examiner="X01", rest_s=60.0, methods={"knee-extension": "hand"})
    (known,) = known_people(tmp_path)
    plan = with_known_person(draft, known, {"elbow-flexion": {"left": 0.2, "right": 0.25}})
    assert plan.person == NEWER
    assert (plan.battery, plan.own, plan.sides) == ("own", ("elbow-flexion",), ("left", "right"))
    assert plan.methods == {"elbow-flexion": "belt"}
    assert plan.lever_arms == {"elbow-flexion": {"left": 0.24, "right": 0.25}}
    assert plan.want_torque
    assert (plan.examiner, plan.rest_s) == ("X01", 60.0)
    assert {(each.action, each.side, each.method) for each in items_of(plan)} == {
        ("elbow-flexion", "left", "belt"),
        ("elbow-flexion", "right", "belt"),
    }


def test_battery_that_comes_with_the_program_is_known_again(tmp_path):
    actions = load_actions()
    saved(tmp_path, "all", 0, NEWER, *(item(key, "right") for key in actions))
    (known,) = known_people(tmp_path)
    plan = with_known_person(PlanDraft(), known, {})
    assert (plan.battery, plan.sides, plan.want_torque) == ("all", ("right",), False)


def test_session_without_actions_leaves_the_battery_alone(tmp_path):
    saved(tmp_path, "plain", 0, NEWER, TrialContext())
    (known,) = known_people(tmp_path)
    draft = PlanDraft(battery="leg")
    assert with_known_person(draft, known, {}) == msgspec.structs.replace(draft, person=NEWER)
