"""The Bluetooth link at work: bleak's own Linux code against a service without a radio (tests/fakes/bluez.py)."""

import asyncio
import gc
import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import msgspec
import numpy as np
import pytest
from bleak import BleakClient, BleakScanner
from bleak.backends.bluezdbus.version import BlueZFeatures
from grip import ADDRESS, LINES, NAME, PACKETS, grip, packets

from acquire.errors import LinkError, LinkFailure
from acquire.links import bluetooth_connection
from acquire.links.base import BluetoothState
from acquire.links.bluetooth import BluetoothLink
from acquire.stream.pipeline import Pipeline

WITH_COMMANDS = msgspec.structs.replace(PACKETS, start="start\n", stop="stop\n", zero="zero\n")
COMMANDS = "5a0c3f5e-0a4b-4f7e-9a57-1f8a1c1d7e02"
"""A characteristic for commands alone."""


@pytest.fixture
def opened(air):  # noqa: ARG001 # the air must outlive the links
    """Open links to sensors in range; they are closed before the air goes."""
    links = []

    def open_link(port=ADDRESS, profile=PACKETS, **options):
        links.append(BluetoothLink(port, profile, **options))
        return links[-1]

    yield open_link
    for link in links:
        link.close()


def piped(link, profile, count, until):
    """Take from a link until so many samples are placed, and return the pipeline."""
    pipeline = Pipeline(profile, profile.nominal_calibration())

    def take():
        link.wait(0.1)
        for chunk in link.chunks():
            pipeline.feed(*chunk)
        return pipeline.ring.written >= count

    until(take, limit=60.0)
    return pipeline


# what is sent to the sensor


def test_start_stop_and_what_is_sent_are_written_to_the_characteristic(air):
    peer = air.bluez.add(grip())
    with BluetoothLink(ADDRESS, WITH_COMMANDS) as link:
        link.send(b"zero\n")
    assert peer.written == [b"start\n", b"zero\n", b"stop\n"]
    assert set(peer.written_to) == {PACKETS.characteristic}
    with pytest.raises(LinkError, match=f"{ADDRESS} is closed: open it again to send"):
        link.send(b"late")


def test_commands_go_to_a_characteristic_of_their_own_where_the_profile_names_one(air):
    peer = air.bluez.add(grip(commands=COMMANDS))
    with BluetoothLink(ADDRESS, msgspec.structs.replace(WITH_COMMANDS, command_characteristic=COMMANDS)):
        pass
    assert peer.written == [b"start\n", b"stop\n"]
    assert set(peer.written_to) == {COMMANDS}


def test_start_is_sent_again_until_the_first_byte_comes(air, opened, until, monkeypatch):
    monkeypatch.setattr(bluetooth_connection, "START_AGAIN_S", 0.1)
    monkeypatch.setattr("acquire.links.bluetooth.LOOK_S", 0.01)
    peer = air.bluez.add(grip())
    link = opened(profile=WITH_COMMANDS)
    until(lambda: len(peer.written) >= 3)
    air.bluez.notify(peer, *packets(np.arange(10)))
    until(lambda: link.wait(0.1))
    said = len(peer.written)
    air.bluez.notify(peer, *packets(np.arange(10), sequence=1))
    assert len(peer.written) <= said + 1  # one may have been on its way
    assert set(peer.written) == {b"start\n"}


def test_sensor_that_refuses_a_command_says_so(air, opened):
    peer = air.bluez.add(grip())
    link = opened()
    peer.refuse_write = "org.bluez.Error.NotPermitted", "Not paired"
    with pytest.raises(LinkError, match=f"{ADDRESS} must be paired with this computer first") as caught:
        link.send(b"zero\n")
    assert caught.value.reason is LinkFailure.NOT_PAIRED


def test_sensor_that_takes_no_commands_and_needs_none_is_only_listened_to(air, opened):
    air.bluez.add(grip(commands=COMMANDS))  # its notifying characteristic cannot be written
    with pytest.raises(LinkError, match="takes no commands: is its profile right"):
        opened().send(b"zero\n")


# signal and battery


def test_battery_and_signal_are_told_where_there_are_some(air, opened):
    air.bluez.add(grip(battery=bytes([81]), rssi=-55))
    assert opened().bluetooth == BluetoothState(signal_dbm=-55, battery_pct=81)


@pytest.mark.parametrize("battery", [None, b"", bytes([101])], ids=["no service", "no value", "reserved value"])
def test_battery_that_tells_nothing_is_not_known(air, opened, battery):
    air.bluez.add(grip(battery=battery))
    assert opened().bluetooth.battery_pct is None


