"""Small sessions worked by hand, end to end: from forces to the number in each unit, and to what is missing."""

import datetime as dt
import math

import msgspec
import pytest
from made_trials import CALIBRATED, DAY, NOMINAL, PROTOCOL, judged, made_trial

from acquire.values.records import Person, SessionContext
from acquire.values.units import ForceUnit, from_newtons
from analysis.results.action_result import Quantity, action_result
from analysis.results.body_size import relative_to_body
from analysis.results.missing import Missing
from analysis.results.ratios import load_pairs
from analysis.results.settings import Index, ScoreOf, load_result_settings
from analysis.results.sides import Finding
from analysis.results.summary import SessionSummary, summarise
from analysis.trial.judged_trial import Exclusion

SETTINGS = load_result_settings()
WHOLE = Person(code="P-1", sex="female", age_years=24.0, mass_kg=80.0, height_m=1.6, dominant_side="right")


def summary(*trials, person=WHOLE, settings=SETTINGS, **more):
    context = SessionContext(session="made", started=DAY, person=person)
    return summarise(context, judged(*trials), protocol=PROTOCOL, settings=settings, pairs=load_pairs(), **more)


def only(*trials, **more):
    (action,) = summary(*trials, **more).actions
    return action


RIGHT = [
    made_trial(190.0, lever_arm_m=0.25),
    made_trial(210.0, lever_arm_m=0.25, zero_after_n=0.6),
    made_trial(200.0, lever_arm_m=0.25),
]


def test_a_session_by_hand_in_every_unit():
    found = only(*RIGHT)
    assert (found.action, found.side, found.method) == ("knee-extension", "right", "belt")
    assert (found.set.used, found.set.complete, found.missing) == ((1, 2, 3), True, (Missing.LARGER_LOAD,))
    assert found.set.agreement_pct == pytest.approx(4.7619, abs=1e-4)  # 10 / 210
    assert (found.force.best, found.force.mean, found.force.sd) == pytest.approx((210.0, 200.0, 10.0))
    assert (found.torque.best, found.torque.mean, found.torque.sd) == pytest.approx((52.5, 50.0, 2.5))
    best = found.best
    assert best.force_n == pytest.approx(210.0)
    assert from_newtons(best.force_n, ForceUnit.KILOGRAM_FORCE) == pytest.approx(21.4140, abs=1e-4)  # 210 / 9.80665
    assert from_newtons(best.force_n, ForceUnit.POUND_FORCE) == pytest.approx(47.2099, abs=1e-4)  # 210 / 4.44822
    assert best.torque_nm == pytest.approx(52.5)
    assert best.body.n_per_kg == pytest.approx(2.625)
    assert best.body.pct_body_weight == pytest.approx(26.7676, abs=1e-4)  # 210 / (80 x 9.80665) = 210 / 784.532
    assert best.body.n_per_kg_067 == pytest.approx(11.147, abs=1e-3)  # 80^0.67 = exp(0.67 x 4.382027) = 18.8399
    assert best.body.nm_per_kg == pytest.approx(0.65625)
    assert best.body.nm_per_kg_m == pytest.approx(0.41016, abs=1e-5)  # 52.5 / 128
    assert found.mean.body.n_per_kg == pytest.approx(2.5)
    assert found.mean.torque_nm == pytest.approx(50.0)


def test_budget_of_a_set_by_hand():
    found = only(*RIGHT).best.force_budget
    terms = [
        210.0 * 0.005 / math.sqrt(3.0),  # known loads: 0.606
        210.0 * math.sqrt(1.5 / 20000.0),  # slope: 1.819
        math.sqrt(1.5),  # residuals: 1.225
        0.6 / math.sqrt(3.0),  # zero drift: 0.346
        0.0,  # noise
        0.01 / math.sqrt(12.0),  # resolution: 0.003
        210.0 * 0.00170673,  # pad angle: 0.358
        10.0,  # from trial to trial
    ]
    assert [row.contribution for row in found.components] == pytest.approx(terms, rel=1e-4, abs=1e-9)
    assert found.combined == pytest.approx(10.2676, abs=1e-4)
    # (105.424)^2 / ((3.308 + 1.5)^2 / 1 + 100^2 / 2) = 11114.1 / 5023.1
    assert found.dof == pytest.approx(2.2126, abs=1e-3)
    assert found.coverage_factor == pytest.approx(4.3027, abs=1e-4), "t of 2 degrees of freedom at 95 %"
    assert found.expanded == pytest.approx(44.178, abs=2e-3)
    assert found.complete


