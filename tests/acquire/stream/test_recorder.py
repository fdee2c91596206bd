"""The recorder: trials as events, whatever happens to the link. Nothing here waits but for a condition."""

import threading
import time
from collections import Counter
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import msgspec
import numpy as np
import pytest

from acquire.errors import ArchiveError, LinkError, LinkFailure
from acquire.links import ReplayLink, SerialLink, SimulatedLink
from acquire.sensor.profile import load_profile
from acquire.simulation.device import Device
from acquire.simulation.efforts import Effort, recording
from acquire.simulation.pty import PseudoTerminal
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import (
    Failed,
    Finished,
    JournalTrouble,
    LinkBack,
    LinkHeard,
    LinkLost,
    LinkSilent,
    Recorder,
    TrialRecorded,
    Unsettled,
)
from acquire.values.records import TrialContext
from acquire.values.remarks import TrialEnd

LIMIT_S = 20.0
PROFILE = msgspec.structs.replace(load_profile("packets-1k"), start="", stop="")
"""A sensor that waits for no command."""
PERSON = Effort(ramp_s=1.0, hold_s=1.5)
LEFT, RIGHT, BELT = TrialContext(side="left"), TrialContext(side="right"), TrialContext(method="belt")

pytestmark = pytest.mark.timeout(60)


def measured(*efforts, seed=1):
    force = recording(efforts or (PERSON,), rate_hz=PROFILE.rate_hz, seed=seed).force
    return np.rint(force * PROFILE.counts_per_newton).astype(np.int32)


def sent(counts):
    return [tuple(frame) for frame in Device(PROFILE, counts).frames()]


def pipeline():
    return Pipeline(PROFILE, PROFILE.nominal_calibration())


def replay(*efforts):
    return ReplayLink(sent(measured(*efforts)), speed=float("inf"))


def until(condition):
    """Wait for a condition; fail when it does not come true in time."""
    end = time.monotonic() + LIMIT_S
    while not condition():
        assert time.monotonic() < end, "the condition did not come true in time"
        time.sleep(0.001)


def next_event(recorder):
    event = recorder.next_event(LIMIT_S)
    assert event is not None, "nothing happened in time"
    return event


def events_until(recorder, kind):
    """Every event up to the first of a kind."""
    events = [next_event(recorder)]
    while not isinstance(events[-1], kind):
        events.append(next_event(recorder))
    return events


@contextmanager
def recording_from(link, **kwargs):
    """A recorder at work, stopped in any case."""
    recorder = Recorder(link, kwargs.pop("pipeline", None) or pipeline(), **kwargs)
    recorder.start()
    try:
        yield recorder
    finally:
        recorder.stop()


class Clock:
    """Seconds that pass only when told."""

    now = 100.0

    def __call__(self):
        return self.now


class Sensor:
    """A sensor on a port that keeps its name, played by the test as fast as it is read.

    Its link's clock stands still, so that a slow test is no stall.
    """

    def __init__(self, path):
        self.path = path
        self.clock = Clock()
        self.terminal = PseudoTerminal(path)

    def link(self, kind=SerialLink):
        return kind.for_profile(self.terminal.port, PROFILE, clock=self.clock)

    def plug_in(self):
        self.clock.now += 1.0
        self.terminal = PseudoTerminal(self.path)

    def unplug(self):
        self.terminal.close()

    def send(self, frames, recorder):
        """Write frames; return when the recorder has taken all their samples, since a hang-up loses the rest."""
        before = recorder.pipeline.ring.written
        data = memoryview(b"".join(data for _, data in frames))

        def written():
            nonlocal data
            data = data[self.terminal.write(data[:1024]) :]
            return not data

        until(written)
        until(lambda: recorder.pipeline.ring.written == before + 10 * len(frames))


@pytest.fixture
def sensor(tmp_path):
    made = Sensor(tmp_path / "port")
    yield made
    made.unplug()


def part(counts, trial):
    """Whether a trial's counts are a stretch of those that were measured."""
    (starts,) = np.nonzero(counts == trial.counts[0])
    return any(np.array_equal(counts[at : at + len(trial.counts)], trial.counts) for at in starts)


# trials as events


