"""A sensor that is plugged in is put into the plan by itself, and never against what the user has chosen."""

import dataclasses
import threading

import pytest
from msgspec.structs import replace
from PyQt6.QtCore import Qt

from acquire.links.bluetooth_search import BluetoothSensor
from acquire.links.ports import PortInfo
from acquire.sensor.profile import load_profile
from ui.session.find_sensor import AtRest, Rest, Seen
from ui.window.plan import finder, finding

USB = PortInfo(device="/dev/ttyUSB0", description="Bridge", vid="0403", pid="6001")
WIRED = PortInfo(device="/dev/ttyS0", description="ttyS0")
STILL = AtRest(rest=Rest.STILL, zero_n=0.2, noise_n=0.03)


@pytest.fixture(autouse=True)
def hasty(monkeypatch):
    monkeypatch.setattr(finder, "EVERY_MS", 20)
    monkeypatch.setattr(finder, "TAKE_MS", 5)


@pytest.fixture
def looked(monkeypatch):
    """The ports that were looked at; each has a sensor of 1 kHz."""
    ports = []

    def look(port, *, chosen, cancelled):
        assert not cancelled.is_set()
        ports.append((port, chosen))
        return Seen(port=port, profile=load_profile("packets-1k"), source="packets-1k", rate_hz=1000.0, at_rest=STILL)

    monkeypatch.setattr(finder, "find_on_port", look)
    return ports


def test_sensor_is_taken_when_the_place_opens_and_said_in_plain_words(qtbot, placed, looked):
    place = placed(ports=lambda: (USB, WIRED), finds=True)
    qtbot.waitUntil(lambda: place.draft.port == USB.device)
    assert place.draft.sensor == "packets-1k"
    assert place.sensor.found.text().startswith("\u2713 USB sensor on ttyUSB0, 1000 samples a second.")
    assert "packets-1k" in place.sensor.found.toolTip()
    assert [port for port, _ in looked] == [USB.device]  # what is not on USB is not opened unasked


def test_sensor_plugged_in_later_is_taken_and_one_unplugged_is_forgotten(qtbot, placed, looked):
    there = []
    place = placed(ports=lambda: tuple(there), finds=True)
    qtbot.wait(400)
    assert place.draft.port is None
    there.append(USB)
    qtbot.waitUntil(lambda: place.draft.port == USB.device)
    there.clear()
    qtbot.waitUntil(lambda: not place.sensor.found.isVisible())
    there.append(USB)
    qtbot.waitUntil(lambda: len(looked) == 2)


def test_choice_by_hand_stands(qtbot, placed, looked):
    there = []
    place = placed(ports=lambda: tuple(there), finds=True)
    place.sensor.port.activated.emit(0)
    there.append(USB)
    qtbot.waitUntil(lambda: bool(looked) and place.sensor.found.isVisible() and "ttyUSB0" in place.sensor.found.text())
    assert place.draft.port is None


def test_profile_and_calibration_of_last_time_stay_with_their_sensor(qtbot, placed, looked):
    place = placed(ports=lambda: (USB,), finds=True)
    place.edit(lambda draft: replace(draft, port=USB.device, sensor="packets-1k", calibration="mine.toml"))
    qtbot.waitUntil(lambda: bool(looked) and place.sensor.found.isVisible())
    assert looked[0] == (USB.device, "packets-1k")
    assert place.draft.calibration == "mine.toml"


def test_nothing_is_looked_at_while_somebody_else_has_the_sensor(qtbot, placed, monkeypatch, good):
    began, ended = threading.Event(), threading.Event()

    def look(_, *, chosen, cancelled):
        assert chosen == ""
        began.set()
        assert cancelled.wait(10.0)
        ended.set()

    monkeypatch.setattr(finder, "find_on_port", look)
    place = placed(ports=lambda: (USB,), finds=True)
    place.show_draft(good)
    qtbot.waitUntil(began.is_set)
    begun = []
    place.begin.connect(lambda _: begun.append(ended.is_set()))
    place.press()
    assert begun == [True]
    place.keep_look(kept=True)
    place.hide()
    place.show()
    began.clear()
    qtbot.wait(400)
    assert not began.is_set()


def test_bluetooth_sensor_in_range_is_taken_where_no_cable_has_brought_one(qtbot, placed, monkeypatch):
    profile = load_profile("ble-packets")
    heard = BluetoothSensor(name="Grip-01", address="C0:FF:EE:00:00:01", signal_dbm=-61, services=(profile.service,))
    asked = []

    def look(name, *, profile, cancelled):
        assert not cancelled.is_set()
        asked.append((name, profile))
        return dataclasses.replace(
            Seen(port=name), profile=load_profile(profile), source=profile, rate_hz=500.0, at_rest=STILL
        )

    monkeypatch.setattr(finding, "BLUETOOTH_AFTER_MS", 50)
    monkeypatch.setattr(finder, "look_over_bluetooth", look)
    place = placed(ports=tuple, listen=lambda: (heard,), finds=True)
    qtbot.waitUntil(lambda: bool(asked) and "Bluetooth sensor Grip-01" in place.sensor.found.text())
    assert (place.draft.port, place.draft.sensor) == ("Grip-01", "ble-packets")
    assert asked == [("Grip-01", "ble-packets")]


def test_look_is_done_again_by_its_button(qtbot, placed, looked):
    place = placed(ports=lambda: (USB,), listen=tuple, finds=True)
    qtbot.waitUntil(lambda: len(looked) == 1 and place.sensor.found.isVisible())
    qtbot.mouseClick(place.sensor.refresh, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(looked) == 2)
