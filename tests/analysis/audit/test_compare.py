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
