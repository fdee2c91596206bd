"""The model of Audit: order, choice, and the trials behind each number."""

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.audit.ceilings import Ceiling
from analysis.audit.examiners import REJECTED, session_starts
from ui.model.audit.audit import MOST_CURVES, AuditModel, in_order
from ui.model.audit.charts import funnel_of, nearest
from ui.model.audit.run import AuditRun
from ui.model.plan.remembered import AuditChoice, Remembered


def model_of(folder, **choice):
    model = AuditModel(AuditChoice(folder=str(folder), **choice))
    model.found(AuditRun(model.choice, mapper=map)(), model.choice)
    return model


@pytest.fixture(scope="module")
def found(archive):
    return model_of(archive).audit


@pytest.fixture
def model(archive, found):
    model = AuditModel(AuditChoice(folder=str(archive)))
    model.found(found, model.choice)
    return model


def codes(model):
    return [examiner.code for examiner in model.examiners]


def test_codes_are_sorted_as_people_do():
    assert sorted(["B", "A10", "A9", "10", "9", ""], key=in_order) == ["", "9", "10", "A9", "A10", "B"]


def test_who_stands_out_comes_first_and_too_few_last(model):
    assert codes(model)[0] == "EX-1"
    assert codes(model)[-1] == "EX-4"
    assert model.selected.code == "EX-1"


def test_sorting_twice_turns_the_order_round(model):
    model.sort("examiner")
    assert codes(model) == ["EX-1", "EX-2", "EX-3", "EX-4", "EX-10"]
    model.sort("examiner")
    assert codes(model) == ["EX-10", "EX-4", "EX-3", "EX-2", "EX-1"]


@pytest.mark.parametrize("column", ["sessions", "trials", "rejected", "interval", "expected", "says"])
def test_numbers_are_sorted_largest_first(model, column):
    model.sort("examiner")
    model.sort(column)
    first, last = model.examiners[0], model.examiners[-1]
    if column in {"sessions", "trials"}:
        assert getattr(first, column) > getattr(last, column)
    else:
        assert model.order == (column, True)
    if column == "rejected":
        shares = [each.shares[REJECTED].found.share for each in model.examiners]
        assert shares == sorted(shares, reverse=True)


def test_next_goes_round(model):
    seen = []
    for _ in range(5):
        seen.append(model.selected.code)
        model.next()
    assert sorted(seen) == sorted(codes(model))
    assert model.selected.code == seen[0]


def test_selection_outlives_another_audit_of_the_same_codes(model, found):
    model.select("EX-3")
    model.found(found, model.choice)
    assert model.selected.code == "EX-3"


def test_behind_a_fault_are_exactly_the_trials_with_it(model):
    behind = model.behind_share("fast-ramp")
    assert behind.count == model.selected.shares["fast-ramp"].found.count
    assert len(behind.trials) == min(behind.count, MOST_CURVES)
    read = model.read(behind)
    assert read.gone == ()
    assert len(read.trials) == len(behind.trials)
    for trial in read.trials:
        assert "fast-ramp" in [fault.code for fault in trial.judged.judgement.faults]


def test_behind_rejected_are_rejected_trials_the_latest_first(model):
    behind = model.behind_share(REJECTED)
    read = model.read(behind)
    assert {trial.judged.judgement.verdict for trial in read.trials} == {"rejected"}
    started = [trial.judged.trial.context.started for trial in read.trials]
    assert started == sorted(started, reverse=True)


def test_behind_a_number_are_trials_near_its_median(model):
    behind = model.behind_number("ramp_time_s")
    median = model.selected.numbers["ramp_time_s"].found.quartiles[1]
    table, mine = model.audit.table, model.audit.table.examiner.where("EX-1")
    nearest_off = np.sort(np.abs(table.technique["ramp_time_s"][mine] - median))[:MOST_CURVES]
    ramps = [trial.judged.judgement.measures.ramp_time_s for trial in model.read(behind).trials]
    assert np.abs(np.array(ramps) - median) == pytest.approx(nearest_off)


