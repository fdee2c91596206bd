"""The recorder when something is wrong: a sensor that goes, that says nothing, a journal that cannot be written."""

from collections import Counter

import numpy as np
import pytest
from recorded import PROFILE, events_until, measured, next_event, part, pipeline, recording_from, replay, sent, until

from acquire.errors import ArchiveError, LinkError, LinkFailure
from acquire.links import ReplayLink, SerialLink
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

LEFT = TrialContext(side="left")

pytestmark = pytest.mark.timeout(60)


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
