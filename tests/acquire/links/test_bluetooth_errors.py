"""What keeps a Bluetooth sensor from being opened: each with its own sentence that says what to do."""

import threading

import msgspec
import pytest
from bleak import BleakScanner
from grip import ADDRESS, LINES, PACKETS, grip
from private_bus import PrivateBus
from strange_bus import AGREES, GARBAGE, StrangeBus

from acquire.errors import LinkError, LinkFailure
from acquire.links import bluetooth_connection
from acquire.links.bluetooth import BluetoothLink
from acquire.links.bluetooth_search import bluetooth_sensors

COMMANDED = msgspec.structs.replace(PACKETS, start="start\n")


def refused(port=ADDRESS, profile=PACKETS, search_s=0.5):
    with pytest.raises(LinkError) as caught:
        BluetoothLink(port, profile, search_s=search_s)
    return caught.value.reason, str(caught.value)


def test_nothing_in_reach(air):
    air.bluez.add(grip(address="C0:FF:EE:00:00:09"))
    reason, sentence = refused()
    assert reason is LinkFailure.NOT_FOUND
    assert sentence.startswith(f"no sensor {ADDRESS} is in range: switch it on, bring it near")


def test_adapter_switched_off(air):
    air.bluez.add(grip())
    air.bluez.power(False)
    assert refused() == (
        LinkFailure.BLUETOOTH_OFF,
        "Bluetooth is switched off: switch it on in the system's settings and try again",
    )


def test_account_without_the_right_to_use_bluetooth(air):
    air.bluez.denied = True
    reason, sentence = refused()
    assert reason is LinkFailure.NO_PERMISSION
    assert "this account may not use Bluetooth" in sentence
    assert "group `bluetooth`" in sentence


def test_bus_that_lets_this_account_not_in(monkeypatch, tmp_path):
    bus = PrivateBus(tmp_path, auth="ANONYMOUS")  # not the way that bleak says who it is
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    assert refused()[0] is LinkFailure.NO_PERMISSION
    bus.close()


@pytest.mark.parametrize(
    "way",
    [
        {"refuse": ("org.bluez.Error.InProgress", "In Progress")},
        {"refuse_notify": ("org.bluez.Error.NotPermitted", "Notify acquired")},
    ],
    ids=["while it connects", "its notifications"],
)
def test_sensor_in_use_by_another_program(air, way):
    peer = air.bluez.add(grip(**way))
    assert refused() == (
        LinkFailure.BUSY,
        f"{ADDRESS} is in use by another program: close that program and try again",
    )
    assert not peer.connected


@pytest.mark.parametrize(
    "way",
    [
        {"refuse_notify": ("org.bluez.Error.NotPermitted", "Not paired")},
        {"refuse_write": ("org.bluez.Error.NotAuthorized", "")},
        {"refuse_write": ("org.bluez.Error.Failed", "Operation failed with ATT error: 0x0f")},
    ],
    ids=["its notifications", "to command it", "without encryption"],
)
def test_sensor_that_must_be_paired_first(air, way):
    air.bluez.add(grip(**way))
    reason, sentence = refused(profile=COMMANDED)
    assert reason is LinkFailure.NOT_PAIRED
    assert sentence.endswith("pair it in the system's Bluetooth settings and try again")


def test_connection_that_fails_names_the_cause(air):
    air.bluez.add(grip(refuse=("org.bluez.Error.Failed", "it said no")))
    reason, sentence = refused()
    assert reason is LinkFailure.FAILED
    assert "it said no" in sentence


def test_sensor_that_the_service_has_forgotten_meanwhile(air):
    air.bluez.add(grip(refuse=("org.freedesktop.DBus.Error.UnknownObject", "no such device")))
    assert refused()[0] is LinkFailure.NOT_FOUND


def test_sensor_that_never_answers(air, monkeypatch):
    monkeypatch.setattr(bluetooth_connection, "CONNECT_S", 0.3)
    peer = air.bluez.add(grip(connect_s=60.0))
    reason, sentence = refused()
    assert reason is LinkFailure.FAILED
    assert f"{ADDRESS} cannot be reached (it did not answer in time): switch it off and on" in sentence
    assert not peer.connected


@pytest.mark.parametrize(
    ("changed", "profile", "lack"),
    [
        ({"service": LINES.service}, PACKETS, f"it has no service {PACKETS.service}"),
        (
            {"characteristic": LINES.characteristic},
            PACKETS,
            f"its service has no characteristic {PACKETS.characteristic}",
        ),
        (
            {"commands": LINES.characteristic},
            COMMANDED,
            f"its characteristic {PACKETS.characteristic} takes no commands",
        ),
        (
            {"commands": PACKETS.characteristic, "characteristic": LINES.characteristic},
            PACKETS,
            f"its characteristic {PACKETS.characteristic} does not notify",
        ),
    ],
    ids=["service", "characteristic", "commands", "notifications"],
)
def test_sensor_that_is_not_as_its_profile_says(air, changed, profile, lack):
    peer = air.bluez.add(grip(**changed))
    assert refused(profile=profile) == (
        LinkFailure.FAILED,
        f"{ADDRESS} is not as its profile says ({lack}): choose another profile, or correct this one",
    )
    assert not peer.connected


def test_no_adapter(air):
    air.bluez.adapter = False
    reason, sentence = refused()
    assert reason is LinkFailure.NO_BLUETOOTH
    assert "(No Bluetooth adapters found): plug in an adapter" in sentence


def test_no_bluetooth_service(air):
    air.bluez.close()
    reason, sentence = refused()
    assert reason is LinkFailure.NO_BLUETOOTH
    assert "start the system's Bluetooth service" in sentence


def test_no_system_bus(monkeypatch, tmp_path):
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path / 'none'}")
    reason, sentence = refused()
    assert reason is LinkFailure.NO_BLUETOOTH
    assert "the system bus cannot be reached" in sentence
    with pytest.raises(LinkError, match="the system bus cannot be reached"):
        bluetooth_sensors(0.1)


@pytest.mark.parametrize("answer", [GARBAGE, AGREES], ids=["garbage", "agrees"])
def test_something_that_is_no_bus_at_its_address(monkeypatch, tmp_path, answer):
    bus = StrangeBus(tmp_path / "bus", answer)
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    reason, sentence = refused()
    assert reason is LinkFailure.NO_BLUETOOTH
    assert "the system bus cannot be reached" in sentence
    with pytest.raises(LinkError, match="the system bus cannot be reached"):
        bluetooth_sensors(0.1)
    bus.close()


def test_listing_ends_in_a_sentence_whatever_bleak_raises(monkeypatch):
    async def fails(**_):
        raise KeyError("org.bluez")

    monkeypatch.setattr(BleakScanner, "discover", fails)
    with pytest.raises(LinkError, match=r"Bluetooth cannot be reached \('org.bluez'\)") as caught:
        bluetooth_sensors(0.1)
    assert caught.value.reason is LinkFailure.FAILED


def test_address_of_the_system_bus_that_is_none(monkeypatch):
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", "nonsense")
    assert refused()[0] is LinkFailure.NO_BLUETOOTH


def test_fault_of_the_program_keeps_nobody_waiting(monkeypatch):
    faults = []
    monkeypatch.setattr(threading, "excepthook", faults.append)
    monkeypatch.setattr(bluetooth_connection, "find", lambda *_: 1 / 0)
    with pytest.raises(LinkError, match=r"stopped by a fault of the program: ZeroDivisionError"):
        BluetoothLink(ADDRESS, PACKETS)
    assert faults[0].exc_type is ZeroDivisionError
