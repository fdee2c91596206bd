"""One examiner against others within strata, against a reference library and by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.contingency_tables import StratifiedTable

from analysis.audit import compare


def compare_share(mine, has, stratum, cluster):
    return compare.compare_share(mine, has, stratum, compare.share_totals(has, stratum, cluster))


def compare_number(mine, values, stratum, session, cluster):
    return compare.compare_number(mine, values, stratum, session, compare.rank_totals(values, stratum, cluster))


def spread_out(tables):
    """Trials of fourfold tables ((mine with, mine without), (others with, others without)), one a stratum."""
    mine, has, stratum = [], [], []
    for number, table in enumerate(tables):
        for whose, row in zip((True, False), table, strict=True):
            for what, count in zip((True, False), row, strict=True):
                mine += [whose] * count
                has += [what] * count
                stratum += [number] * count
    return np.array(mine), np.array(has), np.array(stratum), np.arange(len(mine))


TABLES = st.lists(st.tuples(*[st.tuples(st.integers(20, 60), st.integers(20, 60))] * 2), min_size=1, max_size=4)


@given(TABLES)
def test_p_of_trials_that_are_alone_is_about_that_of_the_mantel_haenszel_test_of_statsmodels(tables):
    table = StratifiedTable([np.array(table, dtype=float) for table in tables])
    plain, corrected = (table.test_null_odds(correction=each).pvalue for each in (False, True))
    ours = compare_share(*spread_out(tables)).p
    assert 0.75 * plain - 0.02 <= ours <= 1.25 * corrected + 0.02  # whole counts lie between


def test_expected_share_is_that_of_others_in_the_same_strata():
    # 30 of mine in a stratum where others have 10 %, 10 where they have 50 %: by hand (30 x 0.1 + 10 x 0.5) / 40
    found = compare_share(*spread_out([((6, 24), (10, 90)), ((5, 5), (50, 50))]))
    assert (found.count, found.trials, found.share) == (11, 40, 0.275)
    assert found.expected == pytest.approx(0.2)


def test_strata_that_nobody_else_tests_say_nothing():
    found = compare_share(*spread_out([((9, 1), (0, 0))]))
    assert np.isnan(found.expected)
    assert np.isnan(found.p)
    assert found.effective == pytest.approx(10.0)
    assert found.interval == pytest.approx((0.5958, 0.9821), abs=1e-3)  # Newcombe's method 3, by scipy


def test_examiner_without_trials_is_refused():
    with pytest.raises(ValueError, match="at least one trial"):
        compare_share(np.array([False]), np.array([True]), np.array([0]), np.array([0]))


def test_sessions_that_are_all_or_nothing_count_as_one_trial_each(chance):
    session = np.repeat(np.arange(400), 10)
    has = np.repeat(chance.random(400) < 0.2, 10)
    stratum, mine = np.zeros(4000, dtype=int), session < 40
    alike, alone = (compare_share(mine, has, stratum, cluster) for cluster in (session, np.arange(4000)))
    assert alike.effective == pytest.approx(40.0, rel=0.15)
    assert alone.effective == pytest.approx(400.0)
    assert alike.p > alone.p
    single = compare_share(mine[::10], has[::10], stratum[::10], np.arange(400))
    assert alike.interval == pytest.approx(single.interval, abs=0.03)


def test_one_bad_session_makes_no_bad_examiner():
    # 54 sessions of 20 trials; in one of them, of an examiner who has six, every trial is rejected
    session = np.repeat(np.arange(54), 20)
    has = session == 0
    found = compare_share(session < 6, has, np.zeros(1080, dtype=int), session)
    assert found.p > 0.1  # that it is one of these six has a chance of 1 in 9
    assert found.interval[1] > 0.3


def test_rank_test_of_one_stratum_is_about_that_of_scipy(chance):
    mine = np.arange(200) < 70
    values = chance.normal(0.0, 1.0, 200) + 0.15 * mine
    found = compare_number(mine, values, np.zeros(200, dtype=int), np.arange(200), np.arange(200))
    theirs = stats.mannwhitneyu(values[mine], values[~mine], use_continuity=False, method="asymptotic").pvalue
    assert theirs > 0.02
    assert found.p == pytest.approx(theirs, rel=0.05)


def test_trials_of_one_session_count_once(chance):
    once = chance.normal(0.0, 1.0, 40)
    mine = np.arange(40) < 15
    stratum, session = np.zeros(40, dtype=int), np.arange(40)
    single = compare_number(mine, once, stratum, session, session)
    many = compare_number(*(np.repeat(each, 6) for each in (mine, once, stratum, session, session)))
    assert many.p == pytest.approx(single.p, rel=0.1)
    assert many.sessions == single.sessions == 15


def test_a_session_is_one_cluster_across_its_actions(chance):
    # each session is slow or quick in all of its eight actions
    session, stratum = np.repeat(np.arange(40), 8), np.tile(np.arange(8), 40)
    values = np.repeat(chance.normal(0.0, 1.0, 40), 8) + 0.01 * chance.normal(size=320)
    mine = session < 10
    found = compare_number(mine, values, stratum, session, session)
    theirs = stats.mannwhitneyu(values[::8][:10], values[::8][10:], method="asymptotic").pvalue
    assert found.p == pytest.approx(theirs, rel=0.5)


def test_strong_actions_are_no_habit(chance):
    # this examiner tests mostly the action whose numbers are higher for everybody
    stratum = np.concatenate([np.repeat([0, 1], [5, 35]), np.repeat([0, 1], [100, 20])])
    mine = np.arange(160) < 40
    values = 2.0 * stratum + chance.normal(0.0, 0.3, 160)
    found = compare_number(mine, values, stratum, np.arange(160), np.arange(160))
    assert found.p > 0.05
    assert found.others == pytest.approx(found.quartiles[1], abs=0.4)


def test_number_that_no_trial_has_is_none():
    assert compare_number(np.array([True]), np.array([np.nan]), np.array([0]), np.array([0]), np.array([0])) is None


def test_where_all_have_it_or_none_there_is_no_test():
    for table, share in ((((5, 0), (7, 0)), 1.0), (((0, 5), (0, 7)), 0.0)):
        found = compare_share(*spread_out([table]))
        assert np.isnan(found.p)
        assert found.expected == share


def test_two_clusters_are_too_few_to_compare():
    found = compare_share(*spread_out([((1, 0), (0, 1))]))
    assert np.isnan(found.p)
    assert found.expected == 0.0


def test_quartiles_and_the_others_median_by_hand():
    # mine: 1, 2, 3, 4, 5 in stratum 0 and 9 in stratum 2, alone; others: 4, 6 in stratum 0; one more without a number
    values = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 9.0, 4.0, 6.0, np.nan])
    mine = np.arange(9) < 6
    stratum = np.array([0, 0, 0, 0, 0, 2, 0, 0, 0])
    found = compare_number(mine, values, stratum, np.array([0, 0, 1, 1, 2, 2, 3, 4, 5]), np.arange(9))
    assert found.quartiles == (2.25, 3.5, 4.75)
    assert found.others == 5.0
    assert found.sessions == 3


def test_others_median_is_weighted_by_the_strata_of_mine():
    values = np.array([0.0, 0.0, 0.0, 0.0, 10.0, 20.0])
    mine = np.array([True, True, True, True, False, False])
    found = compare_number(mine, values, np.array([0, 0, 0, 1, 0, 1]), np.arange(6), np.arange(6))
    assert found.others == pytest.approx((3 * 10.0 + 1 * 20.0) / 4)


def test_without_others_a_number_cannot_be_compared():
    found = compare_number(
        np.array([True, True]), np.array([1.0, 2.0]), np.array([0, 0]), np.array([0, 1]), np.array([0, 1])
    )
    assert np.isnan(found.others)
    assert np.isnan(found.p)
    assert found.quartiles == (1.25, 1.5, 1.75)


def test_values_that_are_all_the_same_have_no_test():
    found = compare_number(
        np.array([True, False]), np.array([1.0, 1.0]), np.array([0, 0]), np.array([0, 1]), np.array([0, 1])
    )
    assert np.isnan(found.p)