def test_budget_of_a_torque_and_of_a_mean_by_hand():
    found = only(*RIGHT)
    repeat = {row.source: row.contribution for row in found.mean.torque_budget.components}
    assert repeat["repeatability"] == pytest.approx(2.5 / math.sqrt(3.0))
    assert repeat["lever-arm"] == pytest.approx(200.0 * 0.005 / math.sqrt(3.0))
    assert repeat["zero-drift"] == pytest.approx(0.25 * 0.2 / math.sqrt(3.0)), "the mean of 0, 0.6 and 0 N"


def test_each_trial_has_a_budget_of_its_own_without_the_others():
    _, second, _ = only(*RIGHT).trials
    assert (second.trial, second.force_n, second.torque_nm) == (2, pytest.approx(210.0), pytest.approx(52.5))
    assert second.force_budget.combined == pytest.approx(math.sqrt(105.4235 - 100.0), abs=1e-3)
    assert "repeatability" not in {row.source for row in second.torque_budget.components}
    assert second.torque_budget.components[-1].source == "lever-arm"


def test_limb_weight_by_hand():
    found = only(*(made_trial(force, lever_arm_m=0.25, resting_force_n=10.0) for force in (210.0, 200.0)))
    assert (found.force.best, found.best.torque_nm) == pytest.approx((200.0, 50.0))
    assert found.set.plateau.best == pytest.approx(210.0), "as it was measured"
    assert [trial.weight_n for trial in found.trials] == pytest.approx([10.0, 10.0])


def test_best_torque_may_come_from_another_trial_than_the_best_force():
    found = only(made_trial(210.0, lever_arm_m=0.20), made_trial(200.0, lever_arm_m=0.25))
    assert (found.best.force_n, found.best.torque_nm) == pytest.approx((210.0, 50.0))
    assert found.torque.best_trial == 2
    lever = next(row for row in found.best.torque_budget.components if row.source == "lever-arm")
    assert lever.sensitivity == pytest.approx(200.0)


LEFT = [made_trial(force, side="left", lever_arm_m=0.25) for force in (150.0, 149.0, 151.0)]


def test_sides_of_a_session():
    (found,) = summary(*RIGHT[1:2], made_trial(209.0, lever_arm_m=0.25), *LEFT).sides
    assert (found.left, found.right, found.quantity) == (pytest.approx(37.75), pytest.approx(52.5), Quantity.TORQUE)
    assert (found.weaker, found.difference_pct) == ("left", pytest.approx(100.0 * 59.0 / 210.0))
    assert found.finding is Finding.BEYOND_BOTH
    assert SETTINGS.sides.normal_low_pct < found.difference_pct < SETTINGS.sides.normal_high_pct, "and may be normal"


def test_reference_limb_is_the_dominant_side_unless_the_uninvolved_is_told():
    by_reference = msgspec.structs.replace(
        SETTINGS, sides=msgspec.structs.replace(SETTINGS.sides, index=Index.REFERENCE)
    )
    (dominant,) = summary(*RIGHT, *LEFT, settings=by_reference).sides
    (uninvolved,) = summary(*RIGHT, *LEFT, settings=by_reference, affected="right").sides
    (nobody,) = summary(*RIGHT, *LEFT, settings=by_reference, person=Person()).sides
    assert (dominant.reference, uninvolved.reference) == ("right", "left")
    assert nobody.missing == (Missing.REFERENCE_SIDE,)


def test_detectable_change_of_an_action_is_its_measurement_error():
    (found,) = summary(*RIGHT, *LEFT, detectable_pct={("knee-extension", "belt"): 30.0}).sides
    assert (found.error_pct, found.finding) == (30.0, Finding.WITHIN_ERROR)


