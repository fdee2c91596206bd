"""A stored trace through the live path gives what `analyse` gives, byte for byte, at any speed."""

from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).parents[3]
SAMPLES = ROOT / "sample_traces"

STEP_S = 1.01 / 250.0
"""One sample: where a moment lies between two of them, the last bit of a time stamp decides."""


def write_csv(path, force, *, rate_hz=250.0, start=0.0, missing=()):
    """Write a trace with time stamps; the rows of `missing`, index pairs, are left out."""
    keep = np.ones(len(force), dtype=bool)
    for first, last in missing:
        keep[first:last] = False
    rows = [f"{start + i / rate_hz:.6f},{force[i]:.4f}" for i in np.flatnonzero(keep)]
    path.write_text("\n".join(["time_s,force_n", *rows, ""]))
    return path


@pytest.fixture
def several(tmp_path, force):
    return write_csv(tmp_path / "several.csv", force("good", "fast-ramp", "good", rate_hz=250.0))


def same(ramphold, *arguments, speed):
    """Return the replay after seeing that it equals the analysis."""
    analysed = ramphold("analyse", *arguments, "--json")
    replayed = ramphold("replay", *arguments, "--json", "--speed", speed)
    assert analysed.code == replayed.code == 0
    assert replayed.out == analysed.out
    return replayed


@pytest.mark.slow
@pytest.mark.parametrize("speed", ["max", 20])
def test_trace_of_several_efforts(ramphold, several, speed):
    trials = same(ramphold, several, speed=speed).trials
    assert [trial["verdict"] for trial in trials] == ["accepted", "rejected", "accepted"]


@pytest.mark.parametrize("speed", ["max", 50])
def test_session_file(ramphold, session_file, speed):
    trials = same(ramphold, session_file, speed=speed).trials
    assert [trial["verdict"] for trial in trials] == ["accepted", "rejected", "rejected"]
    assert {fault["code"] for fault in trials[2]["faults"]} >= {"lost-samples"}


@pytest.mark.slow
def test_recorded_session(ramphold, demo):
    assert len(same(ramphold, demo.folder / "session.h5", speed="max").trials) == 15


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.csv")), ids=lambda path: path.stem)
def test_sample_trace(ramphold, path):
    same(ramphold, path, speed="max")


def test_other_protocol(ramphold, several, session_file, tmp_path):
    text = (ROOT / "analysis/data/protocols/ramp-and-hold.toml").read_text()
    (tmp_path / "strict.toml").write_text(text.replace("reject_below_s = 3.0", "reject_below_s = 9.0"))
    for path in (several, session_file):
        trials = same(ramphold, path, "--protocol", tmp_path / "strict.toml", speed="max").trials
        assert all("short-hold" in {fault["code"] for fault in trial["faults"]} for trial in trials)


def test_other_method_and_limit(ramphold, several, session_file):
    for path in (several, session_file):
        trials = same(ramphold, path, "--method", "hand", "--examiner-limit", 100, speed="max").trials
        assert all("examiner-limit" in {fault["code"] for fault in trial["faults"]} for trial in trials)


def test_trace_that_starts_late_keeps_its_own_time(ramphold, tmp_path, force):
    pushes = force("good", "good", rate_hz=250.0)
    early = same(ramphold, write_csv(tmp_path / "early.csv", pushes), speed="max").trials
    late = same(ramphold, write_csv(tmp_path / "late.csv", pushes, start=12.5), speed="max").trials
    for one, other in zip(early, late, strict=True):
        for name in ("onset_s", "plateau_start_s", "plateau_end_s", "release_s"):
            assert other[name] == pytest.approx(one[name] + 12.5, abs=STEP_S)
        for name in ("ramp_time_s", "hold_time_s", "time_to_peak_s"):
            assert other[name] == pytest.approx(one[name], abs=STEP_S)
        assert other["plateau_force_n"] == pytest.approx(one["plateau_force_n"], rel=1e-4)


def test_trace_before_zero_keeps_its_own_time(ramphold, tmp_path, force):
    path = write_csv(tmp_path / "before.csv", force("good", rate_hz=250.0), start=-5.0)
    (trial,) = same(ramphold, path, speed="max").trials
    assert -5.0 < trial["onset_s"] < -2.0


