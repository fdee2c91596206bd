"""Trials as plain text: columns line up, numbers keep their unit, faults say what they weigh."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.values.calibration import Calibration
from acquire.values.records import Trial, TrialContext
from acquire.values.units import ForceUnit
from analysis.stored.traces import Samples, cut_samples
from analysis.trial.faults import Fault, Severity
from analysis.trial.judged_trial import judge_trial
from analysis.trial.number import Kind, Number
from analysis.trial.protocol import load_protocol
from tests.fakes.drawn import Person, draw
from ui.papers.tables import fault_line, fault_lines, force, text_table, trial_lines, trials_table

WORD = st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=12)
NEWTONS = Calibration(newtons_per_count=1.0, rated_force_n=None)


def judged(code, **context):
    trace = simulate(FAULTY.get(code, GOOD), rate_hz=250.0, seed=2).trace
    trial = Trial(
        time=trace.time,
        counts=np.asarray(trace.force),
        calibration=NEWTONS,
        zero_counts=0.0,
        context=TrialContext(**context),
    )
    return judge_trial(trial, load_protocol())


@given(st.integers(1, 5).flatmap(lambda n: st.lists(st.lists(WORD, min_size=n, max_size=n), min_size=1, max_size=6)))
def test_columns_line_up_and_hold_every_cell(rows):
    headings = [f"h{i}" for i in range(len(rows[0]))]
    lines = text_table(rows, headings).splitlines()
    assert [line.split() for line in lines[2:]] == rows
    edges = [i for i, mark in enumerate(lines[1]) if mark == " " and lines[1][i + 1] == " "]
    assert set(lines[1]) <= {"-", " "}
    for line in lines:
        assert line == line.rstrip()
        assert all(line[i : i + 2].strip() == "" for i in edges), "nothing stands between two columns"


def test_table_without_rows_keeps_its_headings():
    assert text_table([], ("name", "value")) == "name  value\n----  -----"


def test_numbers_stand_to_the_right_and_words_to_the_left():
    assert text_table([("a", "-1.5"), ("bcd", "-")], ("w", "number")).splitlines()[2:] == [
        "a      -1.5",
        "bcd       -",
    ]


# 1 kgf = 9.80665 N (3rd CGPM 1901), 1 lbf = 4.4482216152605 N (international yard and pound agreement of 1959).
@pytest.mark.parametrize(("unit", "newtons"), [("N", 1.0), ("kgf", 9.80665), ("lbf", 4.4482216152605)])
def test_force_is_shown_in_its_unit_to_a_tenth(unit, newtons):
    assert force(123.46 * newtons, ForceUnit(unit)) == "123.5"
    assert force(None, ForceUnit(unit)) == "-"


@pytest.mark.parametrize("unit", ["N", "kgf", "lbf"])
def test_heading_names_the_unit(unit):
    table = trials_table([judged("good")], ForceUnit(unit))
    assert f"plateau {unit}" in table
    assert f"peak {unit}" in table


def test_trials_are_numbered_from_one():
    table = trials_table([judged("good", action="hip-flexion", side="left"), judged("jerk")], ForceUnit("N"))
    rows = [line.split() for line in table.splitlines()[2:]]
    assert [row[0] for row in rows] == ["1", "2"]
    assert rows[0][1:5] == ["hip", "flexion", "left", "accepted"]
    assert rows[1][1:4] == ["-", "-", "rejected"]
    assert rows[1][-2:] == ["fast-ramp,", "jerk"]


def test_fault_that_only_warns_stands_in_brackets():
    table = trials_table([judged("good", examiner_limit_n=200.0)], ForceUnit("N"))
    assert table.splitlines()[-1].endswith("(examiner-limit)")


def test_trial_without_an_effort_has_dashes():
    row = trials_table([judged("no-effort")], ForceUnit("N")).splitlines()[-1].split()
    assert row == ["1", "-", "-", "rejected", "-", "-", "-", "-", "-", "no-effort"]


def test_each_fault_has_its_sentence_after_the_number_of_its_trial():
    lines = fault_lines([judged("good"), judged("jerk")], ForceUnit("N"))
    assert [line.partition(": ")[0] for line in lines] == ["trial 2", "trial 2"]
    assert lines[1].startswith("trial 2: jerk: The force jumped at ")


@pytest.mark.parametrize(
    ("severity", "line"),
    [(Severity.REJECT, "gave-way: The force"), (Severity.WARN, "gave-way (warning): The force")],
)
def test_fault_says_what_it_weighs(severity, line):
    numbers = {"measured": 1.0, "limit": 1.0, "kind": Kind.COUNT, "values": (Number("depth", 8.0, Kind.PERCENT),)}
    fault = Fault(code="gave-way", severity=severity, **numbers)
    assert fault_line(fault, ForceUnit("N")).startswith(f"{line} dropped by more than 8 % and came back once, ")


def test_sentences_are_in_the_unit_of_the_table():
    trial = judged("good", examiner_limit_n=200.0)
    told = {unit: fault_lines([trial], ForceUnit(unit)) for unit in ("N", "lbf", "kgf")}
    plateau = trial.judgement.measures.plateau_force_n
    assert f"The plateau of {plateau:.0f} N is above the 200 N that this examiner can hold" in told["N"][0]
    # 200 N / 4.4482216152605 N and / 9.80665 N
    assert f"The plateau of {plateau / 4.4482216152605:.1f} lbf is above the 45.0 lbf that" in told["lbf"][0]
    assert f"The plateau of {plateau / 9.80665:.1f} kgf is above the 20.4 kgf that" in told["kgf"][0]
    assert trial_lines(1, trial, ForceUnit("lbf")).count(" N") == 0


def test_live_line_holds_trial_force_and_verdict():
    first, *faults = trial_lines(7, judged("jerk", action="hip-flexion", side="left"), ForceUnit("N")).splitlines()
    assert first.split()[0] == "7"
    assert "hip flexion, left, hand" in first
    assert first.endswith("N  rejected")
    assert [line.split(":")[0] for line in faults] == ["     - fast-ramp", "     - jerk"]


def test_trial_that_the_end_of_the_recording_cut_off_is_set_aside_and_not_rejected():
    drawing = draw(Person(hold=5.0), 200.0, 1)
    kept = drawing.time < 5.0
    (trial,) = cut_samples(Samples(time=drawing.time[kept], force=drawing.force[kept], start=0.0))
    judged = judge_trial(trial, load_protocol())
    said = f"{trials_table([judged], ForceUnit.NEWTON)}\n{trial_lines(1, judged, ForceUnit.NEWTON)}"
    assert "rejected" not in said
    assert "short-hold" not in said
    assert fault_lines([judged], ForceUnit.NEWTON) == ["trial 1: set aside: the recording ended during the trial"]
