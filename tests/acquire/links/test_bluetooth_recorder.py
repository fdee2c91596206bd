"""A session over Bluetooth: the link breaks and comes back, on bare D-Bus and with real ATT packets below."""

import time

import msgspec
import numpy as np
import pytest
from grip import ADDRESS, PACKETS, effort_counts, grip, packets

from acquire.errors import LinkFailure
from acquire.links.bluetooth import BluetoothLink
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import LinkBack, LinkLost, Recorder, TrialRecorded
from acquire.values.remarks import TrialEnd

LIMIT_S = 30.0


def recorder_of(link):
    made = Recorder(
        link, Pipeline(PACKETS, PACKETS.nominal_calibration()), reopen=link.reopened, cancel_reopen=link.cancel_search
    )
    made.start()
    return made


def event_of(recorder, kind):
    """The next event of a kind; others are passed over."""
    deadline = time.monotonic() + LIMIT_S
    while time.monotonic() < deadline:
        event = recorder.next_event(0.1)
        if isinstance(event, kind):
            return event
    raise AssertionError(f"no {kind.__name__} came")


@pytest.mark.slow
def test_drop_in_mid_trial_keeps_the_trial_marks_it_and_goes_on(air):
    peer = air.bluez.add(grip())
    recorder = recorder_of(BluetoothLink(ADDRESS, PACKETS))
    counts = effort_counts()
    whole = packets(counts)
    half = len(whole) // 2
    try:
        air.bluez.play(peer, whole[:half], period_s=0.002).result(LIMIT_S)
        air.bluez.drop(peer)
        kept = event_of(recorder, TrialRecorded).trial
        assert kept.damage == (TrialEnd.LINK_LOST,)
        assert kept.counts[-1] == counts[10 * half - 1], "all that came before the drop is kept"
        assert event_of(recorder, LinkLost).error.reason is LinkFailure.OUT_OF_REACH
        event_of(recorder, LinkBack)
        assert air.bluez.sessions(peer) == 1
        air.bluez.play(peer, packets(counts, sequence=half + 500), period_s=0.002).result(LIMIT_S)
        good = event_of(recorder, TrialRecorded).trial
        assert good.damage == ()
        assert len(good.counts) == len(np.unique(good.time))
        assert recorder.pipeline.timebase.duplicates == 0
    finally:
        recorder.stop()
    assert air.bluez.sessions(peer) == 0
    assert not peer.connected


def test_bluetooth_switched_off_in_a_session_is_told_and_the_session_goes_on(air, monkeypatch):
    monkeypatch.setattr("acquire.stream.recorder.RETRY_S", 0.05)
    monkeypatch.setattr("acquire.stream.recorder.LONGEST_RETRY_S", 0.05)
    peer = air.bluez.add(grip())
    recorder = recorder_of(BluetoothLink(ADDRESS, PACKETS, search_s=1.0))
    try:
        air.bluez.play(peer, packets(np.zeros(500)), period_s=0.002).result(LIMIT_S)
        air.bluez.power(False)
        assert event_of(recorder, LinkLost).error.reason is LinkFailure.OUT_OF_REACH
        assert event_of(recorder, LinkLost).error.reason is LinkFailure.BLUETOOTH_OFF
        air.bluez.power(True)
        event_of(recorder, LinkBack)
    finally:
        recorder.stop()


def test_stop_while_a_lost_sensor_is_looked_for_ends_at_once(air, monkeypatch):
    monkeypatch.setattr("acquire.stream.recorder.RETRY_S", 0.01)
    peer = air.bluez.add(grip())
    recorder = recorder_of(BluetoothLink(ADDRESS, PACKETS, search_s=60.0))
    peer.advertising = False
    air.bluez.drop(peer)
    event_of(recorder, LinkLost)
    air.bluez.wait_for_scan()
    began = time.monotonic()
    assert recorder.stop() == []
    assert time.monotonic() - began < LIMIT_S


@pytest.mark.slow
def test_real_att_packets_over_a_virtual_radio(air, until):
    commanded = msgspec.structs.replace(PACKETS, start="start\n", stop="stop\n")
    peer = air.bluez.add(grip())
    air.bluez.run(with_att(peer)).result(10)
    link = BluetoothLink(ADDRESS, commanded)
    pipeline = Pipeline(PACKETS, PACKETS.nominal_calibration())
    counts = np.arange(5000) % 70

    def take():
        link.wait(0.05)
        for chunk in link.chunks():
            pipeline.feed(*chunk)
        return pipeline.ring.written

    playing = air.bluez.run(peer.att.notify(packets(counts, size=20), period_s=0.002))
    until(lambda: take() == len(counts))
    playing.result(10)
    assert pipeline.ring.since(0).counts.tolist() == counts.tolist()
    assert set(peer.written) == {b"start\n"}
    air.bluez.run(peer.att.drop()).result(10)
    until(lambda: link.trouble is not None)
    link = link.reopened()
    air.bluez.run(peer.att.notify(packets(np.arange(40), size=20, sequence=300), period_s=0.01)).result(10)
    until(lambda: take() == len(counts) + 40)
    link.close()
    assert peer.written[-1] == b"stop\n"


async def with_att(peer):
    from att import AttSensor  # noqa: PLC0415 - slow to import

    peer.att = AttSensor(peer)
