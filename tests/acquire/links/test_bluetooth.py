"""The Bluetooth link: bleak's own Linux code against a service without a radio (tests/fakes/bluez.py)."""

import asyncio
import gc
import os
import threading
import time
from pathlib import Path

import msgspec
import numpy as np
import pytest
from bleak import BleakClient, BleakScanner
from bluez import Peer

from acquire.decoders.packets import packet_body
from acquire.errors import LinkError, LinkFailure
from acquire.links import bluetooth
from acquire.links.bluetooth import BluetoothLink
from acquire.links.radio import radio_sensors
from acquire.pipeline import Pipeline
from acquire.profile import load_profile
from acquire.recorder import LinkBack, LinkLost, Recorder, TrialRecorded
from acquire.simulation.efforts import GOOD, recording

PACKETS = load_profile("ble-packets")
LINES = load_profile("ble-lines")
WITH_COMMANDS = msgspec.structs.replace(PACKETS, start="start\n", stop="stop\n")


def grip(profile=PACKETS, **changed):
    return Peer(**{"name": "Grip-01", "service": profile.service, "characteristic": profile.characteristic, **changed})


def packets(counts, *, size=10, rate_hz=PACKETS.rate_hz, sequence=0):
    """Counts as a radio sensor notifies them."""
    step = PACKETS.tick_hz / rate_hz
    return [
        packet_body(
            (sequence + at // size) % 65536,
            round((sequence * size + at) * step) % 2**32,
            [int(c) for c in counts[at : at + size]],
            count_bits=24,
        )
        for at in range(0, len(counts), size)
    ]


@pytest.fixture
def opened(air):  # noqa: ARG001 # the air must outlive the links
    """Open links to sensors in reach; they are closed before the air goes."""
    links = []

    def open_link(port="Grip-01", profile=PACKETS, **options):
        links.append(BluetoothLink(port, profile, **options))
        return links[-1]

    yield open_link
    for link in links:
        link.close()


def test_what_is_in_reach_is_listed_the_strongest_first(air):
    air.bluez.add(grip(name="Far", address="C0:FF:EE:00:00:02", rssi=-88))
    air.bluez.add(grip(battery=50))
    near, far = radio_sensors(0.5)
    assert (near.name, near.address, near.signal_dbm) == ("Grip-01", "C0:FF:EE:00:00:01", -61)
    assert PACKETS.service in near.services
    assert (far.name, far.signal_dbm) == ("Far", -88)


@pytest.mark.parametrize("port", ["Grip-01", "c0:ff:ee:00:00:01", ""])
def test_sensor_is_found_by_name_by_address_and_by_its_service(air, opened, port):
    air.bluez.add(grip(name="Other", address="C0:FF:EE:00:00:02", service=LINES.service))
    peer = air.bluez.add(grip())
    opened(port, search_s=1.0)
    assert peer.connected


def test_several_of_a_kind_must_be_told_apart_by_the_user(air, opened):
    air.bluez.add(grip())
    air.bluez.add(grip(name="Grip-02", address="C0:FF:EE:00:00:02"))
    with pytest.raises(LinkError, match=r"say with --port which one.*Grip-01 C0:FF:EE:00:00:01, Grip-02") as caught:
        opened("", search_s=0.5)
    assert caught.value.reason is LinkFailure.NOT_FOUND


def test_start_stop_and_what_is_sent_are_written_to_the_characteristic(air):
    peer = air.bluez.add(grip())
    with BluetoothLink("Grip-01", WITH_COMMANDS) as link:
        link.send(b"zero\n")
    assert peer.written == [b"start\n", b"zero\n", b"stop\n"]
    with pytest.raises(LinkError, match="Grip-01 is closed: open it again to send"):
        link.send(b"late")


def test_battery_and_signal_are_told_where_there_are_some(air, opened):
    air.bluez.add(grip(battery=81, rssi=-55))
    assert opened().radio == bluetooth.RadioState(signal_dbm=-55, battery_pct=81)


def test_sensor_without_a_battery_service_tells_none(air, opened):
    air.bluez.add(grip())
    assert opened().radio.battery_pct is None


def test_a_thousand_notifications_a_second_for_ten_seconds_none_lost(air, opened):
    peer = air.bluez.add(grip())
    link = opened()
    pipeline = Pipeline(PACKETS, PACKETS.nominal_calibration())
    counts = np.arange(10_000) % 50
    playing = air.bluez.play(peer, packets(counts, size=1, rate_hz=1000.0), period_s=0.001)
    deadline = time.monotonic() + 60.0
    while pipeline.ring.written < len(counts) and time.monotonic() < deadline:
        link.wait(0.2)
        for chunk in link.chunks():
            pipeline.feed(*chunk)
    playing.result(10)
    assert pipeline.ring.written == len(counts)
    assert pipeline.ring.since(0).counts.tolist() == counts.tolist()
    assert (pipeline.timebase.lost, pipeline.damaged) == (0, 0)


def test_lines_that_are_cut_by_notifications_are_put_together(air, opened, take):
    peer = air.bluez.add(grip(LINES))
    link = opened(profile=LINES)
    air.bluez.notify(peer, b"1,10", b"0\n2,2", b"00\n3,300\n")
    pipeline = Pipeline(LINES, LINES.nominal_calibration())
    for chunk in take(link, 18):
        pipeline.feed(*chunk)
    assert pipeline.ring.since(0).counts.tolist() == [100, 200, 300]


def effort_counts(seed=1):
    force = np.nan_to_num(recording((GOOD,), rate_hz=PACKETS.rate_hz, seed=seed).force)
    return np.rint(force * PACKETS.counts_per_newton).astype(int)


def test_drop_in_mid_trial_keeps_the_trial_marks_it_and_goes_on(air):
    peer = air.bluez.add(grip())
    link = BluetoothLink("Grip-01", PACKETS, search_s=1.0)
    recorder = Recorder(link, Pipeline(PACKETS, PACKETS.nominal_calibration()), reopen=link.reopened)
    recorder.start()
    events, counts = [], effort_counts()

    def event_of(kind, limit=30.0):
        deadline = time.monotonic() + limit
        while time.monotonic() < deadline:
            event = recorder.next_event(0.1)
            if event is not None:
                events.append(event)
            if isinstance(event, kind):
                return event
        raise AssertionError(f"no {kind.__name__} came: {events}")

    try:
        whole = packets(counts)
        half = len(whole) // 2
        air.bluez.play(peer, whole[:half], period_s=0.002).result(30)
        air.bluez.drop(peer)
        kept = event_of(TrialRecorded).trial
        assert kept.damage == ("the link to the sensor was lost during the trial",)
        assert event_of(LinkLost).error.reason is LinkFailure.OUT_OF_REACH
        event_of(LinkBack)
        assert air.bluez.sessions(peer) == 1
        air.bluez.play(peer, packets(counts, sequence=half + 500), period_s=0.002).result(30)
        good = event_of(TrialRecorded).trial
        assert good.damage == ()
        assert len(good.counts) == len(np.unique(good.time))
        assert recorder.pipeline.timebase.duplicates == 0
    finally:
        recorder.stop()
    assert air.bluez.sessions(peer) == 0


def test_session_that_is_not_let_go_of_gives_every_sample_twice(air):
    """The trap itself, with bleak alone: this is why the link disconnects after every drop."""
    peer = air.bluez.add(grip())
    came = []

    async def connect():
        device = await BleakScanner.find_device_by_name("Grip-01", timeout=5.0)
        client = BleakClient(device)
        await client.connect()
        await client.start_notify(PACKETS.characteristic, lambda _, data: came.append(bytes(data)))
        return client

    async def careless():
        first = await connect()
        await asyncio.to_thread(air.bluez.drop, peer)
        while first.is_connected:
            await asyncio.sleep(0.01)
        second = await connect()
        await asyncio.to_thread(air.bluez.notify, peer, b"sample")
        deadline = time.monotonic() + 5.0
        while len(came) < 2 and time.monotonic() < deadline:
            await asyncio.sleep(0.01)
        await second.disconnect()
        await first.disconnect()

    asyncio.run(careless())
    assert came == [b"sample", b"sample"]


def test_acquired_socket_brings_the_same_as_notify_signals(air):
    peer = air.bluez.add(grip())
    came = []

    async def acquired():
        device = await BleakScanner.find_device_by_name("Grip-01", timeout=5.0)
        async with BleakClient(device) as client:
            await client.start_notify(
                PACKETS.characteristic,
                lambda _, data: came.append(bytes(data)),
                bluez={"use_start_notify": False},
            )
            await asyncio.to_thread(air.bluez.notify, peer, b"one", b"two")
            deadline = time.monotonic() + 5.0
            while len(came) < 2 and time.monotonic() < deadline:
                await asyncio.sleep(0.01)

    asyncio.run(acquired())
    assert came == [b"one", b"two"]


def test_service_that_dies_is_seen_by_the_silence_after_it(air, opened, until, monkeypatch):
    monkeypatch.setattr(bluetooth, "GONE_S", 0.6)
    peer = air.bluez.add(grip())
    link = opened()
    air.bluez.notify(peer, *packets(np.arange(10)))
    until(lambda: link.wait(0.1))
    link.chunks()
    air.bluez.close()  # no word of it to anybody
    until(lambda: link.trouble is not None and link.trouble.reason is LinkFailure.STALLED)
    until(lambda: link.ended)
    with pytest.raises(LinkError, match="the radio link to Grip-01 broke: bring it near"):
        link.chunks()


def test_bus_that_dies_ends_the_link(air, opened, until):
    air.bluez.add(grip())
    link = opened()
    air.bus.close()
    until(lambda: link.ended)
    assert link.trouble.reason is LinkFailure.OUT_OF_REACH


def refused(port="Grip-01", search_s=0.5):
    with pytest.raises(LinkError) as caught:
        BluetoothLink(port, PACKETS, search_s=search_s)
    return caught.value.reason, str(caught.value)


def test_nothing_in_reach(air):
    air.bluez.add(grip(name="Other"))
    reason, sentence = refused()
    assert reason is LinkFailure.NOT_FOUND
    assert sentence.startswith("no sensor Grip-01 is in reach: switch it on, bring it near")


def test_no_sensor_of_the_kind_in_reach(air):
    air.bluez.add(grip(service=LINES.service))
    reason, sentence = refused("")
    assert reason is LinkFailure.NOT_FOUND
    assert PACKETS.service in sentence


def test_adapter_switched_off(air):
    air.bluez.add(grip())
    air.bluez.power(False)
    assert refused() == (
        LinkFailure.RADIO_OFF,
        "Bluetooth is switched off: switch it on in the system's settings and try again",
    )


def test_account_without_the_right_to_use_bluetooth(air):
    air.bluez.denied = True
    reason, sentence = refused()
    assert reason is LinkFailure.NO_PERMISSION
    assert "this account may not use Bluetooth" in sentence
    assert "group `bluetooth`" in sentence


@pytest.mark.parametrize("where", ["refuse", "refuse_notify"])
def test_sensor_in_use_by_another_program(air, where):
    error = "org.bluez.Error.InProgress" if where == "refuse" else "org.bluez.Error.NotPermitted"
    air.bluez.add(grip(**{where: error}))
    assert refused() == (
        LinkFailure.BUSY,
        "Grip-01 is in use by another program: close that program and try again",
    )


def test_connection_that_fails_names_the_cause(air):
    air.bluez.add(grip(refuse="org.bluez.Error.Failed"))
    reason, sentence = refused()
    assert reason is LinkFailure.FAILED
    assert "it said no" in sentence


def test_sensor_without_the_characteristic_is_not_of_the_profile(air):
    peer = air.bluez.add(grip(characteristic=LINES.characteristic))
    reason, sentence = refused()
    assert reason is LinkFailure.FAILED
    assert f"it has no characteristic {PACKETS.characteristic}: is its profile right?" in sentence
    assert not peer.connected


def test_no_bluetooth_service(air):
    air.bluez.close()
    reason, sentence = refused()
    assert reason is LinkFailure.NO_RADIO
    assert "start the system's Bluetooth service" in sentence


def test_no_system_bus(monkeypatch, tmp_path):
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path / 'none'}")
    reason, sentence = refused()
    assert reason is LinkFailure.NO_RADIO
    assert "the system bus cannot be reached" in sentence


