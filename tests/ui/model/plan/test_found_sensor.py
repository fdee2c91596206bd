"""A sensor that was found, in plain words; the technical names stay in the tooltip."""

import pytest

from acquire.errors import LinkError, LinkFailure
from acquire.links.ports import PortInfo
from acquire.sensor.profile import load_profile
from ui.model.plan.found_sensor import is_good, seen_details, seen_words
from ui.session.find_sensor import AtRest, Rest, Seen
from ui.words.words import Words, languages

USB = PortInfo(device="/dev/ttyUSB0", description="Bridge", vid="0403", pid="6001")


def seen(rest=Rest.STILL, rate=1003.0, profile="packets-1k"):
    found = AtRest(rest=rest, zero_n=-120.0, noise_n=0.031)
    return Seen(port=USB.device, profile=load_profile(profile), source=profile, rate_hz=rate, at_rest=found)


def test_sensor_is_named_in_plain_words():
    text = seen_words(seen(), (USB,), Words("en"))
    assert text == "USB sensor on ttyUSB0, 1000 samples a second. Zero taken, noise 0.03 N."
    details = seen_details(seen(), (USB,))
    assert "packets-1k" in details
    assert "0403:6001" in details
    assert "packets-1k" not in text
    assert seen_words(seen(rate=79.6), (), Words("en")).startswith("Sensor on ttyUSB0, 80 samples")


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("rest", Rest)
def test_only_a_sensor_that_rests_is_good_and_each_other_says_what_to_do(language, rest):
    text = seen_words(seen(rest), (USB,), Words(language))
    assert is_good(seen(rest)) is (rest is Rest.STILL)
    assert text.count(".") + text.count("\u21bb") >= 2


def test_what_is_no_sensor_is_said():
    words = Words("en")
    busy = LinkError("", port="COM3", reason=LinkFailure.BUSY)
    assert "COM3" in seen_words(Seen(port="COM3", trouble=busy), (), words)
    assert "sends nothing" in seen_words(Seen(port="COM3", silent=True), (), words)
    assert "New sensor" in seen_words(Seen(port="COM3"), (), words)
    assert not is_good(Seen(port="COM3"))
