"""What keeps a planned session from beginning, and what deserves a second look."""

import datetime as dt

import msgspec
import pytest

from acquire.sensor.calibration_file import save_calibration
from acquire.values.calibration import Calibration
from acquire.values.records import Person
from ui.model.plan.checks import problems, warnings_of
from ui.model.plan.plan import PlanDraft
from ui.model.plan.problems import PlanWarning, Problem, ProblemCode
from ui.model.plan.text import problem_words
from ui.words.words import Words, languages

NOW = dt.datetime(2026, 3, 2, 9, 5, tzinfo=dt.UTC)
replace = msgspec.structs.replace


def codes(draft):
    """The codes of what keeps a plan from beginning."""
    return tuple(problem.code for problem in problems(draft))


@pytest.fixture
def good(tmp_path):
    """A plan that can begin."""
    return PlanDraft(
        person=Person(code="P-014"),
        examiner="X01",
        examiner_limit_n=260.0,
        out=str(tmp_path / "p014.h5"),
        cautions_acknowledged=NOW,
    )


NO_CODES = ("two words", "../x", "=cmd", "A\nB", "x" * 33, "P;1")


def test_plan_with_all_there_is_can_begin(good):
    assert codes(good) == ()
    assert warnings_of(good) == (PlanWarning.SIMULATED,)


def test_empty_plan_names_what_is_missing_in_the_order_of_the_place():
    assert codes(PlanDraft()) == (
        ProblemCode.NO_PERSON,
        ProblemCode.NO_EXAMINER,
        ProblemCode.NO_FILE,
        ProblemCode.CAUTIONS,
    )


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"person": Person(code="  ")}, ProblemCode.NO_PERSON),
        *(({"person": Person(code=code)}, ProblemCode.PERSON) for code in NO_CODES),
        *(({"examiner": code}, ProblemCode.EXAMINER) for code in NO_CODES),
        ({"person": Person(code="P", age_years=121.0)}, ProblemCode.AGE),
        ({"person": Person(code="P", mass_kg=0.5)}, ProblemCode.MASS),
        ({"person": Person(code="P", height_m=168.0)}, ProblemCode.STATURE),
        ({"examiner": " "}, ProblemCode.NO_EXAMINER),
        ({"examiner_limit_n": 0.0}, ProblemCode.LIMIT),
        ({"examiner_limit_n": float("inf")}, ProblemCode.LIMIT),
        ({"trials": 0}, ProblemCode.TRIALS),
        ({"trials": 11}, ProblemCode.TRIALS),
        ({"rest_s": 59.0}, ProblemCode.REST),
        ({"rest_s": float("nan")}, ProblemCode.REST),
        ({"sides": ()}, ProblemCode.NO_SIDES),
        ({"battery": "own"}, ProblemCode.NO_ACTIONS),
        ({"battery": "nowhere.toml"}, ProblemCode.BATTERY),
        ({"actions": "nowhere.toml"}, ProblemCode.BATTERY),
        ({"battery": "arm", "want_torque": True}, ProblemCode.NO_LEVER),
        ({"sensor": ""}, ProblemCode.NO_SENSOR),
        ({"sensor": "nowhere.toml"}, ProblemCode.SENSOR),
        ({"sensor": "bridge-80"}, ProblemCode.NO_PORT),
        ({"sensor": "bridge-80", "port": " "}, ProblemCode.NO_PORT),
        ({"calibration": "nowhere.toml"}, ProblemCode.CALIBRATION),
        ({"protocol": "nowhere.toml"}, ProblemCode.PROTOCOL),
        ({"out": " "}, ProblemCode.NO_FILE),
        ({"out": "/nowhere/at/all/p.h5"}, ProblemCode.FOLDER),
        ({"cautions_acknowledged": None}, ProblemCode.CAUTIONS),
    ],
)
def test_one_thing_amiss_is_the_one_problem(good, change, problem):
    assert codes(replace(good, **change)) == (problem,)


@pytest.mark.parametrize(
    "change",
    [
        {"person": Person(code="P", age_years=120.0, mass_kg=1.0, height_m=2.6)},
        {"rest_s": 60.0, "trials": 1},
        {"trials": 10},
        {"sensor": "bridge-80", "port": "/dev/ttyUSB0"},
        {"sensor": "simulated", "port": "/dev/pts/3"},
        {"want_torque": True, "battery": "own", "own": ("elbow-flexion",), "sides": ("left",),
         "lever_arms": {"elbow-flexion": {"left": 0.01}}},
    ],
)  # fmt: skip
def test_plan_at_its_limits_can_begin(good, change):
    assert codes(replace(good, **change)) == ()


def test_lever_arm_in_centimetres_is_a_slip(good):
    draft = replace(good, battery="own", own=("elbow-flexion",), sides=("left",), want_torque=True)
    assert codes(replace(draft, lever_arms={"elbow-flexion": {"left": 22.0}})) == (ProblemCode.LEVER,)


def test_lever_arm_of_an_action_without_sides_is_not_asked_for(good, tmp_path):
    file = tmp_path / "battery.toml"
    file.write_text('[[item]]\naction = "elbow-flexion"\n')
    assert codes(replace(good, battery=str(file), want_torque=True)) == ()