def test_trials_arrive_as_events_then_the_end():
    by_hand = pipeline()
    expected = [trial for due, data in sent(measured(PERSON, PERSON)) for trial in by_hand.feed(due, data)]
    with recording_from(replay(PERSON, PERSON)) as recorder:
        *told, end = events_until(recorder, Finished)
    assert end == Finished()
    assert [type(event) for event in told] == [TrialRecorded, TrialRecorded]
    for event, trial in zip(told, expected, strict=True):
        np.testing.assert_array_equal(event.trial.counts, trial.counts)
        np.testing.assert_array_equal(event.trial.time, trial.time)
        assert event.trial.zero_counts == trial.zero_counts
        assert event.trial.damage == ()


def test_trial_under_way_at_the_end_of_a_replay_says_so():
    cut_short = [frame for frame in sent(measured()) if frame[0] < 4.0]
    with recording_from(ReplayLink(cut_short, speed=float("inf"))) as recorder:
        trial, end = events_until(recorder, Finished)
    assert (trial.trial.damage, end) == ((TrialEnd.ENDED,), Finished())


def test_trial_released_before_the_end_of_a_replay_is_whole():
    counts = measured()
    released = np.flatnonzero(counts > counts.max() / 2)[-1] / PROFILE.rate_hz
    kept = [frame for frame in sent(counts) if frame[0] < released + 0.5]
    with recording_from(ReplayLink(kept, speed=float("inf"))) as recorder:
        trial, end = events_until(recorder, Finished)
    assert (trial.trial.damage, end) == ((), Finished())


def test_trials_of_a_simulated_sensor_arrive_through_its_port():
    counts = measured(PERSON, PERSON)
    link = SimulatedLink(load_profile("simulated"), counts, speed=50.0)
    with recording_from(link) as recorder:
        events = events_until(recorder, Finished)
    # a busy machine may make it look stalled for a moment
    trials = [event.trial for event in events if isinstance(event, TrialRecorded)]
    assert [part(counts, trial) for trial in trials] == [True, True]


def test_no_event_in_time_is_none():
    with recording_from(ReplayLink([(0.0, b""), (1e9, b"")])) as recorder:
        assert recorder.next_event(0.0) is None


def test_trial_says_when_it_began():
    """The replay gives seven seconds at once: the trial began as many seconds before now as it is old."""
    before = datetime.now(UTC)
    with recording_from(replay()) as recorder:
        trial = events_until(recorder, TrialRecorded)[-1].trial
    after = datetime.now(UTC)
    length = timedelta(seconds=float(trial.time[-1] - trial.time[0]))
    assert before - length - timedelta(seconds=0.1) < trial.context.started < after - length


# the plan


def test_plan_is_followed_in_order_and_its_last_stands_for_all():
    recorder = Recorder(replay(*[PERSON] * 4), pipeline())
    recorder.plan(LEFT, RIGHT, BELT)
    recorder.start()
    *told, _ = events_until(recorder, Finished)
    recorder.stop()
    contexts = [msgspec.structs.replace(event.trial.context, started=None) for event in told]
    assert contexts == [LEFT, RIGHT, BELT, BELT]


def test_without_a_plan_nothing_is_said_of_a_trial():
    with recording_from(replay()) as recorder:
        trial = events_until(recorder, TrialRecorded)[-1].trial
    assert msgspec.structs.replace(trial.context, started=None) == TrialContext()


def test_new_plan_forgets_the_old_one(sensor):
    frames = sent(measured())
    with recording_from(sensor.link()) as recorder:
        recorder.plan(LEFT, RIGHT)
        recorder.plan(BELT)
        sensor.send(frames, recorder)
        assert next_event(recorder).trial.context.method == "belt"


