"""What a journal holds is what the recorder gave, whatever broke it off; no trial is lost, none kept twice."""

import os
import random
import signal
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import msgspec
import numpy as np
import pytest

import acquire
from acquire.decoders import PacketDecoder
from acquire.errors import ArchiveError, LinkError, LinkFailure
from acquire.links import ReplayLink
from acquire.sensor.profile import load_profile
from acquire.simulation.device import Device
from acquire.simulation.efforts import Effort, recording
from acquire.storage.journal import MAGIC, ChunkRecord, JournalWriter, holds_nothing, read_journal
from acquire.storage.session_file import read_session
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import (
    Failed,
    Finished,
    Recorder,
    TrialRecorded,
)
from acquire.stream.recovery import JournalHeader, recover
from acquire.values.records import SessionContext, TrialContext
from acquire.values.remarks import TrialEnd
from analysis.trial.protocol import load_protocol
from ui.session.crash import journal_path, put_empty_aside, recover_store
from ui.session.live import Verdict
from ui.session.recording import every_effort
from ui.session.store import open_store

LIMIT_S = 20.0
KILLS = 8
"""Half of them are one for each of four trials."""
SPEED = 20.0
PROTOCOL = load_protocol("ramp-and-hold")
MORNING = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
SESSION = SessionContext(session="s-1", started=MORNING)
LEFT, RIGHT, BELT = TrialContext(side="left"), TrialContext(side="right"), TrialContext(method="belt")
PERSON = Effort(ramp_s=1.0, hold_s=1.5, rest_before_s=2.0, rest_after_s=2.0)


def profile(name):
    return msgspec.structs.replace(load_profile(name), start="", stop="")


def measured(sensor, *efforts, seed=1):
    force = recording(efforts, rate_hz=sensor.rate_hz, seed=seed).force
    return np.rint(force * sensor.counts_per_newton).astype(np.int32)


def chunks(sensor, counts, *, later=0.0, seed=3):
    """What arrives, some ten milliseconds at a time and cut anywhere."""
    chance = random.Random(seed)
    waiting, arrived = b"", []
    for due, data in Device(sensor, counts, samples_per_packet=16).frames():
        waiting += data
        if chance.random() < 0.3:
            cut = chance.randrange(len(waiting))
            arrived.append((due + later, waiting[:cut]))
            waiting = waiting[cut:]
    return [*arrived, (due + later, waiting)]


class Torn(ReplayLink):
    """A recording at whose end the plug is pulled."""

    finished = False

    def chunks(self):
        due = super().chunks()
        if not due:
            raise LinkError("unplugged", port=self.port, reason=LinkFailure.UNPLUGGED)
        return due


def recorded(path, sensor, link, *, plan=(LEFT, RIGHT, BELT), reopen=None):
    """Record a link with a journal; return the trials that the recorder gave."""
    pipeline = Pipeline(sensor, sensor.nominal_calibration())
    recorder = Recorder(link, pipeline, journal=JournalWriter(path, header(sensor)), reopen=reopen)
    recorder.plan(*plan)
    recorder.start()
    trials = []
    while True:
        event = recorder.next_event(LIMIT_S)
        assert event is not None, "nothing happened in time"
        if isinstance(event, TrialRecorded):
            trials.append(event.trial)
        if isinstance(event, Finished | Failed):
            return trials + recorder.stop()


class Jump:
    """A clock that stands still at zero when first read, and so many seconds later from then on."""

    def __init__(self, seconds):
        self.seconds = iter([0.0])
        self.later = seconds

    def __call__(self):
        return next(self.seconds, self.later)


def until(condition):
    """Wait for a condition; fail when it does not come true in time."""
    end = time.monotonic() + LIMIT_S
    while not condition():
        assert time.monotonic() < end, "the condition did not come true in time"
        time.sleep(0.001)


def header(sensor):
    return JournalHeader(session=SESSION, profile=sensor, calibration=sensor.nominal_calibration(), began=MORNING)


def alike(one, other):
    """Whether two trials are the very same but for when, by the wall clock, they began."""
    return (
        one.counts.dtype == other.counts.dtype
        and np.array_equal(one.counts, other.counts)
        and np.array_equal(one.time, other.time)
        and one.zero_counts == other.zero_counts
        and one.calibration == other.calibration
        and one.damage == other.damage
        and undated(one) == undated(other)
    )


def undated(trial):
    return msgspec.structs.replace(trial.context, started=None)


def check_same(found, live):
    assert all(alike(one, other) for one, other in zip(found.trials, live, strict=True))


SENSORS = pytest.mark.parametrize("name", ["bridge-80", "bridge-320", "packets-1k"])


