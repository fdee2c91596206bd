"""The contract that other programs read: names, keys and exit codes of `analyse --json`, and the sample traces.

The names are written down here once more and not imported: a change of the program must fail here.
"""

import json
import math
import os
import re
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import pytest
from matplotlib.image import imread

ROOT = Path(__file__).parents[3]
SAMPLES = ROOT / "sample_traces"
NAMES = sorted(path.stem for path in SAMPLES.glob("*.csv"))

MEASURES = {
    "onset_s",
    "onset_uncertainty_s",
    "peak_force_n",
    "time_to_peak_s",
    "plateau_force_n",
    "plateau_start_s",
    "plateau_end_s",
    "hold_time_s",
    "ramp_time_s",
    "rise_10_90_s",
    "time_to_50_pct_s",
    "rfd_pct_per_s",
    "ramp_slope_n_per_s",
    "rfd_n_per_s",
    "peak_rfd_n_per_s",
    "impulse_n_s",
    "hold_cv_pct",
    "hold_trend_pct_per_s",
    "fatigue_index_pct",
    "baseline_n",
    "release_s",
}
BANDS = {"0-50", "0-100", "0-150", "0-200", "0-250"}
CODES = {
    "no-effort",
    "preload",
    "countermovement",
    "fast-ramp",
    "slow-ramp",
    "jerk",
    "stepped-ramp",
    "short-hold",
    "unsteady-hold",
    "still-rising",
    "fading",
    "overshoot",
    "examiner-pushed",
    "gave-way",
    "shake",
    "zero-shift",
    "clipped",
    "lost-samples",
    "examiner-limit",
    "slow-sensor",
}
LOWER_LIMITS = {"no-effort", "fast-ramp", "fading", "short-hold", "slow-sensor"}
"""Faults of too little; all others are of too much."""
NOT_IN_A_TRACE = {"examiner-limit"}
"""What a force trace alone cannot show."""
BUFFERED = {**os.environ, "PYTHONUNBUFFERED": ""}
"""Like for a user, whatever the tests themselves run under."""
COMMANDS = ("demo", "sensors", "check", "record", "replay", "analyse")


def rejecting(trial):
    return {fault["code"] for fault in trial["faults"] if fault["severity"] == "reject"}


def check_trial(trial):
    """Hold one trial of any output against the contract."""
    assert set(trial) == MEASURES | {"verdict", "faults", "withheld"}
    assert set(trial["rfd_n_per_s"]) == BANDS
    for fault in trial["faults"]:
        assert set(fault) == {"code", "severity", "measured", "limit", "text"}
        assert fault["code"] in CODES
        assert fault["severity"] in {"warn", "reject"}
        assert math.isfinite(fault["measured"])
        assert math.isfinite(fault["limit"])
        below = fault["measured"] <= fault["limit"]
        above = fault["measured"] >= fault["limit"]
        assert below if fault["code"] in LOWER_LIMITS else above, "a reader can see why"
        assert re.fullmatch(r"[A-Z0-9].+\.", fault["text"]), "a sentence"
    assert trial["verdict"] == ("rejected" if rejecting(trial) else "accepted")
    check_withheld(trial)


def check_withheld(trial):
    """Every null has its reason; nothing that is there has one."""
    rates = ("rfd_n_per_s", "rfd_pct_per_s")
    numbers = {name: trial[name] for name in MEASURES - set(rates)}
    bands = {f"{name}.{band}": value for name in rates for band, value in trial[name].items()}
    if not any(value is not None for value in bands.values()) and "rfd_n_per_s" in trial["withheld"]:
        bands = dict.fromkeys(rates)  # one reason for all of them
    nulls = {name for name, value in (numbers | bands).items() if value is None}
    assert set(trial["withheld"]) == nulls
    assert all(isinstance(reason, str) and reason for reason in trial["withheld"].values())


