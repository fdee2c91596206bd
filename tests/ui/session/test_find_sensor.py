"""What is on a port is found out by listening, and how it rests is told from what it does unloaded."""

import threading

import numpy as np
import pytest

from acquire.errors import LinkFailure
from acquire.simulation.pty import PseudoTerminal
from acquire.values.calibration import Calibration
from analysis.sensor_check import load_check_limits
from ui.session import find_sensor
from ui.session.find_sensor import Rest, at_rest, find_on_port

RATED_N = 1000.0


@pytest.fixture(autouse=True)
def hasty(monkeypatch):
    for name, seconds in (("WAKE_S", 0.4), ("HEAR_S", 0.7), ("LOOK_S", 0.5)):
        monkeypatch.setattr(find_sensor, name, seconds)


def test_sensor_is_found_with_its_rate_and_its_noise(sensor):
    played = sensor("packets-1k", noise_n=0.05)
    seen = find_on_port(played.port, cancelled=threading.Event())
    assert (seen.profile.name, seen.source) == ("packets-1k", "packets-1k")
    assert seen.rate_hz == pytest.approx(1000.0, rel=0.15)
    assert seen.at_rest.rest is Rest.STILL
    assert seen.at_rest.noise_n == pytest.approx(0.05, rel=0.3)


def test_silent_port_and_no_port_are_said():
    with PseudoTerminal() as nobody:
        assert find_on_port(nobody.port, cancelled=threading.Event()).silent
    seen = find_on_port("/dev/nowhere", cancelled=threading.Event())
    assert seen.trouble.reason is LinkFailure.NOT_FOUND


def test_look_that_nobody_wants_any_more_ends_without_an_answer():
    cancelled = threading.Event()
    cancelled.set()
    with PseudoTerminal() as nobody:
        assert find_on_port(nobody.port, cancelled=cancelled) is None


def rested(force):
    calibration = Calibration(newtons_per_count=0.001, rated_force_n=RATED_N)
    return at_rest(np.asarray(force) * 1000.0, 500.0, calibration, RATED_N, load_check_limits())


TIME = np.arange(1000) / 500.0
NOISE = np.random.default_rng(7).standard_normal(1000)


@pytest.mark.parametrize(
    ("force", "rest"),
    [
        (0.05 * NOISE, Rest.STILL),
        (0.05 * NOISE + 0.02 * TIME, Rest.STILL),
        (0.05 * NOISE + 20.0, Rest.STILL),
        (0.9 * NOISE, Rest.NOISY),
        (0.05 * NOISE + 120.0, Rest.LOADED),
        (0.05 * NOISE + 8.0 * (TIME > 1.0), Rest.TOUCHED),
        (0.05 * NOISE + 15.0 * np.sin(2.0 * np.pi * 0.7 * TIME), Rest.TOUCHED),
    ],
    ids=["still", "warming up", "an offset", "noisy", "something lies on it", "laid down", "in the hand"],
)
def test_rest_is_told_from_what_the_unloaded_sensor_does(force, rest):
    found = rested(force)
    assert found.rest is rest
