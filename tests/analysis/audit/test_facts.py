"""What an audit keeps of a session, and the table of it."""

from pathlib import Path

import numpy as np
import pytest

from acquire.simulation.archives import BEGAN, ArchivePlan, Examiner, invented_sessions
from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.values.records import SetAside
from analysis.audit.facts import facts_of
from analysis.audit.table import fact_table
from analysis.trial.protocol import load_protocol
from analysis.trial.steadiness import band_rms
from analysis.trial.technique import NAMES, technique_of
from analysis.trial.verdict import judge

PROTOCOL = load_protocol()
PLAN = ArchivePlan(examiners=(Examiner(code="EX-1"),), sessions_each=1, trials_each=4, rate_hz=200.0)


@pytest.fixture(scope="module")
def session():
    (_, made), *_ = invented_sessions(Path(), PLAN, seed=4)
    return made


def test_facts_are_those_of_the_judgement(session):
    facts = facts_of("a.h5", session, PROTOCOL)
    assert facts.file == "a.h5"
    for number, (kept, trial) in enumerate(zip(facts.trials, session.trials, strict=True), start=1):
        judged = judge(trial.trace(), PROTOCOL, trial.context)
        assert (kept.number, kept.examiner, kept.person) == (number, "EX-1", session.context.person.code)
        assert kept.plateau_n == judged.measures.plateau_force_n
        assert kept.accepted == (judged.verdict == "accepted")
        assert kept.technique == technique_of(judged)
        assert kept.started_s == trial.context.started.timestamp()


def test_rest_is_from_release_to_the_next_onset_of_the_same_side(session):
    facts = facts_of("a.h5", session, PROTOCOL).trials
    assert [kept.rest_s is None for kept in facts] == [True, True, False, False]
    first, third = (judge(session.trials[at].trace(), PROTOCOL).measures for at in (0, 2))
    between = (session.trials[2].context.started - session.trials[0].context.started).total_seconds()
    assert facts[2].rest_s == pytest.approx(between + third.onset_s - first.release_s)


def test_trials_set_aside_are_not_in_the_table(session):
    left_out = SetAside(aside=True, reason="slipped", by="EX-1", at=BEGAN)
    facts = facts_of("a.h5", session.with_decision(1, left_out), PROTOCOL)
    table = fact_table([("a.h5", facts.trials)])
    assert table.number.tolist() == [1, 3, 4]


@pytest.mark.parametrize(
    ("fault", "name", "more"),
    [
        ("fast-ramp", "ramp_time_s", False),
        ("slow-ramp", "ramp_time_s", True),
        ("jerk", "jerk_pct_per_s", True),
        ("preload", "preload_pct", True),
        ("short-hold", "hold_time_s", False),
        ("unsteady-hold", "hold_spread_pct", True),
        ("still-rising", "hold_trend_pct_per_s", True),
        ("fading", "hold_trend_pct_per_s", False),
        ("shake", "shake_pct", True),
    ],
)
def test_technique_shows_what_each_fault_is_about(fault, name, more):
    good, bad = (
        getattr(technique_of(judge(simulate(effort, seed=1).trace, PROTOCOL)), name) for effort in (GOOD, FAULTY[fault])
    )
    assert (bad > 1.5 * good) if more else (bad < 0.7 * good)


def test_technique_of_nothing_is_nothing():
    empty = technique_of(judge(simulate(FAULTY["no-effort"], seed=1).trace, PROTOCOL))
    assert {getattr(empty, name) for name in NAMES} == {None}


def test_measured_value_of_a_fault_is_the_technique():
    judged = judge(simulate(FAULTY["jerk"], seed=1).trace, PROTOCOL)
    (jerk,) = [fault for fault in judged.faults if fault.code == "jerk"]
    assert technique_of(judged).jerk_pct_per_s == jerk.measured


def test_columns_of_words_find_their_rows(table_of):
    table = table_of({"examiner": "A"}, {"examiner": "B"}, {"examiner": "A", "faults": ("jerk",)})
    assert table.examiner.where("A").tolist() == [True, False, True]
    assert table.examiner.where("nobody").tolist() == [False, False, False]
    assert table.faults["jerk"].tolist() == [False, False, True]
    assert table.rejected.tolist() == [False, False, True]
    assert len(table) == 3
    assert (table.action.words, table.method.words) == (("hip-flexion",), ("hand",))
    assert np.isnan(table.rest_s).all()


def test_technique_takes_what_the_rules_computed(monkeypatch):
    computed = []

    def counted(*args, **kwargs):
        computed.append(args)
        return band_rms(*args, **kwargs)

    monkeypatch.setattr("analysis.trial.rules.hold.band_rms", counted)
    judged = judge(simulate(FAULTY["shake"], seed=1).trace, PROTOCOL)
    assert len(computed) == 1
    assert [technique_of(judged).shake_pct for _ in range(2)] == [judged.faults[0].measured] * 2
    assert len(computed) == 1


def test_what_one_trial_came_to_is_not_taken_for_another():
    still, shaking = (judge(simulate(effort, seed=1).trace, PROTOCOL) for effort in (GOOD, FAULTY["shake"]))
    assert technique_of(still).shake_pct < 2.0 < technique_of(shaking).shake_pct