def test_ratio_of_a_session_takes_the_belt_where_both_were_tried():
    flexion = [made_trial(force, action="knee-flexion", lever_arm_m=0.25) for force in (100.0, 99.0)]
    weak_hand = [made_trial(force, method="hand", lever_arm_m=0.25) for force in (120.0, 121.0)]
    found = summary(*weak_hand, *RIGHT, *flexion, *LEFT)
    assert [(each.key, each.side) for each in found.ratios] == [("knee", "left"), ("knee", "right")]
    left, right = found.ratios
    assert (right.value, right.missing) == (pytest.approx(100.0 / 210.0), ())
    assert (left.value, left.missing) == (None, (Missing.OTHER_ACTION,))
    assert found.find("knee-extension", "right").method == "belt"
    assert found.find("knee-flexion", "left") is None


def test_two_sensors_on_one_effort_are_two_results():
    first = [made_trial(force, sensor="1: bridge-80 at A") for force in (200.0, 199.0)]
    second = [made_trial(force, sensor="2: bridge-80 at B") for force in (210.0, 209.0)]
    found = summary(first[0], second[0], first[1], second[1])
    assert [(each.sensor, each.set.used) for each in found.actions] == [
        ("1: bridge-80 at A", (1, 3)),
        ("2: bridge-80 at B", (2, 4)),
    ]
    assert found.find("knee-extension", "right").sensor == "1: bridge-80 at A"


def test_both_sides_at_once_are_compared_across_their_sensors():
    both = [made_trial(force, side=side, sensor=side) for force in (200.0, 199.0) for side in ("left", "right")]
    (found,) = summary(*both).sides
    assert (found.left, found.right, found.missing) == (pytest.approx(200.0), pytest.approx(200.0), ())


def test_hand_is_taken_where_no_trial_by_belt_counts():
    hand = [made_trial(force, method="hand") for force in (120.0, 121.0)]
    assert summary(made_trial(200.0, ramp_s=0.2), *hand).find("knee-extension", "right").method == "hand"


def test_sides_held_differently_are_not_compared():
    found = summary(*RIGHT, made_trial(150.0, side="left", method="hand")).sides
    assert [each.missing for each in found] == [(Missing.OTHER_SIDE, Missing.SAME_METHOD)] * 2


def test_side_that_was_not_tested_is_missing():
    (found,) = summary(*RIGHT).sides
    assert (found.missing, found.finding) == ((Missing.OTHER_SIDE,), Finding.NOT_COMPARED)


# What is missing


def test_without_a_lever_arm_all_but_torque_is_there():
    found = only(made_trial(190.0), made_trial(200.0))
    assert Missing.LEVER_ARM in found.missing
    assert (found.torque, found.best.torque_nm, found.best.torque_budget) == (None, None, None)
    assert found.best.body.n_per_kg == pytest.approx(2.5)
    assert (found.best.body.nm_per_kg, found.best.body.nm_per_kg_m) == (None, None)
    assert found.best.of(Quantity.TORQUE) is None


def test_lever_arm_of_one_trial_only_gives_the_torque_of_that_one():
    found = only(made_trial(190.0, lever_arm_m=0.25), made_trial(200.0))
    assert Missing.LEVER_ARM in found.missing
    assert (found.torque.trials, found.best.torque_nm) == ((1,), pytest.approx(47.5))


@pytest.mark.parametrize("mass_kg", [None, 0.0, -70.0, math.nan])
def test_without_a_mass_force_and_torque_are_there(mass_kg):
    found = summary(*RIGHT, person=msgspec.structs.replace(WHOLE, mass_kg=mass_kg))
    (action,) = found.actions
    assert found.missing == (Missing.MASS,)
    assert Missing.MASS in action.missing
    assert (action.best.torque_nm, action.best.body.n_per_kg) == (pytest.approx(52.5), None)


def test_without_a_height_only_the_torque_per_height_is_gone():
    found = only(*RIGHT, person=msgspec.structs.replace(WHOLE, height_m=None))
    assert Missing.HEIGHT in found.missing
    assert (found.best.body.nm_per_kg, found.best.body.nm_per_kg_m) == (pytest.approx(0.65625), None)


def test_person_of_whom_nothing_is_known_leaves_the_forces():
    found = summary(*RIGHT, person=Person())
    assert found.missing == (Missing.MASS, Missing.HEIGHT, Missing.SEX, Missing.AGE, Missing.DOMINANT_SIDE)
    assert found.actions[0].best.force_n == pytest.approx(210.0)


def test_trials_of_nothing_in_particular_are_one_set():
    found = summary(made_trial(190.0, action=None, side=None), made_trial(200.0, action=None, side=None))
    (action,) = found.actions
    assert (action.action, action.side, found.sides, found.ratios) == (None, None, (), ())
    assert {Missing.ACTION, Missing.SIDE} <= set(action.missing)
    assert action.force.best == pytest.approx(200.0)