def test_folder_one_deep_may_be_missing(good, tmp_path):
    assert codes(replace(good, out=str(tmp_path / "new" / "p.h5"))) == ()
    assert codes(replace(good, out=str(tmp_path / "new" / "newer" / "p.h5"))) == (ProblemCode.FOLDER,)
    assert codes(replace(good, out=str(tmp_path))) == (ProblemCode.FOLDER,)
    (tmp_path / "file").touch()
    assert codes(replace(good, out=str(tmp_path / "file" / "p.h5"))) == (ProblemCode.FOLDER,)


def test_file_that_exists_is_only_gone_on_with_when_asked(good, tmp_path):
    (tmp_path / "p014.h5").touch()
    assert codes(good) == (ProblemCode.EXISTS,)
    assert codes(replace(good, resume=True)) == ()


@pytest.mark.parametrize(
    ("problem", "change", "said"),
    [
        (ProblemCode.BATTERY, {"battery": "nowhere.toml"}, "nowhere.toml: there is no such file"),
        (ProblemCode.SENSOR, {"sensor": "mine"}, "there is no sensor profile called mine"),
        (ProblemCode.CALIBRATION, {"calibration": "c.toml"}, "c.toml: there is no such file"),
        (ProblemCode.PROTOCOL, {"protocol": "mine"}, "there is no protocol called mine"),
    ],
)
def test_file_that_cannot_be_read_says_why(good, problem, change, said):
    ((code, _, _, error),) = problems(replace(good, **change))
    assert code is problem
    assert str(error).startswith(said)


@pytest.mark.parametrize(
    ("change", "limits"),
    [
        ({"person": Person(code="P", age_years=121.0)}, (0.0, 120.0)),
        ({"rest_s": 59.0}, (60.0, None)),
        ({"trials": 11}, (1, 10)),
    ],
)
def test_slip_of_a_key_is_told_with_its_limits(good, change, limits):
    (found,) = problems(replace(good, **change))
    assert (found.low, found.high) == limits


@pytest.mark.parametrize("language", languages())
def test_every_problem_and_warning_has_its_words(language):
    words = Words(language)
    said = [problem_words(words, Problem(code, 1.0, 2.0)) for code in ProblemCode]
    said += [words(f"plan.warn.{each.value}") for each in PlanWarning]
    assert len(set(said)) == len(said)


# a second look


@pytest.mark.parametrize("change", [{"person": Person(code="Maria")}, {"examiner": "Özge"}])
def test_word_with_a_capital_first_may_be_a_name(good, change):
    assert PlanWarning.NAME in warnings_of(replace(good, **change))
    assert codes(replace(good, **change)) == ()


def test_blanks_around_a_code_are_no_name(good):
    assert PlanWarning.NAME not in warnings_of(replace(good, person=Person(code=" P-014 ")))


def test_limit_is_missed_only_where_something_is_held_by_hand(good):
    unknown = replace(good, examiner_limit_n=None, battery="own", own=("knee-extension",))
    assert PlanWarning.LIMIT not in warnings_of(unknown)
    assert PlanWarning.LIMIT in warnings_of(replace(unknown, methods={"knee-extension": "hand"}))
    assert PlanWarning.LIMIT not in warnings_of(replace(unknown, battery="nowhere.toml"))


@pytest.mark.parametrize(
    ("factor", "other"),
    [(1.0, False), (1.19, False), (0.84, False), (1.21, True), (0.82, True), (2.0, True), (-1.0, True)],
)
def test_calibration_far_from_the_profile_is_another_sensors(good, tmp_path, factor, other):
    file = tmp_path / "cal.toml"
    save_calibration(file, Calibration(newtons_per_count=factor / 8400.0))
    draft = replace(good, sensor="bridge-80", port="/dev/ttyUSB0", calibration=str(file))
    assert (PlanWarning.OTHER_SENSOR in warnings_of(draft)) is other
    assert PlanWarning.SIMULATED not in warnings_of(draft)
    assert PlanWarning.OTHER_SENSOR not in warnings_of(replace(draft, sensor="nowhere"))


def test_calibration_of_another_sensor_keeps_the_session_from_beginning(good, tmp_path):
    file = tmp_path / "cal.toml"
    draft = replace(good, sensor="bridge-80", port="/dev/ttyUSB0", calibration=str(file))
    save_calibration(file, Calibration(newtons_per_count=1.0 / 8400.0, sensor="bridge-80", rated_force_n=500.0))
    assert ProblemCode.CALIBRATION not in codes(draft)
    save_calibration(file, Calibration(newtons_per_count=1.0 / 8400.0, sensor="packets-1k"))
    assert ProblemCode.CALIBRATION in codes(draft)
    assert "is the calibration of a sensor packets-1k" in str(problems(draft)[-1].error)


def test_calibration_of_a_sensor_of_unknown_sensitivity_is_taken_as_it_is(good, tmp_path):
    file, sensor = tmp_path / "cal.toml", tmp_path / "mine.toml"
    sensor.write_text(
        'name = "mine"\ntitle = "x"\nframing = "packets"\nrate_hz = 80\nrated_force_n = 500\n'
        'counts_per_newton = 1000\nsensitivity = "unknown"\n'
    )
    save_calibration(file, Calibration(newtons_per_count=1.0))
    draft = replace(good, sensor=str(sensor), port="/dev/ttyUSB0", calibration=str(file))
    assert PlanWarning.OTHER_SENSOR not in warnings_of(draft)
