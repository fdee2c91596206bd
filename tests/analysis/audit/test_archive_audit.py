"""A whole audit of invented archives finds the habits that were put in, and little else."""

from dataclasses import asdict
from pathlib import Path

import numpy as np
import pytest

from acquire.simulation.archives import ArchivePlan, Examiner, invented_sessions
from analysis.audit.archive import Measured
from analysis.audit.archive_audit import audit_of, blinded
from analysis.audit.coaching import latest_trials, usual_curve, worst_habits
from analysis.audit.examiners import REJECTED, audit_examiners
from analysis.audit.facts import SessionFacts, TrialFacts, facts_of
from analysis.trial.protocol import load_protocol
from analysis.trial.technique import Technique
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
def archive():
    """The archive of the plan, measured once."""
    return tuple(measured(PLAN, 1))


@pytest.fixture(scope="module")
def audit(archive):
    return audit_of([*archive, Measured(file="bad.h5", fingerprint="", error="damaged")], PROTOCOL)


@pytest.fixture(scope="module")
def blind(archive):
    return audit_of(archive, PROTOCOL, blind=True)


@pytest.fixture
def of(audit):
    return {examiner.code: examiner for examiner in audit.examiners}


@pytest.mark.slow
def test_habits_that_were_put_in_are_found(of):
    assert of["HASTY"].shares["fast-ramp"].finding
    assert of["COACHED"].shares["short-hold"].finding
    assert of["SLOW"].numbers["ramp_time_s"].finding
    assert abs(of["WEAK"].ceiling.force_n - 190.0) < 10.0


@pytest.mark.slow
def test_examiners_like_all_others_have_no_findings(of):
    for number in range(4):
        examiner = of[f"LIKE-{number}"]
        assert not [code for code, share in examiner.shares.items() if share.finding]
        assert not [name for name, value in examiner.numbers.items() if value.finding]
        assert examiner.ceiling is None


@pytest.mark.slow
def test_habit_that_was_coached_away_comes_back_within_the_limits(of):
    changes = [signal.change for signal in of["COACHED"].courses[REJECTED].signals if signal.chart == "ewma"]
    assert changes[0] == "above"
    assert "back" in changes


@pytest.mark.slow
def test_three_sessions_are_too_few_to_tell(of):
    assert not of["NEW"].enough
    assert not any(share.finding for share in of["NEW"].shares.values())


@pytest.mark.slow
def test_unreadable_file_is_told_and_passed_over(audit):
    assert audit.unreadable == (("bad.h5", "damaged"),)
    assert audit.files == 8 * 24 + 3


@pytest.mark.slow
def test_blind_audit_holds_no_code_and_the_same_numbers(audit, blind):
    codes = {examiner.code for examiner in blind.examiners}
    assert codes == {f"examiner {number}" for number in range(1, 10)}
    assert not {person for person in blind.table.person.words if person.startswith("P-")}
    assert not {file for file in blind.table.file.words if ".h5" in file}
    plain, hidden = (sorted(e.shares[REJECTED].found.count for e in each.examiners) for each in (audit, blind))
    assert plain == hidden


@pytest.mark.slow
def test_numbering_of_a_blind_audit_is_not_the_order_of_the_codes(audit, blind):
    trials = {e.trials for e in blind.examiners if e.code == "examiner 9"}
    assert trials  # somebody is the ninth, whoever it is
    assert blind.table.rejected.tolist() == audit.table.rejected.tolist()


@pytest.mark.slow
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


@pytest.mark.slow
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


@pytest.mark.slow
def test_two_examiners_of_the_same_persons_are_a_study():
    plan = ArchivePlan(
        examiners=(Examiner(code="A"), Examiner(code="B")),
        sessions_each=60,
        trials_each=4,
        rate_hz=50.0,
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


def test_numbers_of_a_blind_audit_follow_the_time_of_day(table_of):
    hour, day = 3_600.0, 86_400.0
    table = blinded(
        table_of(
            {"file": "a.h5", "person": "P-1", "examiner": "A", "started_s": 9 * hour},
            {"file": "b.h5", "person": "P-2", "examiner": "B", "started_s": 5 * day + 8 * hour},
            {"file": "c.h5", "person": "", "examiner": "C", "started_s": 2 * day + 10 * hour},
            {"file": "c.h5", "person": "P-3", "examiner": "C", "started_s": 7 * day + 7 * hour},
        )
    )
    assert table.examiner.words == ("examiner 3", "examiner 2", "examiner 1")
    assert table.file.words == ("session 3", "session 2", "session 1")
    assert table.person.words == ("person 3", "person 2", "", "person 1")
    assert table.examiner.codes.tolist() == [0, 1, 2, 2]


def facts(file, *, session="s", sensor="cell", started_s=0.0, **said):
    usual = {
        "session": session,
        "number": 1,
        "person": "P-1",
        "examiner": "A",
        "action": "hip-flexion",
        "side": "left",
        "method": "hand",
        "sensor": sensor,
        "started_s": started_s,
        "accepted": True,
        "aside": False,
        "faults": (),
        "warnings": (),
        "plateau_n": 100.0,
        "lever_arm_m": None,
        "zero_n": 0.0,
        "newtons_per_count": 1.0,
        "technique": Technique(),
    }
    kept = SessionFacts(file=file, trials=(TrialFacts(**(usual | said)),))
    return Measured(file=file, fingerprint="", facts=kept)


def test_copy_of_a_session_counts_once_and_says_of_which():
    found = audit_of([facts("a.h5"), facts("copy.h5"), facts("b.h5", session="t")], PROTOCOL)
    assert found.unreadable == (("copy.h5", "holds the same session as a.h5: left out"),)
    assert (found.files, found.paths, len(found.table)) == (2, ("a.h5", "b.h5"), 2)


def test_sessions_without_trials_are_not_copies_of_one_another():
    empty = [Measured(file=file, fingerprint="", facts=SessionFacts(file=file, trials=())) for file in ("a", "b")]
    assert audit_of(empty, PROTOCOL).unreadable == ()


def test_blind_audit_names_no_unreadable_file():
    bad = [Measured(file=f"{name}.h5", fingerprint="", error=f"{name}.h5: damaged") for name in ("a", "b")]
    assert audit_of(bad, PROTOCOL, blind=True).unreadable == (("file 1", "left out"), ("file 2", "left out"))


def test_sensor_drifts_from_the_day_when_its_zero_moved():
    day = 86_400.0
    sessions = [
        facts(f"{n:02d}.h5", session=f"s{n}", started_s=n * day, zero_n=0.1 * (n % 2) + (2.0 if n >= 25 else 0.0))
        for n in range(30)
    ]
    other = [facts(f"x{n}.h5", session=f"x{n}", sensor="other", started_s=n * day) for n in range(3)]
    unknown = facts("zz.h5", session="zz", started_s=None, zero_n=99.0)
    first, second = audit_of([*reversed(sessions), *other, unknown], PROTOCOL).sensors
    assert (first.sensor, first.sessions, second.sensor, second.sessions) == ("cell", 31, "other", 3)
    assert first.zero.at_s.tolist() == [n * day for n in range(30)]
    assert first.zero.value[-1] == 2.1
    assert next(s for s in first.zero.signals if s.change == "above").at_s >= 25 * day
    assert first.sensitivity is None  # it never moves
    assert second.zero is None
