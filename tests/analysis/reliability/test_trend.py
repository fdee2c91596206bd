"""Trends: another library, limits tried out, and scores that do not make one."""

import datetime as dt

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analysis.reliability.change import Misfit
from analysis.reliability.trend import MONTH, NoTrend, Trend, WhyNoTrend, trend
from analysis.results.scores import Score

START = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
FIRST = Score(person="P-01", when=START, action="knee-extension", side="left", value=400.0)
MONTHS = (0.0, 1.5, 2.0, 4.0, 7.0, 7.5)
VALUES = (300.0, 312.0, 309.0, 330.0, 341.0, 352.0)


def scores(values=VALUES, months=MONTHS):
    return [
        msgspec.structs.replace(FIRST, when=START + month * MONTH, value=value)
        for month, value in zip(months, values, strict=True)
    ]


def test_line_and_limits_are_those_of_scipy():
    # scipy.stats, linregress: slope, its standard error, intercept; t with n - 2 degrees of freedom
    expected = stats.linregress(MONTHS, VALUES)
    reach = stats.t.ppf(0.975, 4) * expected.stderr
    found = trend(scores())
    assert isinstance(found, Trend)
    assert found.per_month == pytest.approx(expected.slope, rel=1e-6)
    assert (found.low, found.high) == pytest.approx((expected.slope - reach, expected.slope + reach), rel=1e-6)
    assert found.at_start == pytest.approx(expected.intercept, rel=1e-9)
    assert found.pct_per_month == pytest.approx(100.0 * expected.slope / np.mean(VALUES), rel=1e-6)


def test_theil_sen_worked_by_hand():
    # slopes of the pairs of (0, 300), (1, 310), (2, 305), (4, 340): 10, 2.5, 10, -5, 10, 17.5: median 10
    found = trend(scores((300.0, 310.0, 305.0, 340.0), (0.0, 1.0, 2.0, 4.0)), line="theil-sen")
    assert found.per_month == pytest.approx(10.0)
    assert (found.low, found.high) == (None, None), "no limits from fewer than six"


def test_theil_sen_has_limits_from_six_sessions_on():
    # scipy.stats.theilslopes, a library of its own
    expected = stats.theilslopes(VALUES, MONTHS, alpha=0.95)
    found = trend(scores(), line="theil-sen")
    assert (found.low, found.high) == pytest.approx((expected.low_slope, expected.high_slope), rel=1e-6)
    assert trend(scores()[:5], line="theil-sen").low is None


def test_one_session_that_is_off_moves_theil_sen_less():
    off = (*VALUES[:3], 600.0, *VALUES[4:])
    straight = trend(scores()).per_month
    shift = {line: abs(trend(scores(off), line=line).per_month - straight) for line in ("least squares", "theil-sen")}
    assert shift["theil-sen"] < 0.5 * shift["least squares"]


def test_limits_hold_the_true_slope_as_often_as_they_say():
    chance = np.random.default_rng(3)
    truth = 300.0 + 5.0 * np.array(MONTHS)
    held = []
    for _ in range(600):
        found = trend(scores((truth + 8.0 * chance.standard_normal(6)).tolist()))
        held.append(found.low <= 5.0 <= found.high)
    assert np.mean(held) == pytest.approx(0.95, abs=0.03)


def test_three_sessions_make_a_trend_with_wide_limits():
    found = trend(scores((300.0, 312.0, 315.0), (0.0, 1.0, 2.0)))
    assert found.per_month == pytest.approx(7.5)
    assert found.low < 0.0 < found.high


@given(st.permutations(range(6)), st.floats(-1000.0, 1000.0), st.floats(0.01, 100.0))
def test_order_start_and_unit_do_not_matter(order, days, scale):
    expected = trend(scores())
    moved = [
        msgspec.structs.replace(one, when=one.when + dt.timedelta(days=days), value=scale * one.value)
        for one in (scores()[index] for index in order)
    ]
    found = trend(moved)
    assert found.per_month == pytest.approx(scale * expected.per_month, rel=1e-5)
    assert found.pct_per_month == pytest.approx(expected.pct_per_month, rel=1e-5)
    assert [one.when for one in found.scores] == sorted(one.when for one in moved)


def test_scores_that_stay_the_same_have_no_slope():
    found = trend(scores((300.0,) * 6))
    assert (found.per_month, found.low, found.high) == pytest.approx((0.0, 0.0, 0.0), abs=1e-9)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_fewer_than_three_sessions_make_none(count):
    assert trend(scores()[:count]) == NoTrend(reason=WhyNoTrend.TOO_FEW)


def test_scores_that_cannot_be_compared_make_none():
    mixed = scores()
    mixed[4] = msgspec.structs.replace(mixed[4], method="belt")
    mixed[5] = msgspec.structs.replace(mixed[5], side="right")
    assert trend(mixed) == NoTrend(reason=WhyNoTrend.NOT_COMPARABLE, misfits=(Misfit.OTHER_SIDE, Misfit.OTHER_METHOD))


def test_two_scores_of_the_same_time_are_refused():
    with pytest.raises(ValueError, match="scores must be of different times"):
        trend(scores(VALUES, (*MONTHS[:5], MONTHS[4])))


def test_confidence_in_per_cent_is_refused():
    with pytest.raises(ValueError, match="confidence must lie between 0 and 1"):
        trend(scores(), confidence=95)
