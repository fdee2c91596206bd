"""Shares against the papers they are from, their definitions, and each other."""

from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.statistics.proportions import false_discovery_adjusted, funnel_limits, score_interval


# Newcombe 1998, Stat Med 17:857-872, Table I; the first pair without correction was read as printed, the others
# are recomputed and agree with the print from memory
@pytest.mark.parametrize(
    ("count", "n", "limits"),
    [
        (81, 263, (0.2553, 0.3662)),
        (15, 148, (0.0624, 0.1605)),
        (0, 20, (0.0, 0.1611)),
        (1, 29, (0.0061, 0.1718)),
    ],
)
def test_wilson_intervals_of_newcombe(count, n, limits):
    assert score_interval(count / n, n) == pytest.approx(limits, abs=5e-5)


@given(st.floats(0.0, 1.0), st.floats(0.5, 500.0))
def test_interval_ends_where_the_score_test_ends(share, n):
    """Its definition: each limit p is as far from the share as 1.96 standard errors of a share of p (Newcombe 1998)."""
    for limit in score_interval(share, n):
        assert abs(share - limit) == pytest.approx(1.959964 * np.sqrt(limit * (1.0 - limit) / n), abs=1e-6)


counts = st.integers(1, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@given(counts)
def test_interval_lies_within_0_and_1_and_holds_the_share(pair):
    count, n = pair
    low, high = score_interval(count / n, n)
    assert -1e-12 <= low <= count / n <= high <= 1.0 + 1e-12


@given(counts)
def test_interval_of_the_rest_is_the_mirror(pair):
    count, n = pair
    low, high = score_interval(count / n, n)
    assert score_interval((n - count) / n, n) == pytest.approx((1.0 - high, 1.0 - low), abs=1e-12)


@pytest.mark.parametrize(("share", "n"), [(0.5, 0.0), (0.5, -1.0), (-0.1, 5.0), (1.2, 5.0), (0.5, float("nan"))])
def test_interval_of_what_cannot_be_is_refused(share, n):
    with pytest.raises(ValueError, match=f"share must lie within 0 to 1, and n be above 0, got {share} and {n}"):
        score_interval(share, n)


def cumulative(count, n, share):
    """The binomial distribution from its definition."""
    return sum(comb(n, k) * share**k * (1.0 - share) ** (n - k) for k in range(count + 1))


@pytest.mark.parametrize("confidence", [0.95, 0.998])
@pytest.mark.parametrize(("share", "n"), [(0.2, 50), (0.05, 30), (0.5, 12), (0.9, 41), (0.3, 200)])
def test_exact_limits_of_the_funnel_by_definition(share, n, confidence):
    # Spiegelhalter 2005, A.1: between the counts where the cumulative probability passes the tail, interpolated
    tails = (0.5 - confidence / 2, 0.5 + confidence / 2)
    for tail, limit in zip(tails, funnel_limits(share, n, confidence=confidence), strict=True):
        count = next(k for k in range(n + 1) if cumulative(k, n, share) >= tail)
        before = cumulative(count - 1, n, share) if count else 0.0
        beyond = (cumulative(count, n, share) - tail) / (cumulative(count, n, share) - before)
        assert limit == pytest.approx(max(0.0, (count - beyond) / n), abs=1e-9)


@given(counts, st.floats(0.02, 0.98))
def test_score_limits_leave_out_whom_wilson_leaves_out(pair, share):
    count, n = pair
    low, high = funnel_limits(share, n, limits_by="score")
    inside_funnel = low <= count / n <= high
    wilson_low, wilson_high = score_interval(count / n, n)
    near = min(abs(share - wilson_low), abs(share - wilson_high)) < 1e-9
    assert near or inside_funnel is (wilson_low <= share <= wilson_high)


@pytest.mark.parametrize("limits_by", ["exact", "score"])
@given(share=st.floats(0.05, 0.95), n=st.integers(20, 2000))
def test_funnel_holds_the_share_and_narrows(limits_by, share, n):
    low, high = funnel_limits(share, n, limits_by=limits_by, confidence=0.998)
    assert 0.0 <= low <= share <= high <= 1.0
    low_of_more, high_of_more = funnel_limits(share, 100 * n, limits_by=limits_by, confidence=0.998)
    assert high_of_more - low_of_more < 0.5 * (high - low)


@pytest.mark.parametrize("limits_by", ["exact", "score"])
@pytest.mark.parametrize("share", [0.0, 1.0])
def test_share_of_none_or_all_leaves_no_room(limits_by, share):
    assert funnel_limits(share, 7, limits_by=limits_by) == (share, share)


@given(share=st.floats(0.0, 1.0), n=st.integers(1, 50))
def test_limits_of_the_smallest_units_stay_within_0_and_1(share, n):
    low, high = funnel_limits(share, n)
    assert 0.0 <= low <= high <= 1.0


def test_both_funnels_agree_for_large_units():
    assert funnel_limits(0.3, 20_000) == pytest.approx(funnel_limits(0.3, 20_000, limits_by="score"), abs=1e-4)


def test_units_without_a_cause_are_left_out_as_often_as_said():
    chance = np.random.default_rng(5)
    low, high = funnel_limits(0.25, 80)
    shares = chance.binomial(80, 0.25, 40_000) / 80.0
    assert np.mean((shares < low) | (shares > high)) == pytest.approx(0.05, abs=0.025)


@pytest.mark.parametrize(("share", "n"), [(-0.1, 5), (1.1, 5), (0.5, 0)])
def test_share_that_cannot_be_is_refused(share, n):
    with pytest.raises(ValueError, match=f"share must lie within 0 to 1, and n be at least 1, got {share} and {n}"):
        funnel_limits(share, n)


@pytest.mark.parametrize("function", [score_interval, funnel_limits])
def test_confidence_in_per_cent_is_refused(function):
    with pytest.raises(ValueError, match="confidence must lie between 0 and 1"):
        function(1, 5, confidence=95)


# Benjamini and Hochberg 1995, J R Stat Soc B 57:289-300, the example of thrombolysis (from memory, and in the
# documentation of scipy.stats.false_discovery_control): at a rate of 0.05 the first four are found, by Bonferroni three
THROMBOLYSIS = (
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0,
)  # fmt: skip


def test_discoveries_of_benjamini_and_hochberg():
    adjusted = false_discovery_adjusted(THROMBOLYSIS)
    assert (adjusted <= 0.05).tolist() == [True] * 4 + [False] * 11
    assert adjusted[3] == pytest.approx(0.0095 * 15 / 4)


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=30), st.randoms())
def test_adjusted_values_follow_those_given(p_values, random):
    adjusted = false_discovery_adjusted(p_values)
    assert (adjusted >= np.array(p_values) - 1e-15).all()
    assert adjusted.max() <= 1.0
    order = list(range(len(p_values)))
    random.shuffle(order)
    assert false_discovery_adjusted([p_values[index] for index in order]) == pytest.approx(adjusted[order])


def test_step_up_rule_finds_the_same():
    # the procedure as the paper words it: the largest i with p(i) <= i q / m, and all before it
    p_values = np.sort(np.random.default_rng(6).beta(0.4, 1.5, 40))
    for rate in (0.01, 0.05, 0.2):
        below = np.flatnonzero(p_values <= rate * np.arange(1, 41) / 40.0)
        found = below[-1] + 1 if len(below) else 0
        assert (false_discovery_adjusted(p_values) <= rate).sum() == found


def test_no_tests_have_no_discoveries():
    assert false_discovery_adjusted([]).tolist() == []


@pytest.mark.parametrize("p_values", [[0.1, np.nan], [1.2], [-0.1], [[0.1]]])
def test_p_values_that_cannot_be_are_refused(p_values):
    with pytest.raises(ValueError, match="p_values must be 1-D, complete and within 0 to 1"):
        false_discovery_adjusted(p_values)
