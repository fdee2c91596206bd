"""What is said of each examiner: from how many trials on, what counts as a finding, sets, ceilings, and courses."""

import math

import numpy as np
import pytest

from analysis.audit.compare import NumberFound, ShareFound
from analysis.audit.examiners import REJECTED, ExaminerAudit, Number, Sets, Share, audit_examiners, session_starts
from analysis.audit.examiners import _marked as marked
from analysis.trial.technique import Technique

DAY = 86_400.0
NO_SETS = Sets(trials_median=None, spread_pct_median=None, rest_kept_pct=None)


def sessions(examiner, count, each, **said):
    """Trials of one examiner, a file a day."""
    return [
        {
            "examiner": examiner,
            "file": f"{examiner}-{day}.h5",
            "person": f"{examiner}-P{day}",
            "started_s": day * DAY + at,
            **said,
        }
        for day in range(count)
        for at in range(each)
    ]


def audits(table):
    return {each.code: each for each in audit_examiners(table, rest_least_s=60.0)}


@pytest.mark.parametrize(
    ("count", "each", "enough"), [(5, 4, True), (5, 3, False), (4, 5, False), (6, 4, True), (10, 2, True)]
)
def test_twenty_trials_in_five_sessions_are_enough(table_of, count, each, enough):
    audit = audits(table_of(*sessions("A", count, each)))["A"]
    assert (audit.trials, audit.sessions, audit.enough) == (count * each, count, enough)


def test_shares_are_of_all_rejected_and_of_each_fault(table_of):
    table = table_of({"faults": ("jerk", "shake")}, {"faults": ("jerk",)}, {}, {"examiner": "EX-2"})
    shares = audits(table)["EX-1"].shares
    assert {code: share.found.count for code, share in shares.items()} == {REJECTED: 2, "jerk": 2, "shake": 1}
    assert {share.found.trials for share in shares.values()} == {3}


def test_trial_that_names_nobody_counts_among_the_others_only(table_of):
    found = audits(table_of({"examiner": "", "faults": ("jerk",)}, {}))
    assert list(found) == ["EX-1"]
    assert found["EX-1"].shares["jerk"].found.expected == 1.0


def audit_with(*, share=0.5, expected=0.1, median=1.0, others=2.0):
    found = ShareFound(
        count=round(share * 1000), trials=1000, effective=500.0, interval=(0.0, 1.0), expected=expected, p=0.01
    )
    number = NumberFound(sessions=9, quartiles=(0.0, median, 9.0), others=others, p=0.01)
    return ExaminerAudit(
        code="A",
        trials=1000,
        sessions=9,
        enough=True,
        shares={"jerk": Share(found=found, q=math.nan, finding=False)},
        numbers={"ramp_time_s": Number(found=number, q=math.nan, finding=False)},
        sets=NO_SETS,
        ceiling=None,
        courses={},
    )


def findings(audit, q, half_range=0.1):
    adjusted = {("A", "shares", "jerk"): q, ("A", "numbers", "ramp_time_s"): q}
    found = marked(audit, adjusted, {"ramp_time_s": half_range})
    assert found.shares["jerk"].q == found.numbers["ramp_time_s"].q == q
    return found.shares["jerk"].finding, found.numbers["ramp_time_s"].finding


@pytest.mark.parametrize(("q", "finding"), [(0.0, True), (0.05, True), (0.0501, False), (1.0, False)])
def test_one_in_twenty_findings_may_be_false(q, finding):
    assert findings(audit_with(), q) == (finding, finding)


@pytest.mark.parametrize(("share", "finding"), [(0.131, True), (0.129, False), (0.05, False), (0.0, False)])
def test_share_must_be_three_points_above_the_others(share, finding):
    assert findings(audit_with(share=share), 0.01)[0] is finding


@pytest.mark.parametrize(
    ("median", "others", "half_range", "finding"),
    [
        (1.60, 2.0, 0.7, True),  # 0.4 off; half of 0.7 is 0.35
        (2.40, 2.0, 0.7, True),
        (1.60, 2.0, 0.9, False),  # half of 0.9 is 0.45
        (1.89, 2.0, 0.0, True),  # 0.11 off; a twentieth of 2 is 0.1
        (1.91, 2.0, 0.0, False),
        (-1.89, -2.0, 0.0, True),
        (-1.91, -2.0, 0.0, False),
    ],
)
def test_number_must_differ_by_what_matters(median, others, half_range, finding):
    assert findings(audit_with(median=median, others=others), 0.01, half_range)[1] is finding


def test_without_a_p_value_there_is_no_finding():
    found = marked(audit_with(), {}, {"ramp_time_s": 0.1})
    assert math.isnan(found.shares["jerk"].q)
    assert not found.shares["jerk"].finding
    assert not found.numbers["ramp_time_s"].finding