def test_behind_a_session_are_its_trials_and_no_others(model):
    course = model.selected.courses[REJECTED]
    at = float(course.at_s[2])
    behind = model.behind_session(at)
    (file,) = {file for file, _ in behind.trials}
    assert behind.count == 6
    assert session_starts(model.audit.table)[model.audit.table.file.words.index(file)] == at


def test_behind_a_ceiling_are_hand_held_plateaus_near_it(archive, found):
    examiner = found.examiners[0]
    ceiling = Ceiling(force_n=200.0, count=5, of=20, expected_above=9.0, others_n=300.0, actions=("elbow-flexion",))
    model = AuditModel(AuditChoice(folder=str(archive)))
    model.found(replace(found, examiners=(replace(examiner, ceiling=ceiling),)), model.choice)
    behind = model.behind_ceiling()
    assert behind.count
    for trial in model.read(behind).trials:
        assert 0.94 * 200.0 <= trial.judged.judgement.measures.plateau_force_n <= 1.04 * 200.0
        assert trial.judged.trial.context.method == "hand"


def test_nothing_is_behind_what_never_happened(model):
    assert model.behind_share("clipped") is None
    assert model.behind_number("no such number") is None
    assert model.behind_ceiling() is None
    assert model.behind_session(-1.0) is None
    empty = AuditModel()
    assert empty.behind_share(REJECTED) is empty.behind_session(0.0) is None


def test_trials_of_a_file_that_is_gone_are_told(archive, tmp_path):
    folder = Path(shutil.copytree(archive, tmp_path / "copy"))
    model = model_of(folder)
    behind = model.behind_share(REJECTED)
    lost = behind.trials[0][0]
    (folder / lost).unlink()
    read = model.read(behind)
    assert read.gone == (lost,)
    assert len(read.trials) == len([file for file, _ in behind.trials if file != lost])


def test_blind_audit_reads_the_same_curves_and_names_nobody(archive, model):
    blind = model_of(archive, blind=True)
    (same,) = [each for each in blind.examiners if each.shares["fast-ramp"].finding]
    blind.select(same.code)
    told = blind.behind_share("fast-ramp")
    assert told.trials == model.behind_share("fast-ramp").trials
    assert all(file.startswith("session ") for file in told.files)
    assert same.code.startswith("examiner ")
    assert len(blind.read(told).trials) == len(told.trials)


def test_going_blind_drops_what_names_people(model):
    model.set_blind(True)
    assert model.audit is None
    assert model.selected is None


def test_another_protocol_makes_what_is_shown_stale(model):
    assert not model.stale
    model.judge_by("/my/own.toml")
    assert model.stale
    assert model.audit is not None


def test_another_folder_drops_what_was_found(model, tmp_path):
    model.choose_folder(tmp_path)
    assert model.audit is None
    assert model.choice.folder == str(tmp_path)


def test_choice_is_remembered(tmp_path):
    choice = AuditChoice(folder="/archive", protocol="/my/own.toml", blind=True)
    assert Remembered(tmp_path / "r.json").audit == AuditChoice()
    Remembered(tmp_path / "r.json").audited(choice)
    assert Remembered(tmp_path / "r.json").audit == choice


def test_funnel_shows_what_the_table_says_and_what_chance_lets_expect(found):
    funnel = funnel_of(found)
    assert {point.code for point in funnel.points} == {"EX-1", "EX-2", "EX-3", "EX-4", "EX-10"}
    assert [point.code for point in funnel.points if point.finding] == ["EX-1"]
    shares = {examiner.code: examiner.shares[REJECTED].found for examiner in found.examiners}
    for point in funnel.points:
        assert point.share_pct == pytest.approx(100.0 * shares[point.code].share)
        usual, outer = point.limits_pct
        assert 0.0 <= outer[0] <= usual[0] <= point.expected_pct <= usual[1] <= outer[1] <= 100.0
    assert funnel.overall_pct == pytest.approx(100.0 * found.table.rejected.mean())


def test_funnel_of_nobody_comparable_has_no_points(found):
    assert funnel_of(replace(found, examiners=())).points == ()


def test_nearest_of_none_is_none():
    assert nearest([], 0.0, 0.0) is None