# a journal that was closed


@SENSORS
def test_journal_closed_in_order_gives_the_same_trials(tmp_path, name):
    sensor = profile(name)
    arrived = chunks(sensor, measured(sensor, PERSON, PERSON, PERSON, PERSON))
    live = recorded(tmp_path / "j", sensor, ReplayLink(arrived, speed=float("inf")))
    found = recover(tmp_path / "j")
    assert [undated(trial) for trial in live] == [LEFT, RIGHT, BELT, BELT]
    check_same(found, live)
    assert (found.session, found.torn) == (SESSION, 0)


def test_recovered_trials_began_when_they_did(tmp_path):
    sensor = profile("packets-1k")
    arrived = chunks(sensor, measured(sensor, PERSON, PERSON), later=1000.0)
    recorded(tmp_path / "j", sensor, ReplayLink(arrived, speed=float("inf")))
    first, second = recover(tmp_path / "j").trials
    for trial in (first, second):
        began = MORNING + timedelta(seconds=1000.0 + trial.time[0])
        assert abs(trial.context.started - began) < timedelta(seconds=0.1)


@SENSORS
def test_spoilt_bytes_give_the_same_trials(tmp_path, name):
    sensor = profile(name)
    chance, arrived = random.Random(8), []
    for at, data in chunks(sensor, measured(sensor, PERSON, PERSON)):
        spoil = chance.random() < 0.03
        arrived.append((at, data.replace(data[:1], b"\x7f") if spoil else data))
    live = recorded(tmp_path / "j", sensor, ReplayLink(arrived, speed=float("inf")))
    assert sum(len(trial.damage) for trial in live) > 3
    check_same(recover(tmp_path / "j"), live)


@SENSORS
def test_unplugged_and_back_gives_the_same_trials(tmp_path, name):
    sensor = profile(name)
    counts = measured(sensor, PERSON)
    half = len(counts) // 2
    again = chunks(sensor, counts, later=30.0)
    live = recorded(
        tmp_path / "j",
        sensor,
        Torn(chunks(sensor, counts[:half], later=10.0), speed=float("inf")),
        reopen=lambda: ReplayLink(again, speed=float("inf")),
    )
    assert [trial.damage for trial in live] == [(TrialEnd.LINK_LOST,), ()]
    check_same(recover(tmp_path / "j"), live)


