"""Kill -9 at random instants: what was reported as written is there, whole.

This is a process dying, not the power: what the system had not brought to the disk stays in its cache.
"""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from whole_journal import read_journal

import acquire
from acquire.storage.journal import ChunkRecord
from acquire.storage.session_file import read_session
from acquire.storage.walk import session_paths

KILLS = 25

# One program starts a writer for each folder in turn, by fork, so that the imports are paid for once. A writer
# reports on the pipe only after the call returned.
WRITERS = """
import datetime, os, pathlib, sys
import numpy as np
from acquire.storage import hdf5
from acquire.storage.session_file import write_session
from acquire.values.calibration import Calibration
from acquire.storage.journal import JournalWriter
from acquire.values.records import Session, SessionContext, Trial

def report(text):
    os.write(1, (text + "\\n").encode())

def write(folder):
    report(f"pid {os.getpid()}")
    calibration = Calibration(newtons_per_count=0.5, rated_force_n=500.0)
    context = SessionContext(session="s", started=datetime.datetime(2026, 3, 2, tzinfo=datetime.timezone.utc))
    session = Session(context=context)
    with JournalWriter(folder / "s.journal", {"session": "s"}) as journal:
        report("synced 0")
        for number in range(1, 500):
            for chunk in range(3 * number - 2, 3 * number + 1):
                journal.chunk(chunk / 8, bytes([chunk % 256]) * (chunk * 37 % 5000))
            journal.sync()
            report(f"synced {3 * number}")
            counts = np.full(3000, number, dtype=np.int32)
            trial = Trial(time=np.arange(3000.0), counts=counts, calibration=calibration, zero_counts=0.0)
            session = session.with_trial(trial)
            write_session(folder / "s.h5", session)
            report(f"saved {number}")

for folder in sys.argv[1:]:
    child = os.fork()
    if child == 0:
        try:
            write(pathlib.Path(folder))
        finally:
            os._exit(1)
    report(f"dead {os.waitpid(child, 0)[1]}")
"""


def spin(seconds):
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        pass


def kill_one(reports, rng):
    """Kill the next writer at a random instant after a random number of reports; return what it reported last."""
    last = {"synced": 0, "saved": 0}
    pid, left = None, rng.randrange(2, 14)  # its name, and that the journal is open, come first
    for line in reports:
        word, number = line.split()
        if word == "dead":
            assert int(number) == signal.SIGKILL
            return last
        if word == "pid":
            pid = int(number)
        else:
            last[word] = int(number)
        left -= 1
        if left == 0:
            spin(rng.random() * 0.006)
            os.kill(pid, signal.SIGKILL)
    raise AssertionError("the writers ended early")


def check_session(folder, saved):
    paths = list(session_paths(folder))
    assert [path.name for path in paths] == ["s.h5"] or (not paths and saved == 0)
    for path in paths:
        trials = read_session(path).trials
        assert saved <= len(trials) <= saved + 1
        for number, trial in enumerate(trials, start=1):
            assert np.array_equal(trial.counts, np.full(3000, number))
            assert np.array_equal(trial.time, np.arange(3000.0))


def check_journal(folder, synced):
    journal = read_journal(folder / "s.journal")
    assert journal.header == {"session": "s"}
    assert synced <= len(journal.records) <= synced + 3
    for number, record in enumerate(journal.records, start=1):
        assert record == ChunkRecord(number / 8, bytes([number % 256]) * (number * 37 % 5000))


@pytest.mark.slow
def test_killed_writer_loses_nothing_it_reported(tmp_path):
    rng = random.Random(20260302)
    folders = [tmp_path / f"{number:02d}" for number in range(KILLS)]
    for folder in folders:
        folder.mkdir()
    command = [sys.executable, "-c", WRITERS, *map(str, folders)]
    root = Path(acquire.__file__).parent.parent
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=root, text=True) as writers:
        try:
            ends = [kill_one(writers.stdout, rng) for _ in folders]
        finally:
            writers.kill()
    for folder, last in zip(folders, ends, strict=True):
        check_session(folder, last["saved"])
        check_journal(folder, last["synced"])
    assert sum(last["saved"] for last in ends) > KILLS
