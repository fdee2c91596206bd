"""What a journal holds is what the recorder gave, whatever broke it off."""

import random
import threading
from datetime import timedelta
from itertools import pairwise

import numpy as np
import pytest
from journals import (
    BELT,
    LEFT,
    LIMIT_S,
    MORNING,
    PERSON,
    RIGHT,
    SESSION,
    alike,
    check_same,
    chunks,
    header,
    measured,
    profile,
    recorded,
    undated,
    until,
)

from acquire.errors import ArchiveError, LinkError, LinkFailure
from acquire.links import ReplayLink
from acquire.storage.journal import MAGIC, JournalWriter
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import (
    Finished,
    Recorder,
)
from acquire.stream.recovery import recover
from acquire.values.remarks import TrialEnd


class Torn(ReplayLink):
    """A recording at whose end the plug is pulled."""

    finished = False

    def chunks(self):
        due = super().chunks()
        if not due:
            raise LinkError("unplugged", port=self.port, reason=LinkFailure.UNPLUGGED)
        return due


class Jump:
    """A clock that stands still at zero when first read, and so many seconds later from then on."""

    def __init__(self, seconds):
        self.seconds = iter([0.0])
        self.later = seconds

    def __call__(self):
        return next(self.seconds, self.later)


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
    assert [trial.damage for trial in live] == [(TrialEnd.ENDED,)]
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
    finished = check_prefix(found.trials, live)
    assert undated_all(found.trials) == [LEFT, RIGHT, BELT][: len(found.trials)]
    return len(finished)


def check_prefix(found, live):
    """Hold what was found against what was live; return those that are whole, after which one may be under way."""
    finished = [one for one, other in zip(found, live, strict=False) if len(one.counts) == len(other.counts)]
    assert all(alike(one, other) for one, other in zip(finished, live, strict=False))
    assert len(found) - len(finished) in (0, 1)
    if len(found) > len(finished):
        under_way, complete = found[-1], live[len(finished)]
        kept = len(under_way.counts)
        force = under_way.trace().force
        released = force[-1] < 0.15 * force.max()
        assert under_way.damage == (() if released else (TrialEnd.CRASHED,))
        assert 0 < kept <= len(complete.counts)
        assert np.array_equal(under_way.counts, complete.counts[:kept])
        assert np.array_equal(under_way.time, complete.time[:kept])
        assert under_way.zero_counts == complete.zero_counts
    return finished


def undated_all(trials):
    return [undated(trial) for trial in trials]


@pytest.mark.slow
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
    check_prefix(found.trials, whole[1])


def test_header_of_another_kind_is_refused(tmp_path):
    JournalWriter(tmp_path / "j", {"session": "s"}).close()
    with pytest.raises(ArchiveError, match=r"j: the header of this journal cannot be used: .*session"):
        recover(tmp_path / "j")


ODD = (
    (float("nan"), {"plan": 5}),
    (float("inf"), {"plan": [{"side": "up"}]}),
    (-float("inf"), {"link": ["lost"]}),
    (1e300, {"link": {}}),
    (-1e300, {"x": 1}),
)


@pytest.mark.parametrize(("odd", "event"), ODD)
def test_odd_arrivals_and_plans_with_true_checksums_cost_nothing_else(tmp_path, odd, event):
    sensor = profile("packets-1k")
    arrived = chunks(sensor, measured(sensor, PERSON))
    (expected,) = recorded(tmp_path / "sound", sensor, ReplayLink(arrived, speed=float("inf")))
    with JournalWriter(tmp_path / "odd", header(sensor)) as journal:
        for number, (arrival, data) in enumerate(arrived):
            if number == 20:
                journal.event(event)
            journal.chunk(odd if number == 30 else arrival, data)
    (found,) = recover(tmp_path / "odd").trials
    assert np.array_equal(found.counts, expected.counts)
    assert abs((found.context.started - MORNING).total_seconds()) < 60.0
