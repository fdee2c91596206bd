"""`ramphold demo --board`: the demo through the reference firmware, as a program of its own."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from acquire.simulation.scenario import demo_scenario
from acquire.storage.session_file import read_session

ROOT = Path(__file__).parents[3]

pytestmark = pytest.mark.timeout(100)


def run(folder, *options, **environment):
    return subprocess.run(
        [sys.executable, "-m", "ui", "demo", "--board", "--out", "results", "--speed", "100", *options],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(folder / "cache"), **environment},
        capture_output=True,
        text=True,
        check=False,
        timeout=90,
    )


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo-board")
    done = run(folder, "--json")
    assert done.returncode == 0, done.stderr
    return folder, json.loads(done.stdout)


def test_board_is_built_into_the_cache_folder_and_nowhere_else(demo):
    folder, _ = demo
    assert [path.name for path in folder.iterdir() if path.name != "results"] == ["cache"]
    (built,) = (folder / "cache/ramphold").iterdir()
    assert {"board", "sensor.elf"} <= {path.name for path in built.iterdir()}


def test_session_says_which_sensor_it_was(demo):
    folder, _ = demo
    assert read_session(folder / "results/session.h5").context.sensor == "board-packets"


def test_each_trial_comes_out_as_it_was_played(demo):
    folder, content = demo
    trials = read_session(folder / "results/session.h5").trials
    for planned, trial in zip(demo_scenario(), trials, strict=True):
        assert trial.damage == ()
        assert trial.trace().lost == 0
        assert 80.0 < trial.trace().sample_rate < 84.0, "by its own clock, 2 % fast"
        if trial.verdict["verdict"] == "accepted":
            assert trial.verdict["plateau_force_n"] == pytest.approx(planned.effort.plateau_n, rel=0.03)
    assert len(content["files"][0]["trials"]) == len(trials)


def test_what_is_rejected_is_what_was_meant_to_be(demo):
    folder, _ = demo
    trials = read_session(folder / "results/session.h5").trials
    rejected = [number for number, trial in enumerate(trials, start=1) if trial.verdict["verdict"] == "rejected"]
    assert rejected == [3, 5, 7, 8, 9, 10, 12, 15]


def test_without_the_compilers_it_says_what_to_install(tmp_path):
    done = run(tmp_path, PATH=str(tmp_path))
    assert done.returncode == 1
    assert done.stdout == ""
    (sentence,) = done.stderr.splitlines()
    assert "apt-get install make gcc libc6-dev libsimavr-dev libelf-dev gcc-avr avr-libc" in sentence
    assert not (tmp_path / "results/session.h5").exists()


def test_board_in_the_window_is_wrong_usage(tmp_path):
    done = run(tmp_path, "--window")
    assert done.returncode == 2
    assert "give --board or --window, not both" in done.stderr
