"""One examiner against others within strata, against a reference library and by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.contingency_tables import StratifiedTable

from analysis.audit.compare import compare_number, compare_share, over_dispersion


def spread_out(tables):
    """Trials of fourfold tables ((mine with, mine without), (others with, others without)), one a stratum."""
    mine, has, stratum = [], [], []
    for number, table in enumerate(tables):
        for whose, row in zip((True, False), table, strict=True):
            for what, count in zip((True, False), row, strict=True):
                mine += [whose] * count
                has += [what] * count
                stratum += [number] * count
    return np.array(mine), np.array(has), np.array(stratum)


TABLES = st.lists(st.tuples(*[st.tuples(st.integers(1, 30), st.integers(1, 30))] * 2), min_size=1, max_size=4)


@given(TABLES)
def test_p_is_that_of_the_mantel_haenszel_test_of_statsmodels(tables):

    counts = [np.array(table, dtype=float) for table in tables]
    theirs = StratifiedTable(counts).test_null_odds(correction=True)
    ours = compare_share(*spread_out(tables)).p
    off = sum(each[0, 0] - each[0].sum() * each[:, 0].sum() / each.sum() for each in counts)
    if abs(off) >= 0.5:
        assert ours == pytest.approx(theirs.pvalue, rel=1e-6, abs=1e-12)
    else:
        assert ours == 1.0  # their correction overshoots there


def test_expected_share_is_that_of_others_in_the_same_strata():
    # 30 of mine in a stratum where others have 10 %, 10 where they have 50 %: by hand (30 x 0.1 + 10 x 0.5) / 40
    found = compare_share(*spread_out([((6, 24), (10, 90)), ((5, 5), (50, 50))]))
    assert (found.count, found.trials, found.share) == (11, 40, 0.275)
    assert found.expected == pytest.approx(0.2)
    assert found.standardised == pytest.approx((71 / 240) * 0.275 / 0.2)


def test_strata_that_nobody_else_tests_say_nothing():
    found = compare_share(*spread_out([((9, 1), (0, 0))]))
    assert np.isnan(found.expected)
    assert np.isnan(found.p)
    assert found.interval == pytest.approx((0.5958, 0.9821), abs=1e-3)  # Newcombe's method 3, by scipy


def test_examiner_without_trials_is_refused():
    with pytest.raises(ValueError, match="at least one trial"):
        compare_share(np.array([False]), np.array([True]), np.array([0]))


def test_over_dispersion_is_one_where_chance_alone_rules(chance):
    session = np.repeat(np.arange(400), 10)
    has = chance.random(4000) < 0.2
    assert over_dispersion(has, np.zeros(4000, dtype=int), session) == pytest.approx(1.0, abs=0.12)


def test_sessions_that_are_all_or_nothing_widen_the_test(chance):
    session = np.repeat(np.arange(400), 10)
    has = np.repeat(chance.random(400) < 0.2, 10)
    spread = over_dispersion(has, np.zeros(4000, dtype=int), session)
    assert spread == pytest.approx(10.0, rel=0.1)
    mine = session < 40
    plain = compare_share(mine, has, np.zeros(4000, dtype=int)).p
    assert compare_share(mine, has, np.zeros(4000, dtype=int), spread=spread).p > plain


def test_false_alarms_of_clustered_shares_are_as_many_as_said(chance):
    alarms = 0
    for _ in range(300):
        session = np.repeat(np.arange(120), 8)
        odds = chance.beta(2.0, 8.0, 120)
        has = chance.random(960) < np.repeat(odds, 8)
        spread = over_dispersion(has, np.zeros(960, dtype=int), session)
        alarms += compare_share(session < 20, has, np.zeros(960, dtype=int), spread=spread).p < 0.05
    assert 2 <= alarms <= 28  # 15 expected of 300


def test_rank_test_of_one_stratum_is_that_of_scipy(chance):
    mine = np.arange(60) < 20
    values = chance.normal(0.0, 1.0, 60) + 0.5 * mine
    found = compare_number(mine, values, np.zeros(60, dtype=int), np.arange(60))
    theirs = stats.mannwhitneyu(values[mine], values[~mine], use_continuity=False, method="asymptotic").pvalue
    assert found.p == pytest.approx(theirs, rel=1e-9)


def test_trials_of_one_session_count_once(chance):
    once = chance.normal(0.0, 1.0, 40)
    mine = np.arange(40) < 15
    stratum, session = np.zeros(40, dtype=int), np.arange(40)
    single = compare_number(mine, once, stratum, session)
    many = compare_number(np.repeat(mine, 6), np.repeat(once, 6), np.repeat(stratum, 6), np.repeat(session, 6))
    assert many.p == pytest.approx(single.p)
    assert many.sessions == single.sessions == 15


def test_strong_actions_are_no_habit(chance):
    # this examiner tests mostly the action whose numbers are higher for everybody
    stratum = np.concatenate([np.repeat([0, 1], [5, 35]), np.repeat([0, 1], [100, 20])])
    mine = np.arange(160) < 40
    values = 2.0 * stratum + chance.normal(0.0, 0.3, 160)
    found = compare_number(mine, values, stratum, np.arange(160))
    assert found.p > 0.05
    assert found.others == pytest.approx(found.quartiles[1], abs=0.4)


def test_number_that_no_trial_has_is_none():
    assert compare_number(np.array([True]), np.array([np.nan]), np.array([0]), np.array([0])) is None


def test_p_of_one_table_is_that_of_the_continuity_corrected_test_by_hand():
    # 8 of 10 against 3 of 10: a - E = 8 - 5.5 = 2.5; variance 10 x 10 x 11 x 9 / (400 x 19); a half off for continuity
    found = compare_share(*spread_out([((8, 2), (3, 7))]))
    z = 2.0 / np.sqrt(10 * 10 * 11 * 9 / (400 * 19))
    assert found.p == pytest.approx(2.0 * stats.norm.sf(z))
    wider = compare_share(*spread_out([((8, 2), (3, 7))]), spread=4.0)
    assert wider.p == pytest.approx(2.0 * stats.norm.sf(z / 2.0))


def test_where_all_have_it_or_none_there_is_no_test():
    for table, share in ((((5, 0), (7, 0)), 1.0), (((0, 5), (0, 7)), 0.0)):
        found = compare_share(*spread_out([table]))
        assert np.isnan(found.p)
        assert found.expected == share
    assert np.isnan(compare_share(*spread_out([((0, 5), (0, 7))])).standardised)


def test_one_trial_of_each_can_be_compared():
    found = compare_share(*spread_out([((1, 0), (0, 1))]))
    assert found.p == 1.0  # half a trial off, which the correction takes away
    assert found.expected == 0.0


def test_over_dispersion_is_the_chi_square_of_sessions_over_its_freedom_by_hand():
    # group 0: sessions of 4 with 0, 2 and 4: share 1/2, chi 4 + 0 + 4 (each variance 1), freedom 2
    has = np.array([0, 0, 0, 0, 1, 1, 0, 0, 1, 1, 1, 1], dtype=bool)
    session = np.repeat([0, 1, 2], 4)
    assert over_dispersion(has, np.zeros(12, dtype=int), session) == pytest.approx(4.0)
    # a second group of two sessions of 4 with 1 and 3: chi 1 + 1, freedom 1; together 10 / 3
    more = np.concatenate([has, [1, 0, 0, 0, 1, 1, 1, 0]]).astype(bool)
    group = np.repeat([0, 1], [12, 8])
    assert over_dispersion(more, group, np.concatenate([session, np.repeat([3, 4], 4)])) == pytest.approx(10.0 / 3.0)
    # numbers of sessions that two groups share are sessions of each
    assert over_dispersion(more, group, np.concatenate([session, np.repeat([0, 1], 4)])) == pytest.approx(10.0 / 3.0)


def test_over_dispersion_needs_two_sessions_and_is_never_below_one():
    assert over_dispersion(np.array([True, False]), np.zeros(2, dtype=int), np.zeros(2, dtype=int)) == 1.0
    assert over_dispersion(np.ones(4, dtype=bool), np.zeros(4, dtype=int), np.arange(4)) == 1.0
    even = np.tile([True, False], 6)
    assert over_dispersion(even, np.zeros(12, dtype=int), np.repeat(np.arange(3), 4)) == 1.0


def test_quartiles_and_the_others_median_by_hand():
    # mine: 1, 2, 3, 4, 5 in stratum 0 and 9 in stratum 2, alone; others: 4, 6 in stratum 0; one more without a number
    values = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 9.0, 4.0, 6.0, np.nan])
    mine = np.arange(9) < 6
    stratum = np.array([0, 0, 0, 0, 0, 2, 0, 0, 0])
    found = compare_number(mine, values, stratum, np.array([0, 0, 1, 1, 2, 2, 3, 4, 5]))
    assert found.quartiles == (2.25, 3.5, 4.75)
    assert found.others == 5.0
    assert found.sessions == 3


def test_others_median_is_weighted_by_the_strata_of_mine():
    values = np.array([0.0, 0.0, 0.0, 0.0, 10.0, 20.0])
    mine = np.array([True, True, True, True, False, False])
    found = compare_number(mine, values, np.array([0, 0, 0, 1, 0, 1]), np.arange(6))
    assert found.others == pytest.approx((3 * 10.0 + 1 * 20.0) / 4)


def test_without_others_a_number_cannot_be_compared():
    found = compare_number(np.array([True, True]), np.array([1.0, 2.0]), np.array([0, 0]), np.array([0, 1]))
    assert np.isnan(found.others)
    assert np.isnan(found.p)
    assert found.quartiles == (1.25, 1.5, 1.75)


def test_values_that_are_all_the_same_have_no_test():
    found = compare_number(np.array([True, False]), np.array([1.0, 1.0]), np.array([0, 0]), np.array([0, 1]))
    assert np.isnan(found.p)


def test_rank_test_of_two_strata_by_hand():
    # stratum 0: mine 3, 4 of 1..4: ranks 7, expected 2 x 5 / 2 = 5, variance 2 x 2 x 5 / 12, weight 1 / 5
    # stratum 1: mine 10 of 10, 11: ranks 1, expected 1.5, variance 1 / 4, weight 1 / 3
    values = np.array([3.0, 4.0, 1.0, 2.0, 10.0, 11.0])
    mine = np.array([True, True, False, False, True, False])
    found = compare_number(mine, values, np.array([0, 0, 0, 0, 1, 1]), np.arange(6))
    z = (2.0 / 5.0 - 0.5 / 3.0) / np.sqrt((5.0 / 3.0) / 25.0 + 0.25 / 9.0)
    assert found.p == pytest.approx(2.0 * stats.norm.sf(z))


def test_mean_of_a_session_is_of_its_stratum():
    values = np.array([1.0, 5.0, 2.0, 9.0])
    mine = np.array([True, True, False, False])
    joined = compare_number(mine, values, np.zeros(4, dtype=int), np.array([0, 0, 1, 2]))  # mine 3 against 2 and 9
    apart = compare_number(
        np.array([True, False, False]), np.array([3.0, 2.0, 9.0]), np.zeros(3, dtype=int), np.array([0, 1, 2])
    )
    assert joined.p == apart.p
