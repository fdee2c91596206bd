"""What does not fit the profile is told within two seconds of the stream, and nothing is told of what does."""

import random

import msgspec
import numpy as np
import pytest
from bad_links import SENSORS, received, sent_by
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.sensor.profile import load_profile
from acquire.simulation.device import Device
from acquire.simulation.disturbance import load_disturbance
from acquire.stream.pipeline import Pipeline
from acquire.stream.stream_fit import Counts, Misfit, StreamFit

IN_TIME_S = 2.0 - 0.1
"""The recorder looks every 40 ms, the session every 30 ms."""
READS_S = 0.03
"""Bytes of a port come together in reads."""


def bare(name):
    return msgspec.structs.replace(load_profile(name), start="", stop="")


def told(profile, chunks):
    """Return what a stream is told to be, with the second of each change."""
    pipeline, before, changes = Pipeline(profile, profile.nominal_calibration()), None, []
    for arrival, data in chunks:
        pipeline.feed(arrival, data)
        now = pipeline.unfit and pipeline.unfit.misfit
        if now is not before:
            changes.append((arrival, now, pipeline.unfit))
            before = now
    return changes


def noise(seconds, *, bytes_a_second=11_520, seed=1):
    chance = random.Random(seed)
    return [(k * READS_S, chance.randbytes(round(READS_S * bytes_a_second))) for k in range(round(seconds / READS_S))]


def sent(profile, seconds, *, times=1.0, begin=0.0):
    counts = np.full(round(seconds * times * profile.rate_hz), 1000, dtype=np.int32)
    return [(begin + due / times, data) for due, data in Device(profile, counts).frames()]


@pytest.mark.parametrize("name", ["packets-1k", "bridge-80", "board-lines", "ble-lines"])
def test_noise_is_damage_whatever_the_profile(name):
    """As at a wrong baud rate."""
    (second, misfit, unfit), *others = told(bare(name), noise(6.0))
    assert (misfit, others) == (Misfit.DAMAGED, [])
    assert second < IN_TIME_S
    assert unfit.damaged_pct > 50.0


@pytest.mark.parametrize(("given_", "real"), [("packets-1k", "bridge-80"), ("bridge-80", "packets-1k")])
def test_profile_of_another_kind_of_sensor(given_, real):
    (second, misfit, _), *others = told(bare(given_), sent(bare(real), 6.0))
    assert (misfit, others, second < IN_TIME_S) == (Misfit.DAMAGED, [], True)


@pytest.mark.parametrize("times", [30.0, 2.0, 0.25])
def test_rate_that_is_not_the_profiles(times):
    profile = bare("packets-1k")
    changes = told(profile, sent(profile, 1.8, times=times))
    second, misfit, unfit = changes[0]
    assert (misfit, len(changes)) == (Misfit.RATE, 1)
    assert second < IN_TIME_S + 0.1 / times
    assert unfit.rate_hz == pytest.approx(1000.0 * times, rel=0.05)


def test_what_fits_again_is_told():
    profile = bare("packets-1k")
    changes = told(profile, [*noise(3.0), *sent(profile, 5.0, begin=3.0)])
    assert [misfit for _, misfit, _ in changes] == [Misfit.DAMAGED, None]
    assert changes[1][0] < 3.0 + 2 * IN_TIME_S


@pytest.mark.parametrize("name", SENSORS)
@pytest.mark.parametrize("disturbance", ["bad-bluetooth", "noisy-cable", "busy-computer"])
def test_bad_link_to_the_right_sensor_is_no_misfit(name, disturbance):
    bad = load_disturbance(disturbance)
    chunks, _ = received(sent_by(name), bad)
    assert told(SENSORS[name].profile, chunks) == []


@given(
    rate_hz=st.sampled_from([10.0, 80.0, 1000.0]),
    off=st.floats(0.8, 1.25),
    pauses=st.lists(st.floats(0.6, 20.0), max_size=3),
    seed=st.integers(0, 1000),
)
@settings(max_examples=20, deadline=None)
def test_nothing_is_told_of_a_sensor_that_pauses_and_catches_up(rate_hz, off, pauses, seed):
    """Its own generator: chunks of 1 to 8 samples of 8 bytes, held up now and then and handed over at once."""
    chance, fit = random.Random(seed), StreamFit(rate_hz)
    starts = sorted(chance.uniform(2.0, 20.0) for _ in pauses)
    samples, due = 0, 0.0
    while due < 30.0:
        samples += chance.randint(1, 8 if rate_hz > 50.0 else 1)
        due = samples / (off * rate_hz)
        held = [start + pause for start, pause in zip(starts, pauses, strict=True) if start < due < start + pause]
        arrival = max([due, *held])
        assert fit.see(arrival, Counts(8 * samples, 0, samples, 0)) is None
