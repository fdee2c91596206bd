"""Standard error, detectable change and coefficient of variation: published data, and trials by chance."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.statistics.icc import intraclass_correlations
from analysis.statistics.measurement_error import (
    minimal_detectable_change,
    standard_error,
    standard_error_from_icc,
    within_subject_cv_pct,
)

# Weir 2005, J Strength Cond Res 19:231-240, data set A
WEIR_A = [(146, 140), (148, 152), (170, 152), (90, 99), (157, 145), (156, 153), (176, 167), (205, 218)]


def test_standard_error_and_change_of_weir():
    # p. 236-238: SEM 7.6 (printed); the other digits are recomputed from the data set
    found = standard_error(WEIR_A)
    assert found.value == pytest.approx(7.5569, abs=5e-5)
    assert (found.df, found.way) == (7, "sqrt(MSE)")
    assert minimal_detectable_change(found.value) == pytest.approx(20.9467, abs=5e-5)


def test_deviation_that_stands_behind_the_other_way_is_that_of_weir():
    # Weir prints 7.1 for SD sqrt(ICC (1 - ICC)) and 10.2 for SD sqrt(1 - ICC^2), with ICC(3,1)
    icc = intraclass_correlations(WEIR_A)["ICC(3,1)"].value
    sem = standard_error_from_icc(WEIR_A, icc)
    assert sem * np.sqrt(icc) == pytest.approx(7.1, abs=0.05)
    assert sem * np.sqrt(1.0 + icc) == pytest.approx(10.2, abs=0.05)


def test_both_ways_agree_for_many_subjects_without_a_shift():
    chance = np.random.default_rng(5)
    values = 100.0 + 10.0 * chance.standard_normal((4000, 1)) + 3.0 * chance.standard_normal((4000, 2))
    icc = intraclass_correlations(values)["ICC(3,1)"].value
    assert standard_error(values).value == pytest.approx(3.0, rel=0.03)
    assert standard_error_from_icc(values, icc) == pytest.approx(standard_error(values).value, rel=0.01)


def test_limits_hold_the_truth_as_often_as_they_say():
    chance = np.random.default_rng(6)
    held = []
    for _ in range(1000):
        found = standard_error(10.0 * chance.standard_normal((10, 1)) + 2.0 * chance.standard_normal((10, 3)))
        held.append(found.low <= 2.0 <= found.high)
    assert np.mean(held) == pytest.approx(0.95, abs=0.025)


def test_upper_limit_falls_below_twice_the_error_with_8_degrees_of_freedom():
    # why `analysis.reliability.retest` asks for 8
    for subjects, twice in ((8, True), (9, False)):
        found = standard_error(np.random.default_rng(7).standard_normal((subjects, 2)))
        assert found.df == subjects - 1
        assert (found.high > 2.0 * found.value) is twice


def test_shift_of_all_subjects_is_no_error():
    values = np.array(WEIR_A, dtype=np.float64)
    assert standard_error(values + np.array([0.0, 30.0])).value == pytest.approx(standard_error(values).value)
    exact = standard_error([[1.0, 3.0], [2.0, 4.0], [4.0, 6.0]])
    assert (exact.value, exact.low, exact.high) == pytest.approx((0.0, 0.0, 0.0), abs=1e-12)


@given(st.floats(0.01, 100.0), st.floats(-100.0, 100.0))
def test_error_is_in_the_unit_of_the_ratings(scale, shift):
    values = np.array(WEIR_A, dtype=np.float64)
    assert standard_error(scale * values + shift).value == pytest.approx(scale * 7.556925, rel=1e-5)
    assert within_subject_cv_pct(scale * values) == pytest.approx(within_subject_cv_pct(values))


def test_coefficient_of_variation_worked_by_hand():
    # (100, 110): s = 7.071068, mean 105; (200, 190): s = 7.071068, mean 195
    # sqrt((0.0673435^2 + 0.0362619^2) / 2) = 0.0540836
    assert within_subject_cv_pct([(100.0, 110.0), (200.0, 190.0)]) == pytest.approx(5.40836, abs=1e-5)


def test_coefficient_of_a_known_scatter_is_found():
    chance = np.random.default_rng(8)
    means = chance.uniform(100.0, 400.0, (3000, 1))
    assert within_subject_cv_pct(means * (1.0 + 0.06 * chance.standard_normal((3000, 2)))) == pytest.approx(
        6.0, abs=0.15
    )


def test_change_beyond_the_detectable_one_is_found_in_5_of_100_when_nothing_changed():
    chance = np.random.default_rng(9)
    first, second = 4.0 * chance.standard_normal((2, 100_000))
    assert np.mean(np.abs(first - second) > minimal_detectable_change(4.0)) == pytest.approx(0.05, abs=0.003)


@pytest.mark.parametrize("sem", [-1.0, float("nan"), float("inf")])
def test_error_that_cannot_be_is_refused(sem):
    with pytest.raises(ValueError, match=f"sem must be finite and not negative, got {sem}"):
        minimal_detectable_change(sem)


def test_correlation_above_one_is_refused():
    with pytest.raises(ValueError, match=r"icc must be at most 1, got 1\.2"):
        standard_error_from_icc(WEIR_A, 1.2)


def test_coefficient_about_a_mean_of_zero_is_refused():
    with pytest.raises(ValueError, match=r"each subject must have a mean above 0, got 0\.0"):
        within_subject_cv_pct([(1.0, -1.0), (2.0, 3.0)])


@pytest.mark.parametrize("function", [standard_error, within_subject_cv_pct])
def test_missing_rating_is_refused(function):
    with pytest.raises(ValueError, match="ratings must be complete"):
        function([[1.0, np.nan], [2.0, 3.0]])


def test_confidence_in_per_cent_is_refused():
    with pytest.raises(ValueError, match="confidence must lie between 0 and 1"):
        standard_error(WEIR_A, confidence=95)