def test_battery_is_read_again_from_time_to_time(air, opened, until, monkeypatch):
    monkeypatch.setattr(bluetooth_connection, "BATTERY_EACH_S", 0.1)
    peer = air.bluez.add(grip(battery=bytes([81])))
    link = opened()
    peer.battery = bytes([80])
    until(lambda: link.bluetooth.battery_pct == 80)


# what the sensor sends


@pytest.mark.slow
def test_a_thousand_notifications_a_second_for_two_seconds_none_lost(air, opened, until):
    peer = air.bluez.add(grip())
    link = opened()
    counts = np.arange(2000) % 50
    playing = air.bluez.play(peer, packets(counts, size=1, rate_hz=1000.0), period_s=0.001)
    pipeline = piped(link, PACKETS, len(counts), until)
    playing.result(10)
    assert pipeline.ring.since(0).counts.tolist() == counts.tolist()
    assert (pipeline.timebase.lost, pipeline.damaged) == (0, 0)


def test_lines_that_are_cut_by_notifications_are_put_together(air, opened, until):
    peer = air.bluez.add(grip(LINES))
    link = opened(profile=LINES)
    air.bluez.notify(peer, b"1,10", b"0\n2,2", b"00\n3,300\n")
    assert piped(link, LINES, 3, until).ring.since(0).counts.tolist() == [100, 200, 300]


def test_empty_notification_is_passed_over(air, opened, until):
    peer = air.bluez.add(grip())
    link = opened()
    air.bluez.notify(peer, b"", *packets(np.arange(10)))
    assert piped(link, PACKETS, 10, until).damaged == 0


def test_unread_data_has_a_limit(air, opened, until):
    peer = air.bluez.add(grip())
    link = opened(queue_limit=2000)
    air.bluez.notify(peer, *packets(np.arange(500)))
    until(lambda: link.trouble is not None)
    assert link.trouble.reason is LinkFailure.FAILED


# connections that end


def test_session_that_is_not_let_go_of_gives_every_sample_twice(air):
    """The trap itself, with bleak alone: this is why the link disconnects after every drop."""
    peer = air.bluez.add(grip())
    came = []

    async def connect():
        client = BleakClient(await BleakScanner.find_device_by_name(NAME, timeout=5.0))
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
    """The other way that bleak knows; should its default change, the link goes on."""
    peer = air.bluez.add(grip())
    came = []

    async def acquired():
        async with BleakClient(await BleakScanner.find_device_by_name(NAME, timeout=5.0)) as client:
            way = {"use_start_notify": False}
            await client.start_notify(PACKETS.characteristic, lambda _, data: came.append(bytes(data)), bluez=way)
            sockets = dict(air.bluez.acquired)
            await asyncio.to_thread(air.bluez.notify, peer, b"one", b"two")
            deadline = time.monotonic() + 5.0
            while len(came) < 2 and time.monotonic() < deadline:
                await asyncio.sleep(0.01)
            return list(sockets)

    assert asyncio.run(acquired()) == [peer.characteristic_path]
    assert came == [b"one", b"two"]
    assert air.bluez.sessions(peer) == 0


def test_connection_that_is_broken_off_at_first_is_made_at_the_second_try(air, opened, until):
    """BlueZ 5.62 and later: a connection comes up, falls, and the call fails; bleak tries again."""
    peer = air.bluez.add(grip(aborts=1))
    link = opened()
    air.bluez.notify(peer, *packets(np.arange(10)))
    assert piped(link, PACKETS, 10, until).ring.written == 10
    assert link.trouble is None


def test_slow_connection_is_waited_for(air, opened):
    peer = air.bluez.add(grip(connect_s=0.8))
    opened()
    assert peer.connected


def test_service_that_dies_is_seen_by_the_silence_after_it(air, opened, until, monkeypatch):
    monkeypatch.setattr(bluetooth_connection, "GONE_S", 0.6)
    peer = air.bluez.add(grip())
    link = opened()
    air.bluez.notify(peer, *packets(np.arange(10)))
    until(lambda: link.wait(0.1))
    link.chunks()
    air.bluez.close()  # no word of it to anybody
    until(lambda: link.trouble is not None and link.trouble.reason is LinkFailure.STALLED)
    until(lambda: link.ended)
    with pytest.raises(LinkError, match=f"the Bluetooth link to {ADDRESS} broke: bring it near"):
        link.chunks()


@pytest.mark.slow
def test_service_that_hangs_keeps_nobody_from_closing(air, monkeypatch):
    monkeypatch.setattr("acquire.links.bluetooth.ANSWER_S", 0.2)
    monkeypatch.setattr("acquire.links.gatt.LET_GO_S", 0.2)
    air.bluez.add(grip())
    link = BluetoothLink(ADDRESS, WITH_COMMANDS)
    air.bluez.hung = True
    with pytest.raises(LinkError, match=r"cannot be reached \(it did not answer in time\)"):
        link.send(b"zero\n")
    link.close()
    assert link.ended


