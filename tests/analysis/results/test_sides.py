"""Side against side: indices by hand, their uncertainty, and when a difference is flagged."""

import datetime as dt
import math

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_trials import CALIBRATED, NOMINAL, PROTOCOL, judged, made_trial

from acquire.values.records import Person
from analysis.results.action_result import Quantity, action_result
from analysis.results.missing import Missing
from analysis.results.settings import Index, ScoreOf, load_result_settings
from analysis.results.sides import ErrorBasis, Finding, compare_sides, difference_pct
from analysis.statistics.uncertainty import Unknown

SETTINGS = load_result_settings()


def by(index, *, threshold_pct=15.0, of=ScoreOf.BEST):
    sides = msgspec.structs.replace(SETTINGS.sides, index=index, threshold_pct=threshold_pct)
    return msgspec.structs.replace(SETTINGS, sides=sides, score=msgspec.structs.replace(SETTINGS.score, of=of))


def side(name, *forces, **made):
    trials = judged(*(made_trial(force, side=name, **made) for force in forces))
    return action_result(trials, person=Person(), day=dt.date(2026, 3, 2), rule=PROTOCOL.set, settings=SETTINGS)


STRONG = side("right", 200.0, 198.0, 199.0)
WEAK = side("left", 150.0, 149.0, 151.0)


@pytest.mark.parametrize(
    ("index", "reference", "expected"),
    [
        (Index.STRONGER, None, 100.0 * 49.0 / 200.0),
        (Index.MEAN, None, 100.0 * 49.0 / 175.5),
        (Index.REFERENCE, "right", 100.0 * 49.0 / 200.0),
        (Index.REFERENCE, "left", -100.0 * 49.0 / 151.0),
    ],
)
def test_index_by_hand(index, reference, expected):
    found = compare_sides(WEAK, STRONG, settings=by(index), reference=reference)
    assert found.difference_pct == pytest.approx(expected)
    assert (found.left, found.right, found.weaker) == (pytest.approx(151.0), pytest.approx(200.0), "left")
    assert found.quantity is Quantity.FORCE
    assert found.reference == {Index.STRONGER: "right", Index.MEAN: None, Index.REFERENCE: reference}[index]


def test_mean_of_the_trials_can_stand_for_a_side():
    found = compare_sides(WEAK, STRONG, settings=by(Index.STRONGER, of=ScoreOf.MEAN))
    assert found.difference_pct == pytest.approx(100.0 * 49.0 / 199.0)


def test_uncertainty_of_the_index_by_hand():
    found = compare_sides(WEAK, STRONG, settings=SETTINGS).uncertainty
    quotient = 151.0 / 200.0
    terms = {
        ("left", "repeatability"): 1.0 / 200.0,
        ("right", "repeatability"): quotient * 1.0 / 200.0,
        ("left", "calibration-residuals"): math.sqrt(1.5) / 200.0,
        ("right", "calibration-residuals"): quotient * math.sqrt(1.5) / 200.0,
        ("left", "pad-angle"): quotient * 0.0017067,
        ("right", "pad-angle"): quotient * 0.0017067,
        ("left", "resolution"): 0.01 / math.sqrt(12.0) / 200.0,
        ("right", "resolution"): quotient * 0.01 / math.sqrt(12.0) / 200.0,
    }
    rows = {(row.of, row.source): row.contribution for row in found.components if row.contribution > 1e-9}
    assert rows == pytest.approx({key: 100.0 * term for key, term in terms.items()}, rel=1e-4)
    assert found.combined == pytest.approx(100.0 * math.hypot(*terms.values()), rel=1e-4)


def test_scale_of_one_calibration_cancels_and_that_of_two_does_not():
    def sources(left, right):
        rows = compare_sides(left, right, settings=SETTINGS).uncertainty.components
        return {row.source for row in rows if row.unknown is None}

    other = msgspec.structs.replace(CALIBRATED, serial="LC-2")
    assert not {"known-loads", "calibration-sensitivity"} & sources(WEAK, STRONG)
    assert {"known-loads", "calibration-sensitivity"} <= sources(side("left", 150.0, 151.0, calibration=other), STRONG)


