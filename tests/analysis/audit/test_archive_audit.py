"""A whole audit of invented archives finds the habits that were put in, and little else."""

from dataclasses import asdict
from pathlib import Path

import numpy as np
import pytest

from acquire.simulation.archives import ArchivePlan, Examiner, invented_sessions
from analysis.audit.archive import Measured
from analysis.audit.archive_audit import audit_of
from analysis.audit.coaching import latest_trials, usual_curve, worst_habits
from analysis.audit.examiners import REJECTED, audit_examiners
from analysis.audit.facts import facts_of
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge

PROTOCOL = load_protocol()
HABITS = (
    Examiner(code="HASTY", habits={"fast-ramp": 0.3}),
    Examiner(code="SLOW", ramp_s=2.0),
    Examiner(code="COACHED", habits={"short-hold": 0.35}, changes_after_days=90.0),
    Examiner(code="WEAK", limit_n=190.0),
    *(Examiner(code=f"LIKE-{number}") for number in range(4)),
    Examiner(code="NEW"),
)
PLAN = ArchivePlan(examiners=HABITS, sessions_each=24, trials_each=6, rate_hz=100.0, persons=60)


def measured(plan, seed):
    for path, session in invented_sessions(Path(), plan, seed=seed):
        if not path.match("NEW/*") or int(path.stem) < 3:
            yield Measured(file=str(path), fingerprint="", facts=facts_of(str(path), session, PROTOCOL))


@pytest.fixture(scope="module")
def audit():
    return audit_of([*measured(PLAN, 1), Measured(file="bad.h5", fingerprint="", error="damaged")], PROTOCOL)


@pytest.fixture
def of(audit):
    return {examiner.code: examiner for examiner in audit.examiners}


def test_habits_that_were_put_in_are_found(of):
    assert of["HASTY"].shares["fast-ramp"].finding
    assert of["COACHED"].shares["short-hold"].finding
    assert of["SLOW"].numbers["ramp_time_s"].finding
    assert abs(of["WEAK"].ceiling.force_n - 190.0) < 10.0


def test_examiners_like_all_others_have_no_findings(of):
    for number in range(4):
        examiner = of[f"LIKE-{number}"]
        assert not [code for code, share in examiner.shares.items() if share.finding]
        assert not [name for name, value in examiner.numbers.items() if value.finding]
        assert examiner.ceiling is None


def test_habit_that_was_coached_away_comes_back_within_the_limits(of):
    changes = [signal.change for signal in of["COACHED"].courses[REJECTED].signals if signal.chart == "ewma"]
    assert changes[0] == "above"
    assert "back" in changes


def test_three_sessions_are_too_few_to_tell(of):
    assert not of["NEW"].enough
    assert not any(share.finding for share in of["NEW"].shares.values())


def test_unreadable_file_is_told_and_passed_over(audit):
    assert audit.unreadable == (("bad.h5", "damaged"),)
    assert audit.files == 8 * 24 + 3


def test_blind_audit_holds_no_code_and_the_same_numbers(audit):
    blind = audit_of(measured(PLAN, 1), PROTOCOL, blind=True)
    codes = {examiner.code for examiner in blind.examiners}
    assert codes == {f"examiner {number}" for number in range(1, 10)}
    assert not {person for person in blind.table.person.words if person.startswith("P-")}
    assert not {file for file in blind.table.file.words if ".h5" in file}
    plain, hidden = (sorted(e.shares[REJECTED].found.count for e in each.examiners) for each in (audit, blind))
    assert plain == hidden


def test_numbering_of_a_blind_audit_is_not_the_order_of_the_codes(audit):
    blind = audit_of(measured(PLAN, 1), PROTOCOL, blind=True)
    trials = {e.trials for e in blind.examiners if e.code == "examiner 9"}
    assert trials  # somebody is the ninth, whoever it is
    assert blind.table.rejected.tolist() == audit.table.rejected.tolist()


def test_worst_habit_comes_first_with_its_latest_trials(audit, of):
    first, *_ = worst_habits(of["HASTY"], audit.table)
    assert (first.code, first.finding) == ("fast-ramp", True)
    for file, number in first.examples:
        rows = np.flatnonzero(audit.table.number == number)
        row = next(r for r in rows if audit.table.file.words[audit.table.file.codes[r]] == file)
        assert audit.table.faults["fast-ramp"][row]
    starts = [audit.table.file.words.index(file) for file, _ in first.examples]
    assert starts == sorted(starts, reverse=True)


def test_usual_curve_is_the_median_of_curves_as_shares_of_their_plateaus():
    (_, session), *_ = invented_sessions(Path(), PLAN, seed=1)
    usual = usual_curve(judge(trial.trace(), PROTOCOL) for trial in session.trials)
    held = (usual.time > 3.0) & (usual.time < 5.0)
    assert usual.median[held] == pytest.approx(1.0, abs=0.03)
    assert usual.curves <= len(session.trials)
    assert usual.median[usual.time < -0.2] == pytest.approx(0.0, abs=0.02)
    assert usual_curve([]) is None


def test_latest_trials_are_the_last_ones(audit):
    wanted = latest_trials("HASTY", audit.table, most=6)
    assert {file for file, _ in wanted} == {"HASTY/00023.h5"}


def test_nobody_named_means_nobody_audited(table_of):
    assert audit_examiners(table_of({"examiner": ""}), rest_least_s=60.0) == ()


def test_rests_and_sets_are_those_of_the_trials(table_of):
    (examiner,) = audit_examiners(
        table_of(
            {"plateau_n": 100.0},
            {"plateau_n": 110.0, "rest_s": 90.0},
            {"plateau_n": 90.0, "rest_s": 30.0},
        ),
        rest_least_s=60.0,
    )
    assert asdict(examiner.sets) == {
        "trials_median": 3.0,
        "spread_pct_median": pytest.approx(10.0),  # standard deviation 10 of mean 100
        "rest_kept_pct": 50.0,
    }


def test_two_examiners_of_the_same_persons_are_a_study():
    plan = ArchivePlan(
        examiners=(Examiner(code="A"), Examiner(code="B")),
        sessions_each=60,
        trials_each=4,
        rate_hz=100.0,
        persons=60,
        days=10.0,
        paired=True,
    )
    found = audit_of(measured(plan, 3), PROTOCOL).agreement
    assert found
    for study in found:
        assert study.ratings == ("A", "B")
        assert len(study.persons) >= 9
        # persons differ by 25 %, trials by 4 %: the correlation is near 0.25^2 / (0.25^2 + 0.04^2)
        assert study.numbers.icc["ICC(2,1)"].value > 0.8