def test_only_examiners_with_enough_trials_share_in_the_adjustment(table_of):
    def made(**of_b):
        trials = sessions("A", 10, 4, faults=("jerk",), technique=Technique(ramp_time_s=1.0))
        trials += sessions("B", 10, 4, technique=Technique(ramp_time_s=2.0), **of_b)
        trials += sessions("NEW", 1, 4, faults=("jerk",), technique=Technique(ramp_time_s=1.0))
        return audits(table_of(*trials))

    found = made()
    assert found["A"].shares["jerk"].finding
    assert found["A"].numbers["ramp_time_s"].finding
    assert not found["B"].shares["jerk"].finding
    assert not found["NEW"].shares["jerk"].finding
    assert math.isnan(found["NEW"].shares["jerk"].q)
    # two shares and one number of each of two examiners, adjusted by Benjamini and Hochberg: no q below its p
    for code in "AB":
        for share in found[code].shares.values():
            assert share.found.p <= share.q <= 6.0 * share.found.p + 1e-12


def test_sets_are_of_a_file_action_method_and_side(table_of):
    trials = [
        *({"side": "left"} for _ in range(2)),
        *({"side": "right"} for _ in range(5)),
        *({"side": "right", "method": "belt"} for _ in range(4)),
        *({"side": "right", "file": "b.h5"} for _ in range(7)),
    ]
    assert audits(table_of(*trials))["EX-1"].sets.trials_median == 4.5  # of 2, 4, 5 and 7


def test_spread_is_of_accepted_plateaus_and_needs_two(table_of):
    trials = [
        {"plateau_n": 90.0},
        {"plateau_n": 110.0},  # with 90: deviation 14.142 of a mean of 100
        {"plateau_n": 500.0, "faults": ("jerk",)},
        {"plateau_n": None},
        {"side": "right", "plateau_n": 77.0},
    ]
    sets = audits(table_of(*trials))["EX-1"].sets
    assert sets.spread_pct_median == pytest.approx(10.0 * math.sqrt(2.0))
    assert audits(table_of({}))["EX-1"].sets.spread_pct_median is None


def test_rest_of_just_the_least_is_kept(table_of):
    trials = [{"rest_s": rest} for rest in (None, 60.0, 59.9, 61.0, 600.0)]
    assert audits(table_of(*trials))["EX-1"].sets.rest_kept_pct == 75.0
    assert audits(table_of({"rest_s": None}))["EX-1"].sets.rest_kept_pct is None


def persons(chance, examiner, *, most=math.inf, method="hand", action="knee-extension", count=40):
    for person in range(count):
        force = min(float(chance.lognormal(5.9, 0.3)), most * float(chance.normal(1.0, 0.01)))
        said = {"action": action, "method": method, "examiner": examiner, "person": f"{examiner}-{person}"}
        yield said | {"plateau_n": force}
        yield said | {"plateau_n": 0.9 * force}  # a second trial, not so strong


def test_ceiling_is_of_the_best_by_hand_of_each_person(table_of, chance):
    weak = list(persons(chance, "WEAK", most=300.0))
    found = audits(table_of(*weak, *persons(chance, "B", method="belt"), *persons(chance, "C")))
    assert found["WEAK"].ceiling.force_n == pytest.approx(300.0, rel=0.02)
    assert found["WEAK"].ceiling.of == 40
    assert found["B"].ceiling is None
    assert found["C"].ceiling is None


def test_belt_has_no_ceiling_of_hands(table_of, chance):
    held = [*persons(chance, "A", most=300.0, method="belt"), *persons(chance, "B"), *persons(chance, "C")]
    assert audits(table_of(*held))["A"].ceiling is None


def test_courses_run_in_the_order_of_time_and_skip_what_has_none(table_of):
    trials = sessions("A", 9, 4, technique=Technique(ramp_time_s=1.5)) + sessions("B", 9, 4)
    for number, trial in enumerate(trials):
        trial["faults"] = ("jerk",) if number % 3 == 0 else ()
        trial["technique"] = Technique(ramp_time_s=1.5 + 0.1 * (number % 4) + 0.01 * number)
    trials[0] |= {"started_s": None, "file": "no-time.h5"}
    backwards = [trial for day in range(8, -1, -1) for trial in trials[4 * day : 4 * day + 4]]
    found = audits(table_of(*backwards, *trials[36:]))["A"].courses
    assert set(found) == {REJECTED, "ramp_time_s"}
    for course in found.values():
        assert (np.diff(course.at_s) > 0.0).all()
        assert len(course.at_s) == 9  # the day of the trial without a time has three more


def test_few_sessions_have_no_course(table_of):
    trials = sessions("A", 5, 4) + sessions("B", 5, 4)
    for number, trial in enumerate(trials):
        trial["faults"] = ("jerk",) if number % 3 == 0 else ()
    assert audits(table_of(*trials))["A"].courses == {}


def test_session_starts_with_its_first_trial(table_of):
    table = table_of(
        {"file": "a", "started_s": 9.0},
        {"file": "a", "started_s": 7.0},
        {"file": "a", "started_s": None},
        {"file": "b", "started_s": None},
        {"file": "c", "started_s": 3.0},
    )
    np.testing.assert_array_equal(session_starts(table), [7.0, np.nan, 3.0])


def test_empty_table_has_no_examiners(table_of):
    assert audit_examiners(table_of(), rest_least_s=60.0) == ()