def test_trace_with_missing_rows_keeps_the_gap(ramphold, tmp_path, force):
    pushes = force("good", "good", rate_hz=250.0)
    path = write_csv(tmp_path / "gaps.csv", pushes, missing=[(1400, 1440), (2650, 2651)])
    first, second = same(ramphold, path, speed="max").trials
    (lost,) = [fault for fault in first["faults"] if fault["code"] == "lost-samples"]
    assert lost["severity"] == "reject"
    assert "40 samples" in lost["text"]
    assert second["faults"] == []


def test_empty_force_fields_are_the_same_as_missing_rows(ramphold, tmp_path, force):
    pushes = force("good", rate_hz=250.0)
    rows = write_csv(tmp_path / "same.csv", pushes).read_text().splitlines()
    without = write_csv(tmp_path / "without.csv", pushes, missing=[(1400, 1440)])
    emptied = [row.partition(",")[0] + "," if 1400 < i <= 1440 else row for i, row in enumerate(rows)]
    (tmp_path / "emptied.csv").write_text("\n".join(emptied))
    assert same(ramphold, tmp_path / "emptied.csv", speed="max").trials == same(ramphold, without, speed="max").trials


def test_trace_without_an_effort(ramphold, tmp_path):
    path = write_csv(tmp_path / "rest.csv", np.random.default_rng(1).normal(0.0, 0.3, 2000))
    (trial,) = same(ramphold, path, speed="max").trials
    assert [fault["code"] for fault in trial["faults"]] == ["no-effort"]


def test_trace_that_ends_within_an_effort(ramphold, tmp_path, force):
    path = write_csv(tmp_path / "cut.csv", force("good", rate_hz=250.0)[:1500])
    (trial,) = same(ramphold, path, speed="max").trials
    assert (trial["verdict"], trial["faults"]) == (None, [])
    assert trial["set_aside"] == "the recording ended during the trial"
    assert trial["release_s"] is None
    assert trial["withheld"]["release_s"] == "the trace ends before the release"


def test_trace_of_one_column(ramphold, tmp_path, force):
    path = tmp_path / "forces.csv"
    path.write_text("\n".join(f"{f:.4f}" for f in force("good", "jerk", rate_hz=200.0)))
    trials = same(ramphold, path, "--rate", 200, speed="max").trials
    assert [trial["verdict"] for trial in trials] == ["accepted", "rejected"]


def test_two_samples(ramphold, tmp_path):
    (tmp_path / "two.csv").write_text("0,1\n0.01,2\n")
    (trial,) = same(ramphold, tmp_path / "two.csv", speed="max").trials
    assert trial["verdict"] == "rejected"


def test_table_follows_the_verdicts(ramphold, several):
    replayed = ramphold("replay", several, "--speed", "max").out
    assert replayed.startswith("trial 1: accepted\ntrial 2: rejected\n  fast-ramp: ")
    assert ramphold("analyse", several).out in replayed


@pytest.mark.slow
def test_length_of_a_slow_replay_is_told_on_standard_error(ramphold, several):
    result = ramphold("replay", several, "--speed", 25, "--json")
    assert " x real time" in result.err
    assert len(result.trials) == 3


@pytest.mark.slow
def test_replay_says_each_verdict_when_its_trial_ends(started, several):
    program = started("replay", several, "--speed", 20)
    program.out.until("trial 1: accepted")
    assert program.process.poll() is None, "the rest is still being played"
    assert "trial 3: accepted" in program.wait().out


def test_trace_with_a_long_gap(ramphold, tmp_path, force):
    """The mean rate over a gap of ten minutes is a tenth of the true one."""
    whole = force("good", "good", rate_hz=250.0)
    half = len(whole) // 2
    rows = [f"{i / 250.0 + (600.0 if i >= half else 0.0):.4f},{n:.4f}" for i, n in enumerate(whole)]
    (tmp_path / "gap.csv").write_text("\n".join(rows))
    trials = same(ramphold, tmp_path / "gap.csv", speed="max").trials
    assert [trial["verdict"] for trial in trials] == ["accepted", "accepted"]


def test_trace_without_an_effort_and_with_a_gap_of_months(ramphold, tmp_path):
    rows = [f"{i / 1000.0 + (1e7 if i > 900 else 0.0):.3f},0.0" for i in range(1000)]
    (tmp_path / "gap.csv").write_text("\n".join(rows))
    (trial,) = same(ramphold, tmp_path / "gap.csv", speed="max").trials
    assert [fault["code"] for fault in trial["faults"]] == ["no-effort"]
