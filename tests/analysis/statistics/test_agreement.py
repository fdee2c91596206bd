"""Limits of agreement: the two papers everyone knows, and intervals tried out."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analysis.statistics.agreement import limits_of_agreement

# Bland and Altman 1986, Lancet i:307-310: peak flow by two meters, first readings of 17 persons, l/min
WRIGHT = (494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427)
MINI = (512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451)
# Giavarina 2015, Biochem Med 25:141-151: two invented methods, 30 samples
METHOD_A = (
    1, 5, 10, 20, 50, 40, 50, 60, 70, 80, 90, 100, 150, 200, 250,
    300, 350, 400, 450, 500, 550, 600, 650, 700, 750, 800, 850, 900, 950, 1000,
)  # fmt: skip
METHOD_B = (
    8, 16, 30, 24, 39, 54, 40, 68, 72, 62, 122, 80, 181, 259, 275,
    380, 320, 434, 479, 587, 626, 648, 738, 766, 793, 851, 871, 957, 1001, 960,
)  # fmt: skip


def test_bland_and_altman():
    # printed, from memory: bias -2.1, SD 38.8, limits -79.7 and 75.5 (2 SD, rounded first), interval of the bias
    # -22.0 to 17.8, of the limits -114.3 to -45.1 and 40.9 to 110.1; the digits are recomputed from the data
    found = limits_of_agreement(WRIGHT, MINI, sds=2.0, limits_by="1986")
    assert found.n == 17
    assert found.bias == pytest.approx(-2.117647, abs=5e-7)
    assert found.sd == pytest.approx(38.765130, abs=5e-7)
    assert (found.low, found.high) == pytest.approx((-79.6479, 75.4126), abs=5e-5)
    assert found.bias_interval == pytest.approx((-22.0488, 17.8135), abs=5e-5)
    assert found.low_interval == pytest.approx((-114.1697, -45.1261), abs=5e-5)
    assert found.high_interval == pytest.approx((40.8908, 109.9344), abs=5e-5)


def test_bland_and_altman_at_1_96():
    found = limits_of_agreement(WRIGHT, MINI)
    assert (found.low, found.high) == pytest.approx((-78.0973, 73.8620), abs=5e-5)


def test_giavarina():
    # printed, from memory: -27.17, 34.81, -95.4, 41.1
    found = limits_of_agreement(METHOD_A, METHOD_B)
    assert (found.n, found.bias) == (30, pytest.approx(-27.1667, abs=5e-5))
    assert found.sd == pytest.approx(34.8059, abs=5e-5)
    assert (found.low, found.high) == pytest.approx((-95.3863, 41.0530), abs=5e-5)
    assert found.bias_interval == pytest.approx((-40.1634, -14.1699), abs=5e-5)


def test_interval_of_the_bias_is_that_of_a_paired_t_test():
    # scipy.stats, ttest_rel
    expected = stats.ttest_rel(WRIGHT, MINI).confidence_interval(0.9)
    found = limits_of_agreement(WRIGHT, MINI, confidence=0.9)
    assert found.bias_interval == pytest.approx((expected.low, expected.high))


def test_exact_interval_reaches_further_out_than_in():
    found = limits_of_agreement(WRIGHT, MINI)
    low, high = found.high_interval
    assert low < found.high < high
    assert high - found.high > 1.3 * (found.high - low)
    mirrored = limits_of_agreement(MINI, WRIGHT)
    assert mirrored.low_interval == pytest.approx((-high, -low))


def test_both_intervals_agree_for_many_pairs():
    first, second = np.random.default_rng(1).standard_normal((2, 2000))
    exact = limits_of_agreement(first, second)
    simple = limits_of_agreement(first, second, limits_by="1986")
    assert exact.high_interval == pytest.approx(simple.high_interval, abs=0.01)


def test_exact_interval_holds_the_true_limit_as_often_as_it_says():
    # differences of 8 pairs from a normal distribution with mean 0 and deviation 1: the true limit is 1.96
    differences = np.random.default_rng(2).standard_normal((1500, 8))
    held, simple = [], []
    for row in differences:
        for limits_by, results in (("exact", held), ("1986", simple)):
            low, high = limits_of_agreement(row, np.zeros(8), limits_by=limits_by).high_interval
            results.append(low <= 1.96 <= high)
    assert np.mean(held) == pytest.approx(0.95, abs=0.02)
    assert np.mean(simple) < 0.94


@given(st.floats(-100.0, 100.0), st.floats(0.1, 10.0))
def test_shift_moves_and_scale_stretches(shift, scale):
    found = limits_of_agreement(WRIGHT, MINI)
    other = limits_of_agreement(scale * (np.array(WRIGHT) + shift), scale * np.array(MINI))
    assert (other.low, other.bias, other.high) == pytest.approx(
        [scale * (value + shift) for value in (found.low, found.bias, found.high)], abs=1e-6
    )


def test_pairs_that_all_agree_have_no_width():
    found = limits_of_agreement([1.0, 2.0, 3.0], [1.0, 2.0, 3.0])
    assert (found.bias, found.low, found.high, found.low_interval) == (0.0, 0.0, 0.0, (0.0, 0.0))


@pytest.mark.parametrize(
    ("first", "second", "options", "message"),
    [
        ([1.0, 2.0, 3.0], [1.0, 2.0], {}, r"pairs, got the shapes \(3,\) and \(2,\)"),
        ([1.0], [2.0], {}, "at least 2 subjects by 2 ratings"),
        ([1.0, np.nan], [1.0, 2.0], {}, "got nan for subject 2, rating 1"),
        ([1.0, 2.0], [1.0, 3.0], {"sds": 0.0}, r"sds must be positive, got 0\.0"),
        ([1.0, 2.0], [1.0, 3.0], {"confidence": 95}, "confidence must lie between 0 and 1"),
    ],
)
def test_pairs_that_cannot_be_are_refused(first, second, options, message):
    with pytest.raises(ValueError, match=message):
        limits_of_agreement(first, second, **options)


@pytest.mark.parametrize("n", [3, 5, 12, 60])
def test_exact_interval_is_that_of_the_noncentral_t_distribution(n):
    # Carkeet 2015: a limit lies between the quantiles of t with n - 1 degrees, noncentrality 1.96 root n, over root n
    first, second = np.arange(n) + np.tile([0.0, 1.0], n)[:n] ** 2, np.arange(n) * 1.03
    found = limits_of_agreement(first, second)
    sd, root = (first - second).std(ddof=1), np.sqrt(n)
    inner, outer = stats.nct.ppf([0.025, 0.975], n - 1, 1.96 * root) * sd / root
    assert found.high_interval == pytest.approx((found.bias + inner, found.bias + outer), rel=1e-6)
    assert found.low_interval == pytest.approx((found.bias - outer, found.bias - inner), rel=1e-6)
    assert limits_of_agreement(first, second, confidence=0.95) == found
