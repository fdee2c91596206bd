"""What an examiner should work on: order of the habits, their latest trials, and the usual shape of the curves."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from analysis.audit.coaching import latest_trials, usual_curve, worst_habits
from analysis.audit.examiners import audit_examiners

DAY = 86_400.0


def judged(force, *, onset_s=1.0, plateau_n=100.0, rate=100.0):
    """What the curve needs of a judgement: force over time, an onset and a plateau."""
    time = np.arange(len(force)) / rate
    return SimpleNamespace(
        effort=SimpleNamespace(time=time, smooth=np.asarray(force, dtype=float)),
        measures=SimpleNamespace(onset_s=onset_s, plateau_force_n=plateau_n),
    )


@pytest.fixture
def table(table_of):
    mine = [
        {"file": f"{day}.h5", "started_s": day * DAY, "faults": faults}
        for day, faults in enumerate([("jerk",), ("jerk", "shake"), (), ("jerk", "fading"), ("overshoot",)])
    ]
    others = [{"examiner": "EX-2", "file": "o.h5", "faults": ("jerk",) if n == 0 else ()} for n in range(4)]
    return table_of(*mine, *others)


def audit_of(table):
    return next(each for each in audit_examiners(table, rest_least_s=60.0) if each.code == "EX-1")


def test_three_habits_farthest_above_the_others_are_worst(table):
    habits = worst_habits(audit_of(table), table)
    assert [habit.code for habit in habits] == ["jerk", "fading", "overshoot"]
    first = habits[0]
    assert (first.share, first.expected, first.finding) == (0.6, 0.25, False)


def test_finding_comes_before_what_is_merely_frequent(table):
    audit = audit_of(table)
    found = {**audit.shares, "shake": replace(audit.shares["shake"], finding=True)}
    assert [habit.code for habit in worst_habits(replace(audit, shares=found), table)][:2] == ["shake", "jerk"]


def test_without_others_the_most_frequent_is_the_worst(table_of):
    table = table_of({"faults": ("fading",)}, {"faults": ("jerk",)}, {"faults": ("jerk",)})
    habits = worst_habits(audit_of(table), table)
    assert [(habit.code, habit.share) for habit in habits] == [("jerk", 2 / 3), ("fading", 1 / 3)]
    assert math.isnan(habits[0].expected)


def test_examples_are_the_two_latest_of_this_examiner(table):
    jerk = worst_habits(audit_of(table), table)[0]
    assert jerk.examples == (("3.h5", 4), ("1.h5", 2))


def test_latest_trials_come_first_and_no_more_than_asked_for(table):
    assert latest_trials("EX-1", table, most=3) == (("4.h5", 5), ("3.h5", 4), ("2.h5", 3))
    assert len(latest_trials("EX-1", table)) == 5
    assert latest_trials("nobody", table) == ()


def test_sixty_curves_are_enough(table_of):
    table = table_of(*({"started_s": float(n)} for n in range(61)))
    assert latest_trials("EX-1", table) == tuple(("a.h5", number) for number in range(61, 1, -1))


def test_curve_begins_at_its_onset_as_a_share_of_its_plateau():
    ramp = np.clip((np.arange(1000) - 100) * 1.0, 0.0, 200.0)  # from 1 s on, 100 N/s, to 200 N
    usual = usual_curve([judged(ramp, onset_s=1.0, plateau_n=200.0)])
    at = {round(float(t), 2): value for t, value in zip(usual.time, usual.median, strict=True)}
    assert (usual.time[0], usual.curves) == (-0.5, 1)
    assert (at[-0.5], at[0.0]) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert at[0.5] == pytest.approx(0.25)
    assert at[1.0] == pytest.approx(0.5)
    assert at[2.5] == pytest.approx(1.0)


def test_quartiles_are_those_of_the_curves():
    # of 0, 1, 2, 3 and 4 the quartiles are 1, 2 and 3
    usual = usual_curve(judged(np.full(1200, 100.0 * height)) for height in range(5))
    held = usual.time == usual.time[100]
    assert (usual.low[held], usual.median[held], usual.high[held]) == (1.0, 2.0, 3.0)
    assert usual.curves == 5


def test_after_the_end_of_a_trace_the_force_is_nought():
    usual = usual_curve([judged(np.full(301, 100.0))])  # ends at 3 s, 2 s after the onset
    assert usual.median[usual.time < 1.99].tolist() == [1.0] * int((usual.time < 1.99).sum())
    assert not usual.median[usual.time > 2.01].any()


@pytest.mark.parametrize("lacks", [{"onset_s": None}, {"plateau_n": None}])
def test_trial_without_onset_or_plateau_has_no_curve(lacks):
    assert usual_curve([judged(np.ones(500), **lacks)]) is None
    assert usual_curve([judged(np.ones(500), **lacks), judged(np.ones(500))]).curves == 1


def test_trial_without_effort_has_no_curve():
    nothing = SimpleNamespace(effort=None, measures=SimpleNamespace(onset_s=1.0, plateau_force_n=1.0))
    assert usual_curve([nothing]) is None
