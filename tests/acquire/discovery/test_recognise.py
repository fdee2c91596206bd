"""A sensor is told by what it sends: each that comes along is itself, and what is no sensor is none of them."""

import msgspec
import numpy as np
import pytest
from pushed import captured, force_of_push, frames_of

from acquire.discovery.recognise import recognise
from acquire.links.base import Chunk
from acquire.sensor.profile import known_profiles

SERIAL = tuple(each for each in known_profiles() if each.link == "serial" and each.name != "simulated")


def heard(profile, **options):
    return captured(frames_of(profile, force_of_push(profile.rate_hz, seconds=2.5), **options), told=False).chunks


@pytest.mark.parametrize("profile", SERIAL, ids=lambda profile: profile.name)
def test_sensor_is_itself_by_its_rate_and_its_samples(profile):
    found = recognise(heard(profile), SERIAL)
    assert found.profile.name == profile.name
    assert found.rate_hz == pytest.approx(profile.rate_hz, rel=0.05)


def test_profile_used_last_is_taken_where_several_fit():
    own = msgspec.structs.replace(SERIAL[0], name="mine", counts_per_newton=123.0)
    assert recognise(heard(SERIAL[0]), SERIAL, first=own).profile.name == "mine"
    other = next(each for each in SERIAL if each.framing != SERIAL[0].framing)
    assert recognise(heard(SERIAL[0]), SERIAL, first=other).profile.name == SERIAL[0].name


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"$GPGGA,120000,,,,,0,00,,,M,,M,,*66\r\n",
        bytes(np.random.default_rng(3).integers(0, 256, 60, dtype=np.uint8)),
    ],
    ids=["silence", "another device", "another baud rate"],
)
def test_what_is_no_known_sensor_is_none(data):
    chunks = [Chunk(0.02 * k, data) for k in range(100) if data]
    assert recognise(chunks, SERIAL) is None


def test_sensor_at_another_setting_is_not_taken_for_the_known_one():
    profile = next(each for each in SERIAL if each.name == "bridge-80")
    chunks = [Chunk(k / 10.0, b"%d\n" % k) for k in range(40)]
    assert recognise(chunks, [profile]) is None