@pytest.mark.parametrize("name", NAMES)
def test_sample_trace_keeps_the_contract(ramphold, name):
    path = SAMPLES / f"{name}.csv"
    result = ramphold("analyse", path, "--json")
    assert result.code == 0
    assert result.err == ""
    content = json.loads(result.out)  # fails on anything before or after the one object
    assert set(content) == {"protocol", "files"}
    assert set(content["protocol"]) == {"name", "hash"}
    (file,) = content["files"]
    assert set(file) == {"file", "calibration", "trials", "contacts"}
    assert file["file"] == str(path)
    assert "not known" in file["calibration"]
    for trial in file["trials"]:
        check_trial(trial)


def test_numbers_are_strict_json(ramphold):
    def refuse(word):
        pytest.fail(f"{word} is not JSON")

    paths = [SAMPLES / f"{name}.csv" for name in NAMES]
    json.loads(ramphold("analyse", *paths, "--json").out, parse_constant=refuse)


def test_sample_traces_show_every_fault_that_a_trace_can_show():
    assert set(NAMES) == CODES - NOT_IN_A_TRACE | {"good", "continuous"}


@pytest.mark.parametrize("code", sorted(CODES - NOT_IN_A_TRACE))
def test_sample_trace_is_rejected_for_the_fault_in_its_name(ramphold, code):
    (trial,) = ramphold("analyse", SAMPLES / f"{code}.csv", "--json").trials
    assert trial["verdict"] == "rejected"
    assert code in rejecting(trial)


def test_good_sample_is_accepted_without_a_fault(ramphold):
    (trial,) = ramphold("analyse", SAMPLES / "good.csv", "--json").trials
    assert trial["verdict"] == "accepted"
    assert trial["faults"] == []


def test_continuous_sample_holds_a_fault_and_a_good_effort_in_turn(ramphold):
    trials = ramphold("analyse", SAMPLES / "continuous.csv", "--json").trials
    assert [trial["verdict"] for trial in trials] == ["rejected", "accepted"] * 3
    for code, trial in zip(("fast-ramp", "short-hold", "examiner-pushed"), trials[::2], strict=True):
        assert code in rejecting(trial)
    onsets = [trial["onset_s"] for trial in trials]
    assert onsets == sorted(onsets)
    assert onsets[-1] > 40.0, "moments are in the file's time"


def test_examiner_limit_comes_from_the_command_line(ramphold):
    told = ("--method", "hand", "--examiner-limit", 200)
    (trial,) = ramphold("analyse", SAMPLES / "good.csv", *told, "--json").trials
    assert [(fault["code"], fault["severity"]) for fault in trial["faults"]] == [("examiner-limit", "warn")]
    assert trial["verdict"] == "accepted"


def test_examiner_limit_is_silent_for_a_belt(ramphold):
    told = ("--method", "belt", "--examiner-limit", 200)
    (trial,) = ramphold("analyse", SAMPLES / "good.csv", *told, "--json").trials
    assert trial["faults"] == []


def test_early_rates_of_slow_sensor_are_withheld_for_its_rate(ramphold):
    (trial,) = ramphold("analyse", SAMPLES / "good.csv", "--json").trials
    assert set(trial["rfd_n_per_s"].values()) == {None}
    assert "1000 Hz" in trial["withheld"]["rfd_n_per_s.0-50"]
    assert "250 Hz" in trial["withheld"]["rfd_n_per_s.0-50"]


def test_several_files_come_in_the_order_given(ramphold):
    paths = [SAMPLES / f"{name}.csv" for name in ("jerk", "good", "continuous")]
    files = ramphold("analyse", *paths, "--json").json["files"]
    assert [file["file"] for file in files] == [str(path) for path in paths]
    assert [len(file["trials"]) for file in files] == [1, 1, 6]


def test_files_together_equal_each_alone(ramphold):
    paths = [SAMPLES / f"{name}.csv" for name in ("shake", "good")]
    alone = [ramphold("analyse", path, "--json").json["files"][0] for path in paths]
    assert ramphold("analyse", *paths, "--json").json["files"] == alone


