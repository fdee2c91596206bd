"""Tones in the noise of a sensor, and whether they are the mains."""

import numpy as np
import pytest
from scipy import signal

from analysis.sensor_check.hum import _spectrum, folded, strongest_tone


def noise(rate, seconds=30.0, sd=0.2, seed=1):
    return np.random.default_rng(seed).normal(0.0, sd, round(rate * seconds))


def tone(rate, hertz, rms, seconds=30.0):
    time = np.arange(round(rate * seconds)) / rate
    return rms * np.sqrt(2.0) * np.sin(2.0 * np.pi * hertz * time)


@pytest.mark.parametrize("mains", [50.0, 60.0])
@pytest.mark.parametrize("rate", [320.0, 500.0, 1000.0])
def test_hum_is_found_with_its_size(rate, mains):
    found = strongest_tone(noise(rate) + tone(rate, mains + 0.1, 0.2), rate)
    assert found.mains_hz == mains
    assert found.frequency_hz == pytest.approx(mains, abs=1.0)
    assert found.rms_n == pytest.approx(0.2, rel=0.05)


# At 80 a second 50 Hz shows at 30 Hz and 60 Hz at 20 Hz, where the second harmonic of 50 Hz would too.
@pytest.mark.parametrize(("mains", "shows"), [(50.0, 30.0), (60.0, 20.0)])
def test_hum_of_a_slow_sensor_shows_folded(mains, shows):
    found = strongest_tone(noise(80.0) + tone(80.0, mains, 0.3), 80.0)
    assert (found.frequency_hz, found.mains_hz) == (shows, mains)


def test_second_harmonic_is_the_mains_too():
    assert strongest_tone(noise(1000.0) + tone(1000.0, 120.0, 0.3), 1000.0).mains_hz == 60.0


def test_other_tone_is_no_mains():
    found = strongest_tone(noise(1000.0) + tone(1000.0, 33.0, 0.3), 1000.0)
    assert (found.frequency_hz, found.mains_hz) == (33.0, None)


@pytest.mark.parametrize("rate", [80.0, 320.0, 1000.0])
def test_white_noise_has_no_tone(rate):
    found = [strongest_tone(noise(rate, seed=seed), rate) for seed in range(40)]
    assert sum(each is not None for each in found) <= 1


def test_drift_is_no_tone():
    walk = np.cumsum(noise(1000.0, sd=0.001))
    assert strongest_tone(noise(1000.0) + walk - walk.mean(), 1000.0) is None


@pytest.mark.parametrize(("rate", "seconds"), [(10.0, 30.0), (1000.0, 2.5)])
def test_too_little_to_tell_tells_nothing(rate, seconds):
    assert strongest_tone(tone(rate, 3.0, 1.0, seconds), rate) is None


def test_silent_sensor_has_no_tone():
    assert strongest_tone(np.zeros(30_000), 1000.0) is None


def test_spectrum_is_that_of_a_second_library():
    values = noise(1000.0) + tone(1000.0, 50.0, 0.2)
    _, other = signal.welch(values, 1000.0, window="hann", nperseg=1000, noverlap=500, detrend="constant")
    assert _spectrum(values, 1000)[1:-1] == pytest.approx(other[1:-1], rel=1e-9)


@pytest.mark.parametrize(("hertz", "rate", "shows"), [(150.0, 80.0, 10.0), (40.0, 80.0, 40.0), (0.0, 80.0, 0.0)])
def test_frequencies_fold_at_half_the_rate(hertz, rate, shows):
    assert folded(hertz, rate) == shows