def test_bus_that_dies_ends_the_link(air, opened, until):
    air.bluez.add(grip())
    link = opened()
    air.bus.close()
    until(lambda: link.ended)
    assert link.trouble.reason is LinkFailure.OUT_OF_REACH
    with pytest.raises(LinkError, match="is closed"):
        link.send(b"zero\n")


def test_fault_of_the_program_ends_the_link_and_is_not_hidden(air, opened, until, monkeypatch):
    air.bluez.add(grip())
    faults = []
    monkeypatch.setattr(threading, "excepthook", faults.append)
    link = opened()

    async def fault(_keep_alive, _now, *, last):
        raise ZeroDivisionError(last)

    monkeypatch.setattr(bluetooth_connection.KeepAlive, "look", fault)
    until(lambda: link.ended)
    assert "stopped by a fault of the program: ZeroDivisionError(" in str(link.trouble)
    until(lambda: faults)
    assert faults[0].exc_type is ZeroDivisionError


def test_search_is_given_up_from_another_thread(air):
    cancelled = threading.Event()
    threading.Timer(0.1, cancelled.set).start()
    began = time.monotonic()
    with pytest.raises(LinkError, match="the search for the sensor Grip-01 was ended"):
        BluetoothLink(NAME, PACKETS, search_s=60.0, cancelled=cancelled)
    assert time.monotonic() - began < 30.0
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("bluetooth")]
    assert not air.bluez._scanning


def test_reopening_is_given_up_and_leaves_nothing_connected(air, until):
    peer = air.bluez.add(grip())
    link = BluetoothLink(ADDRESS, PACKETS)
    peer.connect_s = 60.0
    air.bluez.drop(peer)
    until(lambda: link.ended)
    threading.Timer(0.5, link.cancel_search).start()
    with pytest.raises(LinkError, match="was ended"):
        link.reopened()
    assert not peer.connected


KILLED = """
import sys
from acquire.links.bluetooth import BluetoothLink
from acquire.sensor.profile import load_profile
link = BluetoothLink("", load_profile("ble-packets"))
print("connected", flush=True)
sys.stdin.read()
"""


@pytest.mark.slow
def test_sensor_of_a_killed_program_is_found_again_and_brings_each_sample_once(air, opened, until):
    peer = air.bluez.add(grip())
    killed = subprocess.Popen([sys.executable, "-c", KILLED], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    with killed:
        assert killed.stdout.readline() == b"connected\n"
        killed.kill()
    assert peer.connected, "the real service keeps it, and so does this one"
    link = opened("", search_s=0.5)
    assert link.bluetooth.signal_dbm is None
    air.bluez.notify(peer, *packets(np.arange(40)))
    pipeline = piped(link, PACKETS, 40, until)
    assert (pipeline.ring.written, pipeline.timebase.duplicates) == (40, 0)


def held(link, air):
    """Threads and files of this program, tasks of the link, and connections of all to the bus."""
    gc.collect()
    files = len(list(Path(f"/proc/{os.getpid()}/fd").iterdir()))
    return threading.active_count(), files, len(asyncio.all_tasks(link._loop)), air.bluez.connections()


@pytest.mark.slow
def test_twenty_drops_leak_nothing(air, until):
    peer = air.bluez.add(grip())
    link = BluetoothLink(ADDRESS, PACKETS)
    before = held(link, air)
    for _ in range(20):
        air.bluez.drop(peer)
        until(lambda link=link: link.ended)
        link = link.reopened()
        assert air.bluez.sessions(peer) == 1
    until(lambda: held(link, air) == before)
    link.close()
    assert air.bluez.sessions(peer) == 0
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("bluetooth")]


def test_version_of_the_service_is_asked_for_where_its_command_is_installed(air, opened, monkeypatch, tmp_path):
    """On a real machine bleak starts `bluetoothctl` the first time, in the thread of the link."""
    command = tmp_path / "bluetoothctl"
    command.write_text(f"#!/bin/sh\ntouch {tmp_path / 'asked'}\necho 'bluetoothctl: 5.66'\n")
    command.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    monkeypatch.setattr(BlueZFeatures, "checked_bluez_version", False)
    monkeypatch.setattr(BlueZFeatures, "_check_bluez_event", None)
    peer = air.bluez.add(grip())
    opened()
    assert peer.connected
    assert (tmp_path / "asked").exists()
