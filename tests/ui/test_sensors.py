"""The list of ports and profiles."""

from types import SimpleNamespace

import pytest
from serial.tools import list_ports

from acquire.profile import known_profiles


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
    result = ramphold("sensors")
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
    content = ramphold("sensors", "--json").json
    assert set(content) == {"ports", "profiles"}
    assert content["ports"] == [{"port": "/dev/ttyACM0", "description": "Load cell", "usb": "0483:5740"}]
    assert [profile["name"] for profile in content["profiles"]] == [profile.name for profile in known_profiles()]
    for profile in content["profiles"]:
        assert set(profile) == {"name", "title", "link", "framing", "rate_hz", "rated_force_n"}


def test_every_listed_profile_can_be_named_to_check(ramphold, plugged):
    plugged()
    profiles = {profile["name"]: profile["link"] for profile in ramphold("sensors", "--json").json["profiles"]}
    assert profiles.pop("simulated") == "serial"
    for name, link in profiles.items():
        result = ramphold("check", name)
        wanted = f"sensor {name} is plugged in" if link == "serial" else f"{name} is for a sensor by radio"
        assert result.code == 1
        assert wanted in result.err
