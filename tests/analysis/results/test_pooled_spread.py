"""Spread pooled over sets: intervals of sides by simulation, with errors drawn here, and where it does not hold."""

import msgspec
import numpy as np
import pytest
from made_trials import DAY, EXACT, PROTOCOL, judged, made_trial

from acquire.values.records import Person, SessionContext
from analysis.results.action_result import action_result
from analysis.results.pooled_spread import LEAST_DOF, PooledSpread, pooled_for, pooled_spreads
from analysis.results.settings import ScoreOf, load_result_settings
from analysis.results.sides import Finding, compare_sides
from analysis.results.spread import spread
from analysis.results.summary import summarise

STANDARD = load_result_settings()
OF_MEAN = msgspec.structs.replace(STANDARD, score=msgspec.structs.replace(STANDARD.score, of=ScoreOf.MEAN))


def result(forces, side="left", *, pooled=None, action="knee-extension"):
    """Return a set of flat trials: what differs is what was asked for."""
    trials = judged(*(made_trial(force, side=side, calibration=EXACT, action=action) for force in forces))
    return action_result(trials, person=Person(), day=DAY.date(), rule=PROTOCOL.set, settings=OF_MEAN, pooled=pooled)


BARE = {side: result((200.0, 201.0), side) for side in ("left", "right")}


def drawn(chance, true_n, *, pct, pooled, side, count=2):
    """Return a set whose trials are drawn by a gamma distribution, without making traces."""
    forces = true_n * chance.gamma((100.0 / pct) ** 2, (pct / 100.0) ** 2, count)
    bare = BARE[side]
    values = spread(range(1, count + 1), forces.tolist())
    from analysis.results.force_budget import repeatability  # noqa: PLC0415

    own = repeatability(values, of=ScoreOf.MEAN, unit="N", pooled=pooled if pooled and pooled.fits(values) else None)
    rows = [row for row in bare.mean.force_budget.components if row.source != "repeatability"]
    from analysis.statistics.uncertainty import budget  # noqa: PLC0415

    value = msgspec.structs.replace(bare.mean, force_n=values.mean, force_budget=budget([*rows, own]))
    return msgspec.structs.replace(bare, force=values, mean=value)


def intervals(pct, pooled, *, right_n=200.0, count=400):
    chance, hits, widths, flagged = np.random.default_rng(4), [], [], []
    for _ in range(count):
        left = drawn(chance, 200.0, pct=pct, pooled=pooled, side="left")
        right = drawn(chance, right_n, pct=pct, pooled=pooled, side="right")
        found = compare_sides(left, right, settings=OF_MEAN, affected="left")
        truth = 100.0 * (1.0 - 200.0 / right_n)
        hits.append(abs(found.difference_pct - truth) <= found.uncertainty.expanded)
        widths.append(2.0 * found.uncertainty.expanded)
        flagged.append(found.finding is Finding.BEYOND_BOTH)
    return 100.0 * np.mean(hits), float(np.median(widths)), 100.0 * np.mean(flagged)


POOLED = PooledSpread(cv_pct=6.0, dof=40, sets=30, action=None)


def test_interval_of_sides_with_two_trials_covers_and_is_narrow():
    """Two trials a side, 6 % from trial to trial: t of two degrees of freedom against that of forty."""
    covered, width, flagged = intervals(6.0, POOLED)
    assert covered == pytest.approx(95.0, abs=3.0)
    assert width < 30.0 < intervals(6.0, None)[1]
    assert flagged < 5.0, "equal sides"


def test_side_that_is_weaker_is_found_with_it_and_not_without():
    assert intervals(6.0, POOLED, right_n=280.0)[2] > 80.0
    assert intervals(6.0, None, right_n=280.0)[2] < 60.0


def test_pool_is_that_of_the_analysis_of_variance():
    # scipy-free, by hand: logarithms of 100, 110 and of 200, 220, 242: squares 2 x (ln 1.1 / 2)^2 and 2 x ln(1.1)^2
    step = np.log(1.1)
    sets = [result((100.0, 110.0)), result((200.0, 220.0, 242.0))] * 3
    found = pooled_spreads(sets)["knee-extension", "belt"]
    assert (found.dof, found.sets) == (9, 6)
    assert found.cv_pct == pytest.approx(100.0 * np.sqrt(3 * (step**2 / 2.0 + 2.0 * step**2) / 9.0), rel=1e-3)


def test_too_few_sets_make_none():
    assert pooled_spreads([result((100.0, 110.0))] * (LEAST_DOF - 1)) == {}
    assert set(pooled_spreads([result((100.0, 110.0))] * LEAST_DOF)) == {("knee-extension", "belt"), (None, "belt")}


def test_action_of_its_own_comes_before_all_that_were_held_alike():
    own, all_of_them = PooledSpread(cv_pct=4.0, dof=9, sets=9, action="a"), POOLED
    pool = {("a", "belt"): own, (None, "belt"): all_of_them}
    assert (pooled_for(pool, "a", "belt"), pooled_for(pool, "b", "belt"), pooled_for(pool, "a", "hand")) == (
        own,
        all_of_them,
        None,
    )


def test_set_that_spreads_far_more_speaks_for_itself():
    # 40 % apart where sets differ by 6 %: F = 20 with 1 and 40 degrees of freedom, of which 7.31 is the 99 % (table)
    assert not POOLED.fits(spread([1, 2], [200.0, 300.0]))
    assert POOLED.fits(spread([1, 2], [200.0, 230.0]))
    assert result((200.0, 225.0), pooled=POOLED).pooled is POOLED


def test_one_trial_borrows_the_spread_of_the_others():
    alone, helped = result((200.0,)), result((200.0,), pooled=POOLED)
    assert not alone.mean.force_budget.complete
    assert helped.mean.force_budget.complete
    # 6 % of 200 N, t(40) = 2.02 (its table); the rest is small beside it
    assert helped.mean.force_budget.expanded == pytest.approx(2.02 * 12.0, rel=0.02)


def test_session_pools_its_own_sets_and_those_of_others():
    trials = [
        made_trial(force, side=side, action=action, calibration=EXACT)
        for action in ("knee-extension", "knee-flexion")
        for side in ("left", "right")
        for force in (200.0, 210.0, 204.0)
    ]
    context = SessionContext(session="made", started=DAY)
    found = summarise(context, judged(*trials), protocol=PROTOCOL, settings=STANDARD)
    assert {each.pooled.dof for each in found.actions} == {8}
    more = summarise(context, judged(*trials), protocol=PROTOCOL, settings=STANDARD, others=found.actions * 2)
    assert {(each.pooled.dof, each.pooled.action) for each in more.actions} == {
        (12, "knee-extension"),
        (12, "knee-flexion"),
    }