@pytest.mark.parametrize("index", [Index.STRONGER, Index.MEAN])
def test_uncertainty_of_the_index_is_that_of_many_throws(index):
    # An independent way: throw both sides, whose trials spread by 1 N, many times and look how the index spreads.
    random = np.random.default_rng(1)
    left, right = np.array([[151.0], [200.0]]) + random.standard_normal((2, 200_000))
    rows = compare_sides(WEAK, STRONG, settings=by(index)).uncertainty.components
    repeat = [row.contribution for row in rows if row.source == "repeatability"]
    assert math.hypot(*repeat) == pytest.approx(difference_pct(left, right, index).std(), rel=0.01)


@pytest.mark.parametrize(
    ("threshold_pct", "detectable_pct", "finding", "basis"),
    [
        (15.0, None, Finding.BEYOND_BOTH, ErrorBasis.UNCERTAINTY),
        (30.0, None, Finding.WITHIN_THRESHOLD, ErrorBasis.UNCERTAINTY),
        (15.0, 20.0, Finding.BEYOND_BOTH, ErrorBasis.DETECTABLE_CHANGE),
        (15.0, 24.6, Finding.WITHIN_ERROR, ErrorBasis.DETECTABLE_CHANGE),
        (15.0, 24.4, Finding.BEYOND_BOTH, ErrorBasis.DETECTABLE_CHANGE),
        (24.6, 20.0, Finding.WITHIN_THRESHOLD, ErrorBasis.DETECTABLE_CHANGE),
        (24.6, 30.0, Finding.WITHIN_ERROR, ErrorBasis.DETECTABLE_CHANGE),
    ],
)
def test_difference_of_24_and_a_half_is_flagged_only_beyond_both(threshold_pct, detectable_pct, finding, basis):
    rule = by(Index.STRONGER, threshold_pct=threshold_pct)
    found = compare_sides(WEAK, STRONG, settings=rule, detectable_pct=detectable_pct)
    assert (found.finding, found.error_basis) == (finding, basis)
    assert found.error_pct == (detectable_pct or pytest.approx(found.uncertainty.expanded))


def test_scattered_trials_do_not_flag_a_difference():
    scattered = side("left", 120.0, 151.0, 135.0)
    found = compare_sides(scattered, STRONG, settings=SETTINGS)
    assert (found.finding, found.difference_pct < found.error_pct) == (Finding.WITHIN_ERROR, True)


def test_one_trial_a_side_is_compared_and_never_flagged():
    found = compare_sides(side("left", 100.0), STRONG, settings=SETTINGS)
    assert found.difference_pct == pytest.approx(50.0)
    assert (found.error_pct, found.error_basis, found.finding) == (None, None, Finding.ERROR_NOT_KNOWN)
    assert found.missing == (Missing.SECOND_TRIAL,)
    assert any(row.unknown is Unknown.ONE_TRIAL for row in found.uncertainty.unknown)
    assert compare_sides(side("left", 190.0), STRONG, settings=SETTINGS).finding is Finding.WITHIN_THRESHOLD
    assert (
        compare_sides(side("left", 100.0), STRONG, settings=SETTINGS, detectable_pct=20.0).finding
        is Finding.BEYOND_BOTH
    )


def test_torque_is_compared_where_both_sides_have_one():
    # equal forces on lever arms of 0.20 and 0.25 m: 20 % less torque
    found = compare_sides(
        side("left", 200.0, 199.0, lever_arm_m=0.20), side("right", 200.0, 199.0, lever_arm_m=0.25), settings=SETTINGS
    )
    assert (found.quantity, found.difference_pct) == (Quantity.TORQUE, pytest.approx(20.0))
    assert (found.left, found.right) == pytest.approx((40.0, 50.0))
    assert sum(row.source == "lever-arm" for row in found.uncertainty.components) == 2
    mixed = compare_sides(side("left", 200.0, lever_arm_m=0.2), STRONG, settings=SETTINGS)
    assert mixed.quantity is Quantity.FORCE


