"""Recordings killed at any instant: every trial that was complete is there, and at most 0.1 s is missing."""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from journals import (
    PERSON,
    PROTOCOL,
    measured,
)
from whole_journal import read_journal

import acquire
from acquire.decoders import PacketDecoder
from acquire.sensor.profile import load_profile
from acquire.simulation.device import Device
from acquire.storage.journal import ChunkRecord
from acquire.storage.session_file import read_session
from acquire.stream.pipeline import Pipeline
from acquire.values.remarks import TrialEnd
from ui.session.crash import journal_path, recover_store

KILLS = 8
"""Half of them are one for each of four trials."""
SPEED = 20.0
# One program starts a recording for each folder in turn, by fork, so that the imports are paid for once. It
# reports what it has received before it does anything with it, and what it has saved after that.
RECORDINGS = """
import json, os, pathlib, sys
import numpy as np
from datetime import UTC, datetime
import h5py, analysis.trial.verdict
from acquire.storage.journal import JournalWriter
from acquire.links import SimulatedLink
from acquire.stream.pipeline import Pipeline
from acquire.sensor.profile import load_profile
from acquire.stream.recorder import Recorder
from acquire.stream.recovery import JournalHeader
from acquire.values.records import SessionContext
from analysis.trial.protocol import load_protocol
from ui.session.crash import journal_path
from ui.session.events import Verdict
from ui.session.recording import every_effort
from ui.session.store import open_store

def report(what, number):
    os.write(1, f"{what} {number}\\n".encode())

class Counted(SimulatedLink):
    received = 0

    def chunks(self):
        report("taken", self.received)
        arrived = super().chunks()
        self.received += sum(len(chunk.data) for chunk in arrived)
        report("received", self.received)
        return arrived

def record(folder):
    report("pid", os.getpid())
    profile, path = load_profile("simulated"), folder / "s.h5"
    context = SessionContext(session=folder.name, started=datetime.now(UTC))
    protocol, calibration = load_protocol("ramp-and-hold"), profile.nominal_calibration()
    store = open_store(path, context, protocol, resume=False)
    with Counted(profile, np.load(folder.parent / "counts.npy"), speed=float(sys.argv[1])) as link:
        header = JournalHeader(session=context, profile=profile, calibration=calibration, began=datetime.now(UTC))
        journal = JournalWriter(journal_path(path), header)
        recorder = Recorder(link, Pipeline(profile, calibration), journal=journal)
        for event in every_effort(recorder, store):
            if isinstance(event, Verdict):
                report("saved", len(store.session.trials))

for folder in sys.argv[2:]:
    child = os.fork()
    if child == 0:
        try:
            record(pathlib.Path(folder))
        finally:
            os._exit(1)
    report("dead", os.waitpid(child, 0)[1])
"""


def kill_one(reports, after, spin):
    """Kill the next recording once it has received so many bytes; return what it reported last."""
    last, pid = {"taken": 0, "received": 0, "saved": 0}, None
    for line in reports:
        what, number = line.split()
        if what == "dead":
            assert int(number) == signal.SIGKILL
            return last
        if what == "pid":
            pid = int(number)
            continue
        last[what] = int(number)
        if pid and last["received"] >= after:
            end = time.perf_counter() + spin
            while time.perf_counter() < end:
                pass
            os.kill(pid, signal.SIGKILL)
            pid = None
    raise AssertionError("the recordings ended early")


