"""The demo, run once as a program of its own from a folder that is not the program's."""

import json
import os
import re
import shutil
import struct
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import h5py
import msgspec
import numpy as np
import pytest
from matplotlib.image import imread

from acquire.sensor.profile import load_profile
from acquire.simulation.scenario import demo_scenario
from acquire.storage.journal import JournalWriter
from acquire.storage.session_file import read_session, write_session
from acquire.stream.recovery import JournalHeader
from acquire.values.records import Session, SessionContext

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[3]
VERDICTS = ("  accepted", "  rejected")


def rejecting(verdict):
    return {fault["code"] for fault in verdict["faults"] if fault["severity"] == "reject"}


def test_demo_is_done_and_leaves_its_three_files(demo):
    assert demo.result.code == 0
    assert demo.result.err == ""
    assert {path.name for path in demo.folder.iterdir()} == {"session.h5", "trials.txt", "trials.png"}
    for name in ("session.h5", "trials.txt", "trials.png"):
        assert f"results/{name}" in demo.result.out, "where it lies is said"


def test_demo_says_each_verdict_when_its_trial_ends(demo):
    # When the first line came there was no table yet; all lines together at the end would find both.
    assert demo.early >= {"session.h5"}
    assert not demo.early & {"trials.txt", "trials.png"}
    assert demo.first.split()[0] == "1"


def test_demo_says_that_it_is_invented(demo):
    assert "invented data; nothing below was measured on anybody" in demo.result.out
    assert read_session(demo.folder / "session.h5").context.invented is True


def test_demo_shows_the_cautions_and_that_it_is_not_calibrated(demo):
    assert "Stop at once on pain" in demo.result.out
    assert "not calibrated: " in demo.result.out
    assert "not calibrated: " in (demo.folder / "trials.txt").read_text()


def test_demo_table_has_a_row_for_each_trial(demo):
    session = read_session(demo.folder / "session.h5")
    table = (demo.folder / "trials.txt").read_text()
    rows = [line.split()[0] for line in table.splitlines() if " accepted " in line or " rejected " in line]
    assert rows == [str(number) for number in range(1, len(session.trials) + 1)]
    for code in ("fast-ramp", "preload", "examiner-pushed"):
        assert code in table


def test_demo_shows_at_least_six_faults_and_five_accepted_trials(demo):
    verdicts = [trial.verdict for trial in read_session(demo.folder / "session.h5").trials]
    assert sum(verdict["verdict"] == "accepted" for verdict in verdicts) >= 5
    assert len(set().union(*map(rejecting, verdicts))) >= 6


def test_demo_lines_are_the_stored_verdicts(demo):
    trials = read_session(demo.folder / "session.h5").trials
    lines = [line for line in demo.result.out.splitlines() if line.endswith(VERDICTS)]
    assert [line.split()[-1] for line in lines] == [trial.verdict["verdict"] for trial in trials]


def test_demo_verdicts_are_those_of_analyse(demo, ramphold):
    result = ramphold("analyse", demo.folder / "session.h5", "--json")
    stored = [dict(trial.verdict) for trial in read_session(demo.folder / "session.h5").trials]
    protocols = [verdict.pop("protocol") for verdict in stored]
    assert stored == result.trials
    assert protocols == [result.json["protocol"]] * len(stored)


def test_demo_session_is_read_by_hdf5_alone(demo):
    with h5py.File(demo.folder / "session.h5") as file:
        assert file.attrs["format"] == "ramphold-session"
        assert json.loads(file.attrs["context"])["invented"] is True
        assert len(file["trials"]) >= 11
        for trial in file["trials"].values():
            about = json.loads(trial.attrs["context"])
            time, counts = trial["time_s"][:], trial["counts"][:]
            force = (counts - about["zero_counts"]) * about["calibration"]["newtons_per_count"]
            assert (np.diff(time) > 0).all()
            assert np.median(np.diff(time)) == pytest.approx(1e-3, rel=1e-6)
            inside = (time - time[0] >= about["verdict"]["plateau_start_s"]) & (
                time - time[0] <= about["verdict"]["plateau_end_s"]
            )
            assert force[inside].mean() == pytest.approx(about["verdict"]["plateau_force_n"], rel=0.05)