def test_sensor_without_a_calibration_compares_but_says_what_is_not_known():
    found = compare_sides(
        side("left", 150.0, 151.0, 149.0, calibration=NOMINAL),
        side("right", 200.0, 199.0, 198.0, calibration=NOMINAL),
        settings=SETTINGS,
    )
    assert found.finding is Finding.BEYOND_BOTH
    assert {(row.of, row.source, row.unknown) for row in found.uncertainty.unknown} == {
        (name, "calibration-residuals", Unknown.NOT_CALIBRATED) for name in ("left", "right")
    }


@pytest.mark.parametrize(
    ("left", "right", "index", "missing"),
    [
        (WEAK, None, Index.STRONGER, (Missing.OTHER_SIDE,)),
        (None, STRONG, Index.STRONGER, (Missing.OTHER_SIDE,)),
        (WEAK, STRONG, Index.REFERENCE, (Missing.REFERENCE_SIDE,)),
        (side("left", 150.0, ramp_s=0.2), STRONG, Index.STRONGER, (Missing.ACCEPTED_TRIAL,)),
        (side("left", 150.0, resting_force_n=160.0), STRONG, Index.STRONGER, (Missing.FORCE,)),
    ],
)
def test_what_is_missing_is_named(left, right, index, missing):
    found = compare_sides(left, right, settings=by(index))
    assert (found.finding, found.missing, found.difference_pct) == (Finding.NOT_COMPARED, missing, None)
    assert (found.action, found.method) == ("knee-extension", "belt")
    assert found.finding is not Finding.BEYOND_BOTH


def test_equal_sides_have_no_weaker_one():
    found = compare_sides(side("left", 200.0, 199.0), side("right", 200.0, 199.0), settings=SETTINGS)
    assert (found.difference_pct, found.weaker, found.finding) == (0.0, None, Finding.WITHIN_ERROR)


def test_no_side_at_all_is_refused():
    with pytest.raises(ValueError, match="one side at least must be there, got none"):
        compare_sides(None, None, settings=SETTINGS)


FORCES = st.lists(st.floats(60.0, 400.0), min_size=2, max_size=2)


@settings(max_examples=15, deadline=None)
@given(one=FORCES, other=FORCES, index=st.sampled_from([Index.STRONGER, Index.MEAN]))
def test_swapping_the_sides_swaps_the_weaker_one_and_nothing_else(one, other, index):
    there = compare_sides(side("left", *one), side("right", *other), settings=by(index))
    back = compare_sides(side("left", *other), side("right", *one), settings=by(index))
    assert back.difference_pct == pytest.approx(there.difference_pct, abs=1e-9)
    assert back.uncertainty.expanded == pytest.approx(there.uncertainty.expanded)
    assert {there.weaker, back.weaker} in ({"left", "right"}, {None})


@settings(max_examples=15, deadline=None)
@given(factor=st.floats(0.2, 4.0), index=st.sampled_from(Index))
def test_index_does_not_change_with_the_scale_of_the_forces(factor, index):
    plain = compare_sides(WEAK, STRONG, settings=by(index), reference="right")
    scaled = compare_sides(
        side("left", *(factor * force for force in (150.0, 149.0, 151.0))),
        side("right", *(factor * force for force in (200.0, 198.0, 199.0))),
        settings=by(index),
        reference="right",
    )
    assert scaled.difference_pct == pytest.approx(plain.difference_pct, abs=0.02)


@pytest.mark.parametrize(
    ("affected", "difference", "symmetry"), [(None, 20.0, 80.0), ("left", 20.0, 80.0), ("right", -25.0, 125.0)]
)
def test_limb_symmetry_index_is_of_the_affected_side(affected, difference, symmetry):
    """160 N left, 200 N right: 80 % of the stronger; of the unaffected left, the right has 125 %."""
    left, right = side("left", 160.0), side("right", 200.0)
    found = compare_sides(left, right, settings=SETTINGS, affected=affected)
    assert (found.difference_pct, found.symmetry_pct) == (pytest.approx(difference), pytest.approx(symmetry))
    assert (found.weaker, found.affected) == ("left", affected)