class Reference:
    """What is to be expected of so many samples, from the samples themselves."""

    def __init__(self, sensor, counts):
        self.sensor = sensor
        self.counts = counts
        self.frames = [data for _, data in Device(sensor, counts).frames()]
        pipeline = Pipeline(sensor, sensor.nominal_calibration())
        self.trials, self.complete_at = [], []
        for number, data in enumerate(self.frames, start=1):
            found = pipeline.feed(0.01 * number, data)
            self.trials += found
            self.complete_at += [10 * number] * len(found)

    def under_way(self, samples):
        """Return whether the stream, ended after so many samples, ends within a trial."""
        pipeline = Pipeline(self.sensor, self.sensor.nominal_calibration())
        pipeline.feed(0.001 * samples, b"".join(self.frames[: samples // 10]))
        return len(pipeline.finish()) == 1

    def check(self, trials, samples):
        """Hold recovered trials to those that so many samples make."""
        finished = sum(at <= samples for at in self.complete_at)
        for trial, expected in zip(trials[:finished], self.trials, strict=False):
            assert trial.damage == ()
            np.testing.assert_array_equal(trial.counts, expected.counts)
            np.testing.assert_array_equal(trial.time, expected.time)
        under_way = self.under_way(samples)
        assert len(trials) == finished + under_way
        if under_way:
            assert trials[-1].damage == (TrialEnd.CRASHED,)
            start = round(trials[-1].time[0] * self.sensor.rate_hz)
            np.testing.assert_array_equal(trials[-1].counts, self.counts[start:samples])
        return under_way


def check_recovered(folder, last, reference):
    """Check what one killed recording left; return the bytes missing, and whether a trial was under way."""
    path = folder / "s.h5"
    journal = read_journal(journal_path(path))
    data = b"".join(record.data for record in journal.records if isinstance(record, ChunkRecord))
    # what was handed over and dealt with is there to the last byte; what had just come may not be
    assert last["taken"] <= len(data)
    missing = max(0, last["received"] - len(data))
    saved = read_session(path).trials if path.exists() else ()
    assert len(saved) >= last["saved"]

    _, added = recover_store(path, PROTOCOL)
    samples = sum(len(packet.counts) for packet in PacketDecoder().feed(data))
    trials = read_session(path).trials if path.exists() else ()
    assert len(trials) == len(saved) + added
    assert all(np.array_equal(one.counts, other.counts) for one, other in zip(saved, trials, strict=False))
    under_way = reference.check(trials, samples)
    assert not journal_path(path).exists()
    before = path.read_bytes() if path.exists() else b""
    assert recover_store(path, PROTOCOL) is None
    assert (path.read_bytes() if path.exists() else b"") == before
    return missing, under_way


@pytest.mark.slow
def test_killed_recording_keeps_every_trial(tmp_path, record_property):
    sensor, chance = load_profile("simulated"), random.Random(20260302)
    # a long rest follows, so that none ends before it is killed
    counts = np.concatenate([measured(sensor, *[PERSON] * 4), np.zeros(40_000, dtype=np.int32)])
    reference = Reference(sensor, counts)
    total = sum(map(len, reference.frames[: -40_000 // 10]))
    # half of them anywhere, half while a trial that has just ended is on its way to the file
    instants = [chance.uniform(0.05, 1.0) * total for _ in range(KILLS // 2)]
    instants += [sum(map(len, reference.frames[: at // 10])) for at in reference.complete_at]
    chance.shuffle(instants)
    per_second = total / (len(counts) - 40_000) * sensor.rate_hz * SPEED
    np.save(tmp_path / "counts.npy", counts)
    folders = [tmp_path / f"{number:02d}" for number in range(KILLS)]
    for folder in folders:
        folder.mkdir()
    command = [sys.executable, "-c", RECORDINGS, str(SPEED), *map(str, folders)]
    root = Path(acquire.__path__[0]).parent
    # a killed recording cannot tidy up its temporary files: they go with this test's
    environment = {**os.environ, "TMPDIR": str(tmp_path)}
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=root, text=True, env=environment) as recordings:
        try:
            ends = [kill_one(recordings.stdout, after, chance.uniform(0.0, 0.01)) for after in instants]
        finally:
            recordings.kill()
    left = [check_recovered(folder, last, reference) for folder, last in zip(folders, ends, strict=True)]
    longest = max(missing for missing, _ in left) / per_second
    record_property("most_missing_s", longest)
    assert longest <= 0.1
    assert any(under_way for _, under_way in left)
    assert sum(last["saved"] for last in ends) > 0