def test_demo_trials_are_what_was_planned(demo):
    planned = [trial.context for trial in demo_scenario()]
    recorded = [trial.context for trial in read_session(demo.folder / "session.h5").trials]
    keys = ("action", "side", "method", "examiner", "lever_arm_m")
    assert [[getattr(c, key) for key in keys] for c in recorded] == [[getattr(c, key) for key in keys] for c in planned]


def test_demo_plateaus_are_those_that_were_played(demo):
    # From the plan, not from the trace: what was invented must come out at the end of the whole path, to 3 %.
    trials = read_session(demo.folder / "session.h5").trials
    for planned, trial in zip(demo_scenario(), trials, strict=True):
        if trial.verdict["verdict"] == "accepted":
            assert trial.verdict["plateau_force_n"] == pytest.approx(planned.effort.plateau_n, rel=0.03)


def test_demo_loses_nothing_on_the_way(demo):
    for trial in read_session(demo.folder / "session.h5").trials:
        assert trial.damage == ()
        assert trial.trace().lost == 0


def test_demo_picture_is_a_png_that_shows_something(demo):
    data = (demo.folder / "trials.png").read_bytes()
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = struct.unpack(">II", data[16:24])
    picture = imread(demo.folder / "trials.png")
    assert picture.shape[:2] == (height, width)
    assert width > 600
    assert height > 600
    red, green, blue = np.moveaxis(np.rint(255.0 * picture[..., :3]).astype(np.int64), 2, 0)
    assert len(np.unique(red << 16 | green << 8 | blue)) > 200
    ink = (picture[..., :3] < 0.9).any(axis=2)
    rows, columns = np.array_split(ink.any(axis=1), 5), np.array_split(ink.any(axis=0), 3)
    assert all(part.any() for part in (*rows, *columns)), "every panel holds something"


def leave_journal(path, session):
    """Leave the journal of a recording that was killed."""
    profile = load_profile("simulated")
    header = JournalHeader(
        session=session, profile=profile, calibration=profile.nominal_calibration(), began=session.started
    )
    JournalWriter(path, header).close()


@pytest.fixture(scope="module")
def second(tmp_path_factory, demo):
    """A second demo, as JSON, in a folder with the results of an earlier one; return that folder and the result."""
    folder = tmp_path_factory.mktemp("again")
    shutil.copytree(demo.folder, folder / "results")
    for name in ("trials.txt", "trials.png", "notes.txt"):
        (folder / "results" / name).write_text("of an earlier day\n")
    session = read_session(demo.folder / "session.h5").context
    leave_journal(folder / "results/session.h5.journal", session)
    command = [sys.executable, "-m", "ui", "demo", "--out", "results", "--speed", "100", "--json"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return folder, subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, check=True, timeout=100
    )


