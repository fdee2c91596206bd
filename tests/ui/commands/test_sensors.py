"""The list of ports and profiles."""

from types import SimpleNamespace

import pytest
from bluez import Peer
from serial.tools import list_ports

from acquire.decoders.packets import packet_body
from acquire.sensor.profile import known_profiles, load_profile


def port(device, description="n/a", vid=None, pid=None):
    return SimpleNamespace(device=device, description=description, vid=vid, pid=pid)


class Found(SimpleNamespace):
    """What the system lists; pyserial's own sort by name."""

    def __lt__(self, other):
        return self.device < other.device


@pytest.fixture
def plugged(monkeypatch):
    """Say what is plugged in."""

    def plug(*ports):
        monkeypatch.setattr(list_ports, "comports", lambda: [Found(**vars(one)) for one in ports])

    return plug


def test_ports_are_listed_with_what_they_say_they_are(ramphold, plugged):
    plugged(port("/dev/ttyUSB1", "Bridge 9", 0x1A86, 0x7523), port("/dev/ttyS0"))
    result = ramphold("sensors", "--listen", "0")
    assert result.code == 0
    assert result.err == ""
    rows = [line.split() for line in result.out.splitlines() if line.startswith("/dev")]
    assert rows == [["/dev/ttyS0", "/dev/ttyS0", "-"], ["/dev/ttyUSB1", "Bridge", "9", "1a86:7523"]]


def test_no_port_is_said_with_what_to_do(ramphold, plugged):
    plugged()
    result = ramphold("sensors")
    assert result.code == 0
    assert "none: plug the sensor in" in result.out


def test_every_profile_that_comes_along_is_listed(ramphold, plugged):
    plugged()
    out = ramphold("sensors").out
    for profile in known_profiles():
        (row,) = [line for line in out.splitlines() if line.startswith(f"{profile.name} ")]
        assert profile.title in row
        assert f" {profile.rate_hz:g} " in row
    assert "Try one with: ramphold check PROFILE --port PORT" in out


def test_json_holds_ports_and_profiles(ramphold, plugged):
    plugged(port("/dev/ttyACM0", "Load cell", 0x0483, 0x5740))
    content = ramphold("sensors", "--json", "--listen", "0").json
    assert set(content) == {"ports", "radio", "radio_trouble", "profiles"}
    assert content["ports"] == [{"port": "/dev/ttyACM0", "description": "Load cell", "usb": "0483:5740"}]
    assert [profile["name"] for profile in content["profiles"]] == [profile.name for profile in known_profiles()]
    for profile in content["profiles"]:
        assert set(profile) == {"name", "title", "link", "framing", "rate_hz", "rated_force_n"}


def test_every_listed_profile_can_be_named_to_check(ramphold, plugged):
    plugged()
    listed = ramphold("sensors", "--json", "--listen", "0").json["profiles"]
    profiles = {profile["name"]: profile["link"] for profile in listed}
    assert profiles.pop("simulated") == "serial"
    for name, link in profiles.items():
        result = ramphold("check", name)
        wanted = f"sensor {name} is plugged in" if link == "serial" else "no working Bluetooth"
        assert result.code == 1
        assert wanted in result.err


def test_bluetooth_sensors_in_reach_are_listed_with_the_profile_that_fits(ramphold, plugged, air):
    plugged()
    profile = load_profile("ble-packets")
    air.bluez.add(Peer("Grip-01", profile.service, profile.characteristic))
    air.bluez.add(Peer("", "00001809-0000-1000-8000-00805f9b34fb", profile.characteristic, "C0:FF:EE:00:00:02"))
    result = ramphold("sensors", "--listen", "0.5")
    rows = [line.split() for line in result.out.splitlines() if "C0:FF:EE" in line]
    assert rows[0] == ["Grip-01", "C0:FF:EE:00:00:01", "signal", "good", "(-61", "dBm)", "ble-packets"]
    assert rows[1][-1] == "-"
    assert "listening for Bluetooth sensors for 0.5 s" in result.err
    found = ramphold("sensors", "--listen", "0.5", "--json").json["radio"]
    assert {one["name"]: one["profiles"] for one in found}["Grip-01"] == ["ble-packets"]


def test_machine_without_bluetooth_says_so_in_one_line_and_lists_the_rest(ramphold, plugged):
    plugged()
    result = ramphold("sensors")
    assert result.code == 0
    assert "this computer has no working Bluetooth (the system bus cannot be reached)" in result.out
    assert "packets-1k" in result.out


@pytest.mark.slow
def test_bluetooth_sensor_is_checked_as_one_by_cable(ramphold, air):
    profile = load_profile("ble-packets")
    peer = air.bluez.add(Peer("Grip-01", profile.service, profile.characteristic))
    step = round(profile.tick_hz * 10 / profile.rate_hz * 100) / 100
    values = [packet_body(n, round(n * step), [0] * 10, count_bits=24) for n in range(2000)]
    air.bluez.play(peer, values, period_s=10 / profile.rate_hz)
    result = ramphold("check", "ble-packets", "--port", "Grip-01", "--seconds", "2")
    assert result.code == 0, result.err
    assert "The sensor passes" in result.out
