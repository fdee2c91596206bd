"""Which Bluetooth sensors are in range, and which is meant: bleak's own Linux code, a service without a radio."""

import asyncio

import pytest
from grip import ADDRESS, LINES, NAME, OTHER_ADDRESS, PACKETS, grip

from acquire.errors import LinkError, LinkFailure
from acquire.links.bluetooth_search import bluetooth_sensors, find

SEARCH_S = 0.45


def found(wanted):
    device, signal_dbm = asyncio.run(find(wanted, PACKETS.service, SEARCH_S))
    return device.address, signal_dbm


def refused(wanted):
    with pytest.raises(LinkError) as caught:
        found(wanted)
    assert caught.value.reason is LinkFailure.NOT_FOUND
    return str(caught.value)


def test_what_is_in_reach_is_listed_the_strongest_first(air):
    air.bluez.add(grip(name="Far", address=OTHER_ADDRESS, rssi=-88))
    air.bluez.add(grip(battery=b"2"))
    near, far = bluetooth_sensors(SEARCH_S)
    assert (near.name, near.address, near.signal_dbm) == (NAME, ADDRESS, -61)
    assert PACKETS.service in near.services
    assert (far.name, far.signal_dbm) == ("Far", -88)


def test_sensor_without_a_name_is_listed_without_one(air):
    air.bluez.add(grip(name=""))
    (only,) = bluetooth_sensors(SEARCH_S)
    assert (only.name, only.address) == ("", ADDRESS)


@pytest.mark.parametrize("wanted", [NAME, ADDRESS, ADDRESS.lower(), ""])
def test_sensor_is_found_by_name_by_address_and_by_its_service(air, wanted):
    air.bluez.add(grip(LINES, name="Other", address=OTHER_ADDRESS))
    air.bluez.add(grip(rssi=-70))
    assert found(wanted) == (ADDRESS, -70)


def test_nothing_of_that_name_in_reach(air):
    air.bluez.add(grip(name="Scale"))
    assert refused(NAME) == (
        "no sensor Grip-01 is in range: switch it on, bring it near, and see that no telephone or other program is "
        "connected to it"
    )


def test_name_that_is_nearly_one_in_reach_is_asked_about(air):
    air.bluez.add(grip())
    assert refused("Grip-1").endswith("; did you mean Grip-01?")


def test_nothing_with_that_address_in_reach(air):
    air.bluez.add(grip())
    assert refused(OTHER_ADDRESS).startswith(f"no sensor {OTHER_ADDRESS} is in range")


def test_no_sensor_of_the_kind_in_reach(air):
    air.bluez.add(grip(LINES))
    assert refused("").startswith(f"no sensor with the service {PACKETS.service} is in range")


def test_several_of_a_kind_must_be_told_apart_by_the_user(air):
    air.bluez.add(grip())
    air.bluez.add(grip(name="", address=OTHER_ADDRESS))
    assert refused("") == (
        "several sensors of this kind are in range: say with --port which one, by name or address: "
        f"(no name) {OTHER_ADDRESS}, {NAME} {ADDRESS}"
    )


def test_two_of_the_same_name_must_be_told_apart_by_address(air):
    air.bluez.add(grip())
    air.bluez.add(grip(address=OTHER_ADDRESS))
    sentence = f"several sensors are called Grip-01: say with --port which one, by address: {NAME} {ADDRESS}, "
    assert refused(NAME).startswith(sentence)
    assert found(OTHER_ADDRESS)[0] == OTHER_ADDRESS


# what is connected advertises nothing


def left_connected(air, profile=PACKETS):
    """A sensor as a program leaves it that was killed: connected, and so not heard."""
    return air.bluez.add(grip(profile, connected=True, resolved=True))


@pytest.mark.parametrize("wanted", [NAME, ADDRESS, ""])
def test_sensor_that_a_killed_program_left_connected_is_found(air, wanted):
    left_connected(air)
    assert found(wanted) == (ADDRESS, None)


def test_connected_sensor_of_another_kind_is_not_taken(air):
    left_connected(air, LINES)
    assert refused("").startswith("no sensor with the service")


def test_connected_sensors_of_the_kinds_asked_for_are_listed_last(air):
    left_connected(air)
    air.bluez.add(grip(name="Far", address=OTHER_ADDRESS, rssi=-88))
    assert [sensor.name for sensor in bluetooth_sensors(SEARCH_S)] == ["Far"]
    far, connected = bluetooth_sensors(SEARCH_S, services=[LINES.service, PACKETS.service.upper()])
    assert far.signal_dbm == -88
    assert (connected.name, connected.signal_dbm, connected.services) == (NAME, None, (PACKETS.service,))