def test_unplugged_for_good_gives_the_same_trials(tmp_path):
    sensor = profile("packets-1k")
    counts = measured(sensor, PERSON)
    live = recorded(tmp_path / "j", sensor, Torn(chunks(sensor, counts[: len(counts) // 2]), speed=float("inf")))
    assert [trial.damage for trial in live] == [(TrialEnd.LINK_LOST,)]
    check_same(recover(tmp_path / "j"), live)


def test_end_within_a_trial_gives_the_same_trial(tmp_path):
    sensor = profile("packets-1k")
    counts = measured(sensor, PERSON)
    half = ReplayLink(chunks(sensor, counts[: len(counts) // 2]), speed=float("inf"))
    live = recorded(tmp_path / "j", sensor, half)
    assert [trial.damage for trial in live] == [()]
    check_same(recover(tmp_path / "j"), live)


def test_stopped_within_a_trial_gives_the_same_trial(tmp_path):
    sensor = profile("packets-1k")
    counts = measured(sensor, PERSON)[:4000]
    waiting = [*chunks(sensor, counts), (1e9, b"")]
    pipeline = Pipeline(sensor, sensor.nominal_calibration())
    recorder = Recorder(
        ReplayLink(waiting, clock=Jump(1e6)), pipeline, journal=JournalWriter(tmp_path / "j", header(sensor))
    )
    recorder.start()
    until(lambda: pipeline.ring.written == 4000)
    live = recorder.stop()
    assert [trial.damage for trial in live] == [(TrialEnd.STOPPED,)]
    check_same(recover(tmp_path / "j"), live)


def test_new_plan_while_a_trial_ends_is_the_same_for_both(tmp_path):
    """The examiner goes on to the other side in the very moment in which the effort is cut."""
    sensor = profile("packets-1k")

    planner = threading.Thread(target=lambda: recorder.plan(RIGHT))

    class Meanwhile(Pipeline):
        def feed(self, arrival, data):
            trials = super().feed(arrival, data)
            if trials:
                planner.start()
                planner.join(0.1)  # it may have to wait until the trial is told
            return trials

    arrived = chunks(sensor, measured(sensor, PERSON))
    recorder = Recorder(
        ReplayLink(arrived, speed=float("inf")),
        Meanwhile(sensor, sensor.nominal_calibration()),
        journal=JournalWriter(tmp_path / "j", header(sensor)),
    )
    recorder.plan(LEFT)
    recorder.start()
    live = recorder.next_event(LIMIT_S).trial
    assert recorder.next_event(LIMIT_S) == Finished()
    planner.join(LIMIT_S)
    recorder.stop()
    check_same(recover(tmp_path / "j"), [live])


# a journal that was torn


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A journal of three trials with a lost link in between: its bytes, and what each of its records completed."""
    sensor, path = profile("bridge-320"), tmp_path_factory.mktemp("whole") / "j"
    counts = measured(sensor, PERSON, PERSON)
    again = chunks(sensor, measured(sensor, PERSON, seed=2), later=40.0)
    live = recorded(
        path,
        sensor,
        Torn(chunks(sensor, counts[: len(counts) * 3 // 4]), speed=float("inf")),
        reopen=lambda: ReplayLink(again, speed=float("inf")),
    )
    assert [trial.damage for trial in live] == [(), (TrialEnd.LINK_LOST,), ()]
    return path.read_bytes(), live


def record_ends(data):
    """Where each record ends, the header first; read by the format, not by the program."""
    ends, at = [], len(MAGIC)
    while at < len(data):
        at += 4 + 1 + int.from_bytes(data[at : at + 4], "little") + 4
        ends.append(at)
    return ends


def check_cut(path, whole, length):
    """Hold what a cut journal gives to what the recorder gave."""
    data, live = whole
    path.write_bytes(data[:length])
    found = recover(path)
    last_end = max(end for end in record_ends(data) if end <= length)
    assert found.torn == length - last_end
    finished = [trial for trial in found.trials if TrialEnd.CRASHED not in trial.damage]
    check_prefix(found.trials, finished, live)
    assert undated_all(found.trials) == [LEFT, RIGHT, BELT][: len(found.trials)]
    return len(finished)


def check_prefix(found, finished, live):
    assert all(alike(one, other) for one, other in zip(finished, live, strict=False))
    assert len(found) - len(finished) in (0, 1)
    if len(found) > len(finished):
        under_way, complete = found[-1], live[len(finished)]
        kept = len(under_way.counts)
        assert under_way.damage == (TrialEnd.CRASHED,)
        assert 0 < kept <= len(complete.counts)
        assert np.array_equal(under_way.counts, complete.counts[:kept])
        assert np.array_equal(under_way.time, complete.time[:kept])
        assert under_way.zero_counts == complete.zero_counts


def undated_all(trials):
    return [undated(trial) for trial in trials]


def test_journal_cut_anywhere_gives_what_was_complete(tmp_path, whole):
    data, live = whole
    chance = random.Random(20260302)
    header_end = record_ends(data)[0]
    lengths = sorted(chance.randrange(header_end, len(data)) for _ in range(40))
    complete = [check_cut(tmp_path / "j", whole, length) for length in [*lengths, len(data)]]
    assert complete == sorted(complete)
    assert complete[0] == 0
    assert complete[-1] == len(live)


@pytest.mark.parametrize("into", ["length", "kind", "payload", "checksum", "boundary"])
def test_journal_cut_within_a_record_gives_what_came_before_it(tmp_path, whole, into):
    ends = record_ends(whole[0])
    (start, end) = next(pair for pair in pairwise(ends[len(ends) // 2 :]) if pair[1] - pair[0] > 60)
    at = {"length": start + 2, "kind": start + 4, "payload": start + 30, "checksum": end - 2, "boundary": start}
    check_cut(tmp_path / "j", whole, at[into])


@pytest.mark.parametrize("kept", [0, 5, len(MAGIC)])
def test_journal_cut_in_its_head_is_refused(tmp_path, whole, kept):
    (tmp_path / "j").write_bytes(whole[0][:kept])
    with pytest.raises(ArchiveError, match=r"j: (is not a journal|its header is damaged)"):
        recover(tmp_path / "j")


def test_wrong_bit_in_a_journal_ends_it_there(tmp_path, whole):
    data = bytearray(whole[0])
    ends = record_ends(data)
    middle = len(ends) // 2
    data[ends[middle] + 20] ^= 0x10
    (tmp_path / "j").write_bytes(data)
    found = recover(tmp_path / "j")
    assert found.torn == len(data) - ends[middle]
    check_prefix(found.trials, [trial for trial in found.trials if TrialEnd.CRASHED not in trial.damage], whole[1])


def test_header_of_another_kind_is_refused(tmp_path):
    JournalWriter(tmp_path / "j", {"session": "s"}).close()
    with pytest.raises(ArchiveError, match=r"j: the header of this journal cannot be used: .*session"):
        recover(tmp_path / "j")


# the session file


def test_followed_recording_leaves_no_journal(tmp_path):
    sensor, path = profile("packets-1k"), tmp_path / "s.h5"
    arrived = chunks(sensor, measured(sensor, PERSON, PERSON))
    store = open_store(path, SESSION, PROTOCOL, resume=False)
    recorder = Recorder(
        ReplayLink(arrived, speed=float("inf")),
        Pipeline(sensor, sensor.nominal_calibration()),
        journal=JournalWriter(journal_path(path), header(sensor)),
    )
    judged = [event for event in every_effort(recorder, store) if isinstance(event, Verdict)]
    assert len(judged) == len(read_session(path).trials) == 2
    assert recover_store(path, PROTOCOL) is None
    assert [file.name for file in tmp_path.iterdir()] == ["s.h5"]


@pytest.mark.parametrize("saved", [0, 1, 2, 3])
def test_trials_that_were_saved_are_not_saved_again(tmp_path, saved):
    """As when the program ended, or recovery itself was broken off, with some of the trials in the file."""
    sensor, path = profile("packets-1k"), tmp_path / "s.h5"
    arrived = chunks(sensor, measured(sensor, PERSON, PERSON, PERSON))
    live = recorded(journal_path(path), sensor, ReplayLink(arrived, speed=float("inf")))
    store = open_store(path, SESSION, PROTOCOL, resume=False)
    for trial in live[:saved]:
        store.add(trial)
    recovered, missing = recover_store(path, PROTOCOL)
    assert missing == 3 - saved
    trials = read_session(path).trials
    assert all(np.array_equal(one.counts, other.counts) for one, other in zip(trials, live, strict=True))
    assert all(trial.verdict["verdict"] for trial in trials)
    assert len(recovered.session.trials) == 3
    assert recover_store(path, PROTOCOL) is None


def test_every_journal_cut_in_its_head_holds_nothing_and_no_other_does(tmp_path, whole):
    data = whole[0]
    path, end = tmp_path / "j", record_ends(data)[0]
    lengths = [*range(len(MAGIC) + 8), end - 1, end, end + 1]
    for length in lengths:
        path.write_bytes(data[:length])
        assert holds_nothing(path) is (length < end)


@pytest.mark.parametrize("content", [b"my notes", b"ramphold-journal 2\nsomething", MAGIC + b"\xff" * 50])
def test_file_that_is_something_else_is_no_empty_journal(tmp_path, content):
    (tmp_path / "j").write_bytes(content)
    assert not holds_nothing(tmp_path / "j")


def test_journal_that_holds_nothing_is_put_aside(tmp_path, whole):
    path = tmp_path / "s.h5"
    journal_path(path).write_bytes(whole[0][:25])
    assert put_empty_aside(path) == [tmp_path / "s.h5.journal.empty"]
    assert [file.name for file in tmp_path.iterdir()] == ["s.h5.journal.empty"]
    assert recover_store(path, PROTOCOL) is None
    assert put_empty_aside(path) == []


def test_journal_that_cannot_be_read_is_told_with_what_to_do(tmp_path):
    path = tmp_path / "s.h5"
    journal_path(path).write_bytes(b"my notes of the day, which are no journal\n")
    assert put_empty_aside(path) == []
    with pytest.raises(ArchiveError, match=r"s\.h5\.journal: is not a journal; move it away to begin anew, or choose"):
        recover_store(path, PROTOCOL)


def test_journal_without_a_trial_makes_no_file(tmp_path):
    sensor, path = profile("packets-1k"), tmp_path / "s.h5"
    rest = np.zeros(3000, dtype=np.int32)
    recorded(journal_path(path), sensor, ReplayLink(chunks(sensor, rest), speed=float("inf")))
    store, missing = recover_store(path, PROTOCOL)
    assert (missing, store.session.trials) == (0, ())
    assert list(tmp_path.iterdir()) == []


def test_journal_that_is_being_written_is_not_recovered(tmp_path):
    sensor, path = profile("packets-1k"), tmp_path / "s.h5"
    with JournalWriter(journal_path(path), header(sensor)):
        before = journal_path(path).read_bytes()
        with pytest.raises(ArchiveError, match=r"s\.h5\.journal: another program is recording into it right now; end"):
            recover_store(path, PROTOCOL)
        assert journal_path(path).read_bytes() == before
        assert not path.exists()
    assert recover_store(path, PROTOCOL) is not None
    assert list(tmp_path.iterdir()) == []


# kill -9

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
from ui.session.live import Verdict
from ui.session.recording import every_effort
from ui.session.store import open_store
from acquire.values.remarks import TrialEnd

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
