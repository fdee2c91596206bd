"""A sensor in no profile is described in a dialog that says what to do; its profile is then the plan's."""

import itertools

import numpy as np
import pytest
from emulated import UnknownSensor
from msgspec.structs import replace

from acquire.discovery import listening
from acquire.sensor.profile import load_profile
from ui.session import describe_sensor

NOISE = itertools.cycle(np.random.default_rng(4).normal(0.0, 0.05, 997).tolist())


@pytest.fixture(autouse=True)
def hasty(monkeypatch):
    for name, seconds in (("QUIET_S", 1.0), ("PUSH_S", 0.7), ("LET_GO_S", 0.2), ("WEIGHED_S", 0.5)):
        monkeypatch.setattr(describe_sensor, name, seconds)
    monkeypatch.setattr(listening, "WAKE_S", 0.5)
    monkeypatch.setattr(listening, "HEAR_S", 0.3)


class Somebody:
    """Pushes when the dialog says so, and answers what it asks."""

    def __init__(self, place):
        self.place, self.words, self.told, self.force_n = place, place._words, [], 0.0

    def lines(self, rate_hz=80.0):
        for number in itertools.count():
            yield number / rate_hz, f"{number};{(self.force_n + next(NOISE)) * 250.0:.0f}\r\n".encode()

    def obey(self, answers):
        """Do what is shown; return whether it has come to the name."""
        dialog, words = self.place.describing, self.words
        text = dialog.say.text()
        if not self.told or self.told[-1] != text:
            self.told.append(text)
        self.force_n = {words("describe.push"): 120.0, words("describe.hang", mass=5.0): 5.0 * 9.80665}.get(text, 0.0)
        named = words("describe.name") in text
        if dialog.next.isEnabled() and not named:
            dialog.field.setText(answers.get(text, ""))
            dialog.next.click()
        return named


@pytest.fixture
def plugged(placed):
    """A place whose sensor nobody has described, and the person with it."""
    sensors = []

    def plug(silent=False):
        place = placed()
        body = Somebody(place)
        sensors.append(UnknownSensor(iter(()) if silent else body.lines()))
        place.edit(lambda draft: replace(draft, port=sensors[-1].port, sensor="bridge-80"))
        place.sensor.describe.click()
        return place, body

    yield plug
    for sensor in sensors:
        sensor.close()


def test_unknown_sensor_is_described_and_taken(qtbot, plugged):
    place, body = plugged()
    words, port = body.words, place.draft.port
    answers = {words("describe.weight"): "5", words("describe.rated"): "800"}
    qtbot.waitUntil(lambda: body.obey(answers), timeout=30_000)
    assert body.told.index(words("describe.quiet", seconds=1.0)) < body.told.index(words("describe.push"))
    assert words("describe.no_push") not in place.describing.say.text()
    place.describing.field.setText("My Grip")
    place.describing.next.click()
    profile = load_profile(place.draft.sensor)
    assert (profile.name, profile.separator, profile.rated_force_n) == ("my-grip", ";", 800.0)
    assert profile.counts_per_newton == pytest.approx(250.0, rel=0.02)
    assert place.draft.port == port


def test_dialog_that_is_closed_lets_go_of_the_sensor_and_saves_nothing(qtbot, plugged, remembered):
    place, body = plugged()
    dialog = place.describing
    qtbot.waitUntil(lambda: dialog.say.text() == body.words("describe.lay_down"), timeout=10_000)
    dialog.reject()
    dialog._work.join(10.0)
    assert not dialog._work.is_alive()
    assert place.draft.sensor == "bridge-80"
    assert not list(remembered.path.parent.glob("**/*.toml"))


def test_port_that_sends_nothing_is_said(qtbot, plugged):
    place, _ = plugged(silent=True)
    dialog = place.describing
    qtbot.waitUntil(lambda: "nothing came" in dialog.say.text(), timeout=10_000)
    assert not dialog.next.isEnabled()
    dialog.reject()