def test_second_demo_in_the_same_folder_replaces_the_first(second):
    folder, _ = second
    names = {path.name for path in (folder / "results").iterdir()}
    assert names == {"session.h5", "trials.txt", "trials.png", "notes.txt"}
    assert (folder / "results/notes.txt").read_text() == "of an earlier day\n"
    assert "accepted" in (folder / "results/trials.txt").read_text()
    assert (folder / "results/trials.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize("mine", ["session.h5.journal", "trials.txt", "trials.png"])
def test_demo_leaves_a_file_that_is_not_of_a_demo(ramphold, tmp_path, session_file, mine):
    path = tmp_path / "mine" / mine
    path.parent.mkdir()
    if mine == "session.h5.journal":
        leave_journal(path, msgspec.structs.replace(read_session(session_file).context, invented=False))
    else:
        path.write_text("of an earlier day\n")
    before = path.read_bytes()
    result = ramphold("demo", "--out", path.parent)
    assert result.code == 1
    assert f"{path}: is not of an earlier demo; choose another --out" in result.err
    assert path.read_bytes() == before


def test_demo_as_json_is_one_object_on_standard_output(second):
    folder, done = second
    content = json.loads(done.stdout)
    assert set(content) == {"protocol", "files", "table", "picture"}
    (file,) = content["files"]
    assert set(file) == {"file", "calibration", "trials"}
    assert len(read_session(folder / file["file"]).trials) == len(file["trials"])
    assert (content["table"], content["picture"]) == ("results/trials.txt", "results/trials.png")
    assert "invented" in done.stderr


def test_same_seed_gives_the_same_forces(demo, second):
    folder, _ = second
    pairs = zip(*(read_session(path / "session.h5").trials for path in (demo.folder, folder / "results")), strict=True)
    assert all((one.counts == other.counts).all() for one, other in pairs)


def test_demo_interrupted_at_its_first_verdict_ends_in_good_order(started, tmp_path):
    program = started("demo", "--out", "results", "--speed", 10)
    program.out.until("  accepted")
    program.press_ctrl_c()
    result = program.wait()
    assert result.code == 0
    assert result.err == ""
    trials = read_session(tmp_path / "results/session.h5").trials
    assert 1 <= len(trials) <= 6, "the verdict came while the rest was still to be played"
    assert {path.name for path in (tmp_path / "results").iterdir()} == {"session.h5", "trials.txt", "trials.png"}


@pytest.mark.parametrize("content", [b"precious", None])
def test_session_of_somebody_in_the_folder_is_not_overwritten(ramphold, tmp_path, content):
    path = tmp_path / "session.h5"
    if content is None:
        write_session(path, Session(context=SessionContext(session="0" * 16, started=datetime.now(UTC))))
        content = path.read_bytes()
    path.write_bytes(content)
    result = ramphold("demo", "--out", tmp_path, "--speed", "100")
    assert result.code == 1
    assert "is not of an earlier demo; choose another --out" in result.err
    assert path.read_bytes() == content


def test_demo_over_a_bad_link_says_what_was_done_and_what_was_seen(ramphold, tmp_path, demo):
    """In a folder where an earlier one was killed as it began, which is no dead end."""
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad/session.h5.journal").write_bytes(b"ramphold-jour")
    result = ramphold("demo", "--out", tmp_path / "bad", "--speed", "100", "--disturb", "noisy-cable")
    assert result.code == 0, result.err
    assert "over a bad link: a serial line with a loose plug beside a motor" in result.out
    done, seen = re.search(r"the bad link did this to frames: (.*); the program saw (.*)", result.err).groups()
    assert {kind.split()[0] for kind in done.split(", ")} == {"corrupt", "drop", "split"}
    lost, gaps, damaged = (int(number) for number in re.findall(r"\d+", seen)[:3])
    assert damaged >= int(re.search(r"corrupt (\d+)", done).group(1)), "every damaged frame is seen"
    assert lost >= 10 * int(re.search(r"drop (\d+)", done).group(1)), "packets of ten"
    assert gaps > 0
    bad, good = (read_session(folder / "session.h5") for folder in (tmp_path / "bad", demo.folder))
    assert [trial.context.action for trial in bad.trials] == [trial.context.action for trial in good.trials]
    assert sum(trial.verdict["verdict"] == "accepted" for trial in bad.trials) >= 3
    for over, well in zip(bad.trials, good.trials, strict=True):
        if over.verdict["verdict"] == "accepted":
            plateau = "plateau_force_n"
            assert over.verdict[plateau] == pytest.approx(well.verdict[plateau], rel=0.002)
    assert {phrase for trial in bad.trials for phrase in trial.damage} >= {"bad checksum", "bad COBS"}
    codes = {fault["code"] for trial in bad.trials for fault in trial.verdict["faults"]}
    assert "lost-samples" in codes - {fault["code"] for trial in good.trials for fault in trial.verdict["faults"]}


def test_demo_over_an_unknown_link_says_what_there_is_and_removes_nothing(ramphold, tmp_path):
    (tmp_path / "trials.txt").write_text("of an earlier day\n")
    result = ramphold("demo", "--out", tmp_path, "--disturb", "sunspots")
    assert result.code == 1
    assert "no disturbance called sunspots" in result.err
    assert "bad-bluetooth, busy-computer, noisy-cable" in result.err
    assert (tmp_path / "trials.txt").exists()


@pytest.mark.parametrize("other", ["--window", "--seasons"])
def test_demo_over_a_bad_link_is_on_the_command_line_only(ramphold, tmp_path, other):
    result = ramphold("demo", "--out", tmp_path, "--disturb", "bad-bluetooth", other)
    assert result.code == 2
    assert "--disturb is for the session on the command line" in result.err