def test_trial_under_way_when_stopped_is_the_next_of_the_plan(sensor):
    frames = sent(measured(PERSON, PERSON))
    recorder = Recorder(sensor.link(), pipeline())
    recorder.plan(LEFT, RIGHT)
    recorder.start()
    sensor.send(frames[: len(frames) * 3 // 4], recorder)
    assert next_event(recorder).trial.context.side == "left"
    (last,) = recorder.stop()
    assert last.context.side == "right"


# stopping


def test_stop_returns_the_trial_under_way(sensor):
    counts = measured()
    recorder = Recorder(sensor.link(), pipeline())
    recorder.start()
    sensor.send(sent(counts[:4500]), recorder)
    (trial,) = recorder.stop()
    assert trial.damage == (TrialEnd.STOPPED,)
    assert part(counts, trial)
    assert trial.time[-1] == pytest.approx(4.499)


def test_stop_returns_trials_whose_events_nobody_took(sensor):
    """As when Ctrl-C comes while a trial is on its way to the hands of who asks for it."""
    frames = sent(measured(PERSON, PERSON))
    recorder = Recorder(sensor.link(), pipeline())
    recorder.start()
    sensor.send(frames[: len(frames) * 3 // 4], recorder)
    first, second = recorder.stop()
    assert (first.damage, second.damage) == ((), (TrialEnd.STOPPED,))
    assert first.time[-1] < second.time[0]


def test_stop_in_the_rest_returns_nothing(sensor):
    link = sensor.link()
    recorder = Recorder(link, pipeline())
    recorder.start()
    sensor.send(sent(measured())[:100], recorder)
    assert recorder.stop() == []
    assert link.ended


def test_stop_takes_what_came_since_the_last_look(sensor):
    counts, link = measured(), sensor.link()
    recorder = Recorder(link, pipeline(), pause_s=2 * LIMIT_S)
    first, second = (data for _, data in sent(counts[:20]))
    sensor.terminal.write(first)
    until(lambda: link.wait(0.0))
    recorder.start()
    until(lambda: recorder.pipeline.ring.written == 10)  # the first look; the next one would be too late
    sensor.terminal.write(second)
    until(lambda: link.wait(0.0))
    recorder.stop()
    assert recorder.pipeline.ring.written == 20


def test_stop_while_waiting_for_a_lost_sensor_ends_at_once(sensor):
    link = sensor.link()
    recorder = Recorder(link, pipeline(), reopen=link.reopened)
    recorder.start()
    sensor.unplug()
    assert isinstance(next_event(recorder), LinkLost)
    assert recorder.stop() == []


def test_stop_ends_a_search_that_is_under_way(sensor, monkeypatch):
    monkeypatch.setattr("acquire.stream.recorder.RETRY_S", 0.001)
    link, begun, ended = sensor.link(), threading.Event(), threading.Event()

    def search():
        begun.set()
        assert ended.wait(LIMIT_S)
        raise LinkError("the search was ended", port=link.port, reason=LinkFailure.FAILED)

    recorder = Recorder(link, pipeline(), reopen=search, cancel_reopen=ended.set)
    recorder.start()
    sensor.unplug()
    assert isinstance(next_event(recorder), LinkLost)
    assert begun.wait(LIMIT_S)
    assert recorder.stop() == []


# a sensor that goes and comes back


@pytest.mark.slow
def test_unplugged_sensor_comes_back_and_the_next_effort_is_recorded(sensor):
    counts = measured()
    link = sensor.link()
    with recording_from(link, reopen=link.reopened) as recorder:
        for _ in range(2):  # it may happen again
            sensor.send(sent(counts[:4500]), recorder)
            sensor.unplug()
            trial, lost = next_event(recorder), next_event(recorder)
            assert trial.trial.damage == (TrialEnd.LINK_LOST,)
            assert part(counts, trial.trial)
            assert trial.trial.counts[-1] == counts[4499]
            assert isinstance(lost, LinkLost)
            assert lost.error.reason is LinkFailure.UNPLUGGED
            sensor.plug_in()
            assert next_event(recorder) == LinkBack()
        sensor.send(sent(counts), recorder)
        again = next_event(recorder).trial
        assert again.damage == ()
        assert part(counts, again)
        assert again.trace().lost == 0


def test_sensor_unplugged_in_the_rest_leaves_no_trial_and_no_damage(sensor):
    counts = measured()
    link = sensor.link()
    with recording_from(link, reopen=link.reopened) as recorder:
        sensor.send(sent(counts[:1000]), recorder)
        sensor.unplug()
        sensor.plug_in()
        assert isinstance(next_event(recorder), LinkLost)
        assert next_event(recorder) == LinkBack()
        sensor.send(sent(counts), recorder)
        assert next_event(recorder).trial.damage == ()


def test_half_a_packet_from_before_is_not_glued_to_the_first_one_after(sensor):
    frames = sent(measured())
    link = sensor.link()
    with recording_from(link, reopen=link.reopened) as recorder:
        sensor.send(frames[:50], recorder)
        sensor.terminal.write(frames[50][1][:20])
        until(lambda: recorder.pipeline.decoder.pending == 20)
        sensor.unplug()
        sensor.plug_in()
        events_until(recorder, LinkBack)
        sensor.send(frames, recorder)
        next_event(recorder)
    assert recorder.pipeline.damaged == 0


def test_why_a_lost_sensor_cannot_come_back_is_told_when_it_changes(sensor, monkeypatch):
    monkeypatch.setattr("acquire.stream.recorder.RETRY_S", 0.001)
    monkeypatch.setattr("acquire.stream.recorder.LONGEST_RETRY_S", 0.001)
    gone, off = LinkFailure.NOT_FOUND, LinkFailure.BLUETOOTH_OFF
    link = sensor.link()
    # a reason that does not last is not told: a port that has just appeared may be refused for a moment
    answers = iter([gone, LinkFailure.NO_PERMISSION, gone, off, off, off, gone, gone])

    def reopen():
        reason = next(answers, None)
        if reason is None:
            return sensor.link()
        raise LinkError(f"it is {reason.value}", port=link.port, reason=reason)

    with recording_from(link, reopen=reopen) as recorder:
        sensor.unplug()
        sensor.plug_in()
        told = events_until(recorder, LinkBack)
    assert [event.error.reason for event in told if isinstance(event, LinkLost)] == [
        LinkFailure.UNPLUGGED,
        off,
        LinkFailure.UNPLUGGED,
    ]


@pytest.mark.slow
def test_lost_port_is_let_go_before_it_is_tried_again(sensor):
    link = sensor.link()
    held = []

    def reopen():
        held.append(not link._closed)
        if len(held) == 1:
            raise LinkError("not there yet", port=link.port, reason=LinkFailure.NOT_FOUND)
        return sensor.link()

    with recording_from(link, reopen=reopen) as recorder:
        sensor.unplug()
        assert isinstance(next_event(recorder), LinkLost)
        sensor.plug_in()
        assert next_event(recorder) == LinkBack()
    assert held == [False, False]


def test_link_that_fails_without_reopen_has_failed(sensor):
    counts = measured()
    with recording_from(sensor.link()) as recorder:
        sensor.send(sent(counts[:4500]), recorder)
        sensor.unplug()
        trial, failed = events_until(recorder, Failed)
    assert trial.trial.damage == (TrialEnd.LINK_LOST,)
    assert failed.error.reason is LinkFailure.UNPLUGGED
    assert str(failed.error) == f"the sensor on {sensor.path} was unplugged: plug it back in"


class Broken(ReplayLink):
    """A link that fails for a reason that does not pass."""

    def chunks(self):
        raise LinkError("taken by another program", port=self.port, reason=LinkFailure.BUSY)


def test_link_that_fails_for_good_is_not_opened_again():
    opened = []
    with recording_from(Broken([]), reopen=lambda: opened.append(1)) as recorder:
        failed = next_event(recorder)
    assert isinstance(failed, Failed)
    assert failed.error.reason is LinkFailure.BUSY
    assert opened == []


# a sensor that says nothing


class Watched(SerialLink):
    """Counts how often it was asked whether something is wrong."""

    asked = 0

    @property
    def trouble(self):
        self.asked += 1
        return super().trouble


def test_silent_sensor_is_told_once_and_again_after_it_spoke(sensor):
    frames = sent(measured())
    link = sensor.link(Watched)

    def asked_again():
        before = link.asked
        until(lambda: link.asked > before + 3)

    with recording_from(link) as recorder:
        asked_again()
        sensor.clock.now += PROFILE.silent_after_s + 0.1
        silent = next_event(recorder)
        asked_again()
        sensor.send(frames[:50], recorder)
        heard = next_event(recorder)
        asked_again()
        sensor.clock.now += 1.0
        stalled = next_event(recorder)
        sensor.send(frames[50:60], recorder)
        heard_again = next_event(recorder)
        asked_again()
        assert recorder.next_event(0.0) is None
    assert heard == heard_again == LinkHeard()
    assert isinstance(silent, LinkSilent)
    assert isinstance(stalled, LinkSilent)
    assert silent.error.reason is LinkFailure.SILENT
    assert stalled.error.reason is LinkFailure.STALLED


def test_sensor_that_is_late_is_recorded_all_the_same(sensor):
    with recording_from(sensor.link()) as recorder:
        sensor.clock.now += 60.0
        assert isinstance(next_event(recorder), LinkSilent)
        sensor.send(sent(measured()), recorder)
        assert next_event(recorder) == LinkHeard()
        assert isinstance(next_event(recorder), TrialRecorded)


def test_sensor_that_is_never_quiet_is_told_once():
    seconds = np.arange(8000) / PROFILE.rate_hz
    moving = 40.0 + 5.0 * np.sin(2.0 * np.pi * 2.0 * seconds)
    counts = np.rint(moving * PROFILE.counts_per_newton + PROFILE.zero_counts).astype(np.int32)
    chunks = [*sent(counts), (1e9, b"")]
    due = iter([0.0])
    with recording_from(ReplayLink(chunks, clock=lambda: next(due, 1e6))) as recorder:
        assert next_event(recorder) == Unsettled()
        until(lambda: recorder.pipeline.ring.written == 8000)
        assert recorder.next_event(0.0) is None


# the journal


class Journal:
    """Keeps what it is told to keep; full after so many chunks."""

    def __init__(self, room=10**9):
        self.room = room
        self.kept = Counter()
        self.synced = []

    def chunk(self, _arrival, data):
        self._keep("bytes", len(data))

    def event(self, content):
        self._keep(next(iter(content)), 1)

    def _keep(self, what, count):
        if self.kept["bytes"] + count > self.room:
            raise ArchiveError("no space left on device")
        self.kept[what] += count

    def sync_if_due(self, now):
        self.synced.append(now)

    def sync(self):
        self.synced.append(None)

    def close(self):
        self.kept["closed"] += 1


def test_journal_gets_every_byte_and_the_plan():
    frames, journal = sent(measured()), Journal()
    recorder = Recorder(replay(), pipeline(), journal=journal)
    recorder.plan(LEFT)
    recorder.start()
    events_until(recorder, Finished)
    recorder.stop()
    assert journal.kept["bytes"] == sum(len(data) for _, data in frames)
    assert journal.kept["plan"] == 1
    assert journal.kept["closed"] == 1
    assert any(now is not None for now in journal.synced)


def test_full_disk_ends_no_recording_and_the_journal_gets_what_waited(sensor):
    counts, journal = measured(), Journal(room=10_000)
    recorder = Recorder(sensor.link(), pipeline(), journal=journal, clock=sensor.clock)
    recorder.start()
    sensor.send(sent(counts[:4000]), recorder)
    failing = next_event(recorder)
    assert isinstance(failing, JournalTrouble)
    assert str(failing.error) == "no space left on device"
    assert not recorder.journal_complete
    journal.room = 10**9
    sensor.clock.now += 2.0
    assert JournalTrouble(None) in events_until(recorder, JournalTrouble)
    (trial,) = recorder.stop()
    assert part(counts, trial)
    assert (recorder.journal_complete, journal.kept["closed"]) == (True, 1)
    assert journal.kept["bytes"] == sum(len(data) for _, data in sent(counts[:4000]))


def test_disk_that_stays_full_costs_the_journal_alone(sensor):
    counts = measured()
    recorder = Recorder(sensor.link(), pipeline(), journal=Journal(room=10_000))
    recorder.start()
    sensor.send(sent(counts[:4000]), recorder)
    assert isinstance(next_event(recorder), JournalTrouble)
    (trial,) = recorder.stop()
    assert part(counts, trial)
    assert trial.time[-1] >= 3.999
    assert not recorder.journal_complete