def test_bad_file_among_good_ones_is_named_and_the_good_are_shown(ramphold, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_text("0,1\n0,2\n")
    result = ramphold("analyse", SAMPLES / "good.csv", bad, SAMPLES / "jerk.csv", "--json")
    assert result.code == 1
    assert [Path(file["file"]).name for file in result.json["files"]] == ["good.csv", "jerk.csv"]
    assert f"ramphold: {bad}, line 2: time must increase" in result.err
    assert result.err.count("\n") == 1


def test_bad_file_among_good_ones_leaves_their_tables(ramphold, tmp_path):
    result = ramphold("analyse", tmp_path / "none.csv", SAMPLES / "good.csv")
    assert result.code == 1
    assert "none.csv: there is no such file" in result.err
    assert "accepted" in result.out


def test_session_file_gives_its_calibration_and_contract(ramphold, session_file):
    result = ramphold("analyse", session_file, "--json")
    (file,) = result.json["files"]
    assert file["calibration"].startswith("not calibrated: ")
    assert len(file["trials"]) == 3
    for trial in file["trials"]:
        check_trial(trial)


def test_protocol_is_named_with_the_hash_of_its_limits(ramphold):
    protocol = ramphold("analyse", SAMPLES / "good.csv", "--json").json["protocol"]
    assert protocol["name"] == "ramp-and-hold"
    assert re.fullmatch(r"[0-9a-f]{16}", protocol["hash"])


def other_protocol(tmp_path, *changes):
    text = (ROOT / "analysis/data/protocols/ramp-and-hold.toml").read_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "other.toml"
    path.write_text(text)
    return path


def test_comment_in_a_protocol_leaves_its_hash(ramphold, tmp_path):
    usual = ramphold("analyse", SAMPLES / "good.csv", "--json").json["protocol"]
    path = other_protocol(tmp_path, ("version = 3\n", "version = 3\n# a remark\n\n"))
    assert ramphold("analyse", SAMPLES / "good.csv", "--protocol", path, "--json").json["protocol"] == usual


def test_other_limit_gives_another_hash_and_another_verdict(ramphold, tmp_path):
    usual = ramphold("analyse", SAMPLES / "good.csv", "--json").json["protocol"]
    path = other_protocol(
        tmp_path,
        ('name = "ramp-and-hold"', 'name = "long-hold"'),
        ("warn_below_s = 3.5\nreject_below_s = 3.0", "warn_below_s = 30.0\nreject_below_s = 20.0"),
    )
    result = ramphold("analyse", SAMPLES / "good.csv", "--protocol", path, "--json")
    assert result.json["protocol"]["name"] == "long-hold"
    assert result.json["protocol"]["hash"] != usual["hash"]
    (trial,) = result.trials
    assert rejecting(trial) == {"short-hold"}
    assert trial["faults"][0]["limit"] == 20.0


@pytest.mark.parametrize("unit", ["N", "kgf", "lbf"])
def test_unit_of_the_tables_leaves_json_in_newtons(ramphold, unit):
    usual = ramphold("analyse", SAMPLES / "good.csv", "--json").out
    assert ramphold("analyse", SAMPLES / "good.csv", "--unit", unit, "--json").out == usual


def test_picture_is_drawn_beside_the_json(ramphold, tmp_path):
    paths = [SAMPLES / f"{name}.csv" for name in ("good", "jerk", "no-effort")]
    result = ramphold("analyse", *paths, "--json", "--picture", tmp_path / "all.png")
    assert result.code == 0
    assert len(result.json["files"]) == 3
    assert result.err == f"picture: {tmp_path}/all.png\n"
    assert [path.name for path in tmp_path.iterdir()] == ["all.png"]
    assert (imread(tmp_path / "all.png")[..., :3] < 0.5).any(axis=2).sum() > 1000, "there is ink on it"


@pytest.mark.parametrize("command", COMMANDS)
def test_help_of_each_command_is_shown_and_done(ramphold, command):
    result = ramphold(command, "--help")
    assert result.code == 0
    assert f"usage: ramphold {command}" in result.out
    assert result.err == ""


def test_help_lists_every_command(ramphold):
    result = ramphold("--help")
    assert result.code == 0
    assert all(re.search(rf"^    {command}\b", result.out, re.MULTILINE) for command in COMMANDS)


def test_version_is_that_of_the_package(ramphold):
    assert ramphold("--version") == (0, f"ramphold {version('ramphold')}\n", "")


@pytest.mark.parametrize(
    "wrong",
    [
        ("fly",),
        ("analyse",),
        ("analyse", "a.csv", "--no-such-option"),
        ("analyse", "a.csv", "--rate", "0"),
        ("analyse", "a.csv", "--rate", "nan"),
        ("analyse", "a.csv", "--unit", "stone"),
        ("analyse", "a.csv", "--examiner-limit", "-1"),
        ("replay", "a.csv", "--speed", "0"),
        ("replay", "a.csv", "--speed", "fast"),
        ("demo", "--speed", "0.5"),
        ("demo", "--speed", "101"),
        ("record", "--sensor", "simulated"),
        ("record", "--sensor", "simulated", "--out", "a.h5", "--count", "0"),
        ("record", "--sensor", "simulated", "--out", "a.h5", "--battery", "arm", "--side", "left"),
        ("check",),
        ("check", "simulated", "--weights", "5"),
        ("check", "simulated", "--weights", "5,5"),
        ("check", "simulated", "--weights", "0,five"),
        ("check", "simulated", "--weights", "0,nan"),
        ("check", "simulated", "--weights", "0,-5"),
        ("check", "simulated", "--latitude", "91"),
        ("check", "simulated", "--height", "500"),
        ("check", "simulated", "--gravity", "9.81", "--latitude", "50"),
        ("check", "simulated", "--save", "a.toml"),
        ("check", "simulated", "--seconds", "0"),
    ],
    ids=" ".join,
)
def test_wrong_usage_is_told_with_exit_code_2(ramphold, tmp_path, monkeypatch, wrong):
    monkeypatch.chdir(tmp_path)
    result = ramphold(*wrong)
    assert result.code == 2
    assert result.out == ""
    assert result.err.startswith("usage: ramphold")
    assert "error: " in result.err.splitlines()[-1]
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("names", [NAMES, ["good"]], ids=["more than a buffer", "less"])
def test_output_that_nobody_reads_ends_quietly(names):
    paths = [str(SAMPLES / f"{name}.csv") for name in names]
    with subprocess.Popen(
        [sys.executable, "-m", "ui", "analyse", "--json", *paths],
        cwd=ROOT,
        env=BUFFERED,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as program:
        program.stdout.close()
        said = program.stderr.read().splitlines()
    # a busy computer says how far it is
    assert [line for line in said if not re.fullmatch(r"\d+ of \d+ files", line)] == []
    assert program.returncode == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_output_that_cannot_be_written_is_told_in_a_sentence():
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "ui", "analyse", str(SAMPLES / "good.csv")],
            cwd=ROOT,
            env=BUFFERED,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 1
    assert done.stderr == "ramphold: the output cannot be written: No space left on device\n"


def test_samples_are_what_the_generator_writes_now(tmp_path):
    command = [sys.executable, "-m", "acquire.simulation.samples", str(tmp_path)]
    subprocess.run(command, cwd=ROOT, check=True, timeout=100)
    assert sorted(path.name for path in tmp_path.iterdir()) == [f"{name}.csv" for name in NAMES]
    for path in tmp_path.iterdir():
        assert path.read_bytes() == (SAMPLES / path.name).read_bytes(), path.name


@pytest.mark.parametrize("name", NAMES)
def test_sample_says_in_its_first_line_that_it_is_invented(name):
    first = (SAMPLES / f"{name}.csv").read_text().splitlines()[0]
    assert re.fullmatch(r"# Invented: \w.+\.", first)
