"""What keeps a planned session from beginning, and what deserves a second look."""

import datetime as dt

import msgspec
import pytest

from acquire.sensor.calibration_file import save_calibration
from acquire.values.calibration import Calibration
from acquire.values.records import Person
from ui.model.plan.checks import problems, warnings_of, why
from ui.model.plan.plan import PlanDraft
from ui.words.words import Words, languages

NOW = dt.datetime(2026, 3, 2, 9, 5, tzinfo=dt.UTC)
replace = msgspec.structs.replace


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
    assert problems(good) == ()
    assert warnings_of(good) == ("plan.warn.simulated",)


def test_empty_plan_names_what_is_missing_in_the_order_of_the_place():
    assert problems(PlanDraft()) == (
        "plan.missing.person",
        "plan.missing.examiner",
        "plan.missing.out",
        "plan.missing.cautions",
    )


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"person": Person(code="  ")}, "plan.missing.person"),
        *(({"person": Person(code=code)}, "plan.wrong.person") for code in NO_CODES),
        *(({"examiner": code}, "plan.wrong.examiner") for code in NO_CODES),
        ({"person": Person(code="P", age_years=121.0)}, "plan.wrong.age"),
        ({"person": Person(code="P", mass_kg=0.5)}, "plan.wrong.mass"),
        ({"person": Person(code="P", height_m=168.0)}, "plan.wrong.height"),
        ({"examiner": " "}, "plan.missing.examiner"),
        ({"examiner_limit_n": 0.0}, "plan.wrong.limit"),
        ({"examiner_limit_n": float("inf")}, "plan.wrong.limit"),
        ({"trials": 0}, "plan.wrong.trials"),
        ({"trials": 11}, "plan.wrong.trials"),
        ({"rest_s": 59.0}, "plan.wrong.rest"),
        ({"rest_s": float("nan")}, "plan.wrong.rest"),
        ({"sides": ()}, "plan.missing.sides"),
        ({"battery": "own"}, "plan.missing.actions"),
        ({"battery": "nowhere.toml"}, "plan.wrong.battery"),
        ({"actions": "nowhere.toml"}, "plan.wrong.battery"),
        ({"battery": "arm", "want_torque": True}, "plan.missing.lever"),
        ({"sensor": ""}, "plan.missing.sensor"),
        ({"sensor": "nowhere.toml"}, "plan.wrong.sensor"),
        ({"sensor": "bridge-80"}, "plan.missing.port"),
        ({"sensor": "bridge-80", "port": " "}, "plan.missing.port"),
        ({"calibration": "nowhere.toml"}, "plan.wrong.calibration"),
        ({"protocol": "nowhere.toml"}, "plan.wrong.protocol"),
        ({"out": " "}, "plan.missing.out"),
        ({"out": "/nowhere/at/all/p.h5"}, "plan.wrong.folder"),
        ({"cautions_acknowledged": None}, "plan.missing.cautions"),
    ],
)
def test_one_thing_amiss_is_the_one_problem(good, change, problem):
    assert problems(replace(good, **change)) == (problem,)


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
    assert problems(replace(good, **change)) == ()


def test_lever_arm_in_centimetres_is_a_slip(good):
    draft = replace(good, battery="own", own=("elbow-flexion",), sides=("left",), want_torque=True)
    assert problems(replace(draft, lever_arms={"elbow-flexion": {"left": 22.0}})) == ("plan.wrong.lever",)


def test_lever_arm_of_an_action_without_sides_is_not_asked_for(good, tmp_path):
    file = tmp_path / "battery.toml"
    file.write_text('[[item]]\naction = "elbow-flexion"\n')
    assert problems(replace(good, battery=str(file), want_torque=True)) == ()


def test_folder_one_deep_may_be_missing(good, tmp_path):
    assert problems(replace(good, out=str(tmp_path / "new" / "p.h5"))) == ()
    assert problems(replace(good, out=str(tmp_path / "new" / "newer" / "p.h5"))) == ("plan.wrong.folder",)
    assert problems(replace(good, out=str(tmp_path))) == ("plan.wrong.folder",)
    (tmp_path / "file").touch()
    assert problems(replace(good, out=str(tmp_path / "file" / "p.h5"))) == ("plan.wrong.folder",)


def test_file_that_exists_is_only_gone_on_with_when_asked(good, tmp_path):
    (tmp_path / "p014.h5").touch()
    assert problems(good) == ("plan.wrong.exists",)
    assert problems(replace(good, resume=True)) == ()


