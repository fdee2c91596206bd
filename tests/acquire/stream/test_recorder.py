"""The recorder: trials as events by a plan, until it is stopped. Nothing here waits but for a condition."""

import threading
from datetime import UTC, datetime, timedelta

import msgspec
import numpy as np
import pytest
from recorded import (
    LIMIT_S,
    PERSON,
    PROFILE,
    events_until,
    measured,
    next_event,
    part,
    pipeline,
    recording_from,
    replay,
    sent,
    until,
)

from acquire.errors import LinkError, LinkFailure
from acquire.links import ReplayLink, SimulatedLink
from acquire.sensor.profile import load_profile
from acquire.stream.recorder import (
    Finished,
    LinkLost,
    Recorder,
    TrialRecorded,
)
from acquire.values.records import TrialContext
from acquire.values.remarks import TrialEnd

LEFT, RIGHT, BELT = TrialContext(side="left"), TrialContext(side="right"), TrialContext(method="belt")

pytestmark = pytest.mark.timeout(60)


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