def test_one_trial_only_is_a_result_without_a_spread():
    found = only(made_trial(150.0, lever_arm_m=0.25))
    assert found.missing == (Missing.SECOND_TRIAL,)
    assert (found.force.sd, found.set.agreement_pct, found.set.complete) == (None, None, False)
    assert not found.best.force_budget.complete
    assert [row.source for row in found.best.force_budget.unknown] == ["repeatability"]
    assert found.best.force_n == found.mean.force_n == pytest.approx(150.0)


def test_all_trials_rejected_or_set_aside_leave_reasons_and_no_numbers():
    found = only(made_trial(200.0, ramp_s=0.2), made_trial(190.0, aside="slipped"))
    assert found.missing == (Missing.ACCEPTED_TRIAL,)
    assert [unused.why for unused in found.set.unused] == [Exclusion.REJECTED, Exclusion.SET_ASIDE]
    assert (found.force, found.torque, found.best, found.mean) == (None, None, None, None)
    assert (found.trials, found.calibrations) == ((), ())
    assert found.value(ScoreOf.BEST) is None


@pytest.mark.parametrize(
    ("calibration", "missing"),
    [
        (NOMINAL, Missing.CALIBRATION),
        (msgspec.structs.replace(CALIBRATED, valid_days=30), Missing.CURRENT_CALIBRATION),
        (msgspec.structs.replace(CALIBRATED, date=dt.date(2025, 3, 2)), Missing.CURRENT_CALIBRATION),
        (msgspec.structs.replace(CALIBRATED, date=dt.date(2025, 3, 3)), None),
    ],
)
def test_calibration_that_is_missing_or_expired_is_named(calibration, missing):
    found = only(*(made_trial(force, lever_arm_m=0.25, calibration=calibration) for force in (150.0, 152.0)))
    assert found.missing == ((missing,) if missing else ())
    assert found.calibrations == (calibration,)


def test_force_above_every_load_of_the_calibration_is_named():
    assert only(made_trial(200.0), made_trial(199.0)).missing == (Missing.LEVER_ARM,)
    assert Missing.LARGER_LOAD in only(made_trial(201.0), made_trial(199.0)).missing


def test_force_above_what_the_examiner_can_hold_asks_for_a_belt():
    def held(limit_n):
        return made_trial(150.0, method="hand", lever_arm_m=0.25, examiner_limit_n=limit_n)

    assert only(held(160.0), held(140.0)).missing == (Missing.BELT,)
    assert only(held(160.0), held(160.0)).missing == ()


def test_zero_that_could_not_be_seen_is_named():
    assert Missing.ZERO_AFTER in only(made_trial(150.0, rest_after_s=0.1), made_trial(151.0)).missing


def test_session_without_trials_is_empty():
    found = summary()
    assert (found.actions, found.sides, found.ratios) == ((), (), ())


def test_action_without_trials_is_refused():
    with pytest.raises(ValueError, match="trials must hold at least one trial, got none"):
        action_result([], person=WHOLE, day=DAY.date(), rule=PROTOCOL.set, settings=SETTINGS)


@pytest.mark.parametrize(
    ("sizes", "message"),
    [
        ({"mass_kg": 0.0}, r"mass_kg must be above 0, got 0\.0 kg"),
        ({"height_m": -1.0}, "height_m must be above 0, got"),
    ],
)
def test_body_size_that_cannot_be_is_refused(sizes, message):
    with pytest.raises(ValueError, match=message):
        relative_to_body(100.0, None, **{"mass_kg": 70.0, "height_m": 1.7, "gravity_m_s2": 9.81, **sizes})


def test_summary_goes_to_json_and_back():
    flexion = made_trial(100.0, action="knee-flexion", lever_arm_m=0.25, calibration=NOMINAL)
    found = summary(*RIGHT, *LEFT, flexion, made_trial(90.0, aside="slipped"))
    text = msgspec.json.encode(found)
    assert msgspec.json.decode(text, type=SessionSummary) == found
    assert (found.protocol, found.protocol_hash, found.settings.hash) == (PROTOCOL.name, PROTOCOL.hash, SETTINGS.hash)