def held():
    gc.collect()
    return threading.active_count(), len(list(Path(f"/proc/{os.getpid()}/fd").iterdir()))


def test_fifty_drops_leak_nothing(air, until):
    peer = air.bluez.add(grip())
    link = BluetoothLink("Grip-01", PACKETS)
    before = held()
    for _ in range(50):
        air.bluez.drop(peer)
        until(lambda link=link: link.ended)
        link = link.reopened()
        assert air.bluez.sessions(peer) == 1
    assert held() == before
    link.close()
    assert air.bluez.sessions(peer) == 0
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("bluetooth")]


def test_unread_data_has_a_limit(air, opened, until):
    peer = air.bluez.add(grip())
    link = opened(queue_limit=2000)
    air.bluez.notify(peer, *packets(np.arange(500)))
    until(lambda: link.trouble is not None)
    assert link.trouble.reason is LinkFailure.FAILED


def test_real_att_packets_over_a_virtual_radio(air, until):
    peer = air.bluez.add(grip(name="Grip-01"))
    air.bluez.run(with_att(peer)).result(10)
    link = BluetoothLink("Grip-01", WITH_COMMANDS)
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
    air.bluez.run(peer.att.drop()).result(10)
    until(lambda: link.trouble is not None)
    link = link.reopened()
    air.bluez.run(peer.att.notify(packets(np.arange(40), size=20, sequence=300), period_s=0.01)).result(10)
    until(lambda: take() == len(counts) + 40)
    link.close()
    assert peer.written == [b"start\n", b"start\n", b"stop\n"]


async def with_att(peer):
    from att import AttSensor  # noqa: PLC0415 - slow to import

    peer.att = AttSensor(peer)