@pytest.mark.parametrize(
    ("problem", "change", "said"),
    [
        ("plan.wrong.battery", {"battery": "nowhere.toml"}, "nowhere.toml: there is no such file"),
        ("plan.wrong.sensor", {"sensor": "mine"}, "there is no sensor profile called mine"),
        ("plan.wrong.calibration", {"calibration": "c.toml"}, "c.toml: there is no such file"),
        ("plan.wrong.protocol", {"protocol": "mine"}, "there is no protocol called mine"),
    ],
)
def test_file_that_cannot_be_read_says_why(good, problem, change, said):
    assert why(good, problem) == ""
    assert why(replace(good, **change), problem).startswith(said)


def test_problem_without_a_file_has_no_more_to_say():
    assert why(PlanDraft(), "plan.missing.person") == ""


# a second look


@pytest.mark.parametrize("change", [{"person": Person(code="Maria")}, {"examiner": "Özge"}])
def test_word_with_a_capital_first_may_be_a_name(good, change):
    assert "plan.warn.name" in warnings_of(replace(good, **change))
    assert problems(replace(good, **change)) == ()


def test_blanks_around_a_code_are_no_name(good):
    assert "plan.warn.name" not in warnings_of(replace(good, person=Person(code=" P-014 ")))


def test_limit_is_missed_only_where_something_is_held_by_hand(good):
    unknown = replace(good, examiner_limit_n=None, battery="own", own=("knee-extension",))
    assert "plan.warn.limit" not in warnings_of(unknown)
    assert "plan.warn.limit" in warnings_of(replace(unknown, methods={"knee-extension": "hand"}))
    assert "plan.warn.limit" not in warnings_of(replace(unknown, battery="nowhere.toml"))


@pytest.mark.parametrize(
    ("factor", "other"),
    [(1.0, False), (1.19, False), (0.84, False), (1.21, True), (0.82, True), (2.0, True), (-1.0, True)],
)
def test_calibration_far_from_the_profile_is_another_sensors(good, tmp_path, factor, other):
    file = tmp_path / "cal.toml"
    save_calibration(file, Calibration(newtons_per_count=factor / 8400.0))
    draft = replace(good, sensor="bridge-80", port="/dev/ttyUSB0", calibration=str(file))
    assert ("plan.warn.other_sensor" in warnings_of(draft)) is other
    assert "plan.warn.simulated" not in warnings_of(draft)
    assert "plan.warn.other_sensor" not in warnings_of(replace(draft, sensor="nowhere"))


def test_calibration_of_another_sensor_keeps_the_session_from_beginning(good, tmp_path):
    file = tmp_path / "cal.toml"
    draft = replace(good, sensor="bridge-80", port="/dev/ttyUSB0", calibration=str(file))
    save_calibration(file, Calibration(newtons_per_count=1.0 / 8400.0, sensor="bridge-80", rated_force_n=500.0))
    assert "plan.wrong.calibration" not in problems(draft)
    save_calibration(file, Calibration(newtons_per_count=1.0 / 8400.0, sensor="packets-1k"))
    assert "plan.wrong.calibration" in problems(draft)
    assert "is the calibration of a sensor packets-1k" in why(draft, "plan.wrong.calibration")


def test_calibration_of_a_sensor_of_unknown_sensitivity_is_taken_as_it_is(good, tmp_path):
    file, sensor = tmp_path / "cal.toml", tmp_path / "mine.toml"
    sensor.write_text(
        'name = "mine"\ntitle = "x"\nframing = "packets"\nrate_hz = 80\nrated_force_n = 500\n'
        'counts_per_newton = 1000\nsensitivity = "unknown"\n'
    )
    save_calibration(file, Calibration(newtons_per_count=1.0))
    draft = replace(good, sensor=str(sensor), port="/dev/ttyUSB0", calibration=str(file))
    assert "plan.warn.other_sensor" not in warnings_of(draft)


# words


ALL = (
    *(f"missing.{name}" for name in "person examiner sides actions lever sensor port out cautions".split()),  # noqa: SIM905
    *(f"wrong.{name}" for name in "age mass height limit trials rest battery lever sensor calibration".split()),  # noqa: SIM905
    *("wrong.protocol", "wrong.folder", "wrong.exists", "wrong.unwritable"),
    *("warn.name", "warn.limit", "warn.other_sensor", "warn.simulated"),
)


@pytest.mark.parametrize("language", languages())
def test_every_problem_has_its_words(language):
    words = Words(language)
    assert len({words(f"plan.{key}") for key in ALL}) == len(ALL)
