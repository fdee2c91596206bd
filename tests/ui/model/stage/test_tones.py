"""Tones: short, soft at both ends, and each told from the others by pitch and by rhythm."""

from itertools import combinations

import numpy as np
import pytest

from ui.model.stage.hint import URGENT
from ui.model.stage.tones import RATES_HZ, TONES, as_bytes, tone
from ui.session.cues import Cue

SEMITONE = 2.0 ** (1.0 / 12.0)

PAIRS = list(combinations(TONES, 2))
both_rates = pytest.mark.parametrize("rate", RATES_HZ)
every_tone = pytest.mark.parametrize("name", TONES)


def runs_of(name, rate=48_000):
    """Return how long each sounding stretch of a tone is, s, as heard: by the level over 5 ms."""
    level = np.convolve(np.abs(tone(name, rate)), np.ones(240) / 240, mode="same") > 0.02
    edges = np.flatnonzero(np.diff(np.concatenate([[0], level.astype(int), [0]])))
    return (edges[1::2] - edges[::2]) / rate


def seconds_of(name):
    return sum(note.seconds + note.rest for note in TONES[name])


def pitch_of(name):
    """Return the pitch that stands out in a tone, Hz: that of its longest note, or of the one heard most."""
    heard = {}
    for note in TONES[name]:
        heard[note.hz] = heard.get(note.hz, 0.0) + note.seconds
    return max(heard, key=lambda hz: heard[hz])


def dominant_hz(samples, rate):
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 1 << 18))
    return np.fft.rfftfreq(1 << 18, 1.0 / rate)[np.argmax(spectrum)]


def test_every_cue_and_both_verdicts_have_a_tone():
    heard = set(Cue) - {Cue.HALTED, Cue.RECORD}  # the first sounds as STOP, the second is of the command line
    assert set(TONES) == {cue.value for cue in heard} | {"accepted", "rejected", "slower"}
    assert set(URGENT.values()) <= set(TONES)


@both_rates
@every_tone
def test_tone_is_as_long_as_its_notes_and_short(name, rate):
    assert len(tone(name, rate)) == pytest.approx(seconds_of(name) * rate, abs=len(TONES[name]) * 2)
    assert seconds_of(name) <= 0.8


@both_rates
@every_tone
def test_tone_is_a_float32_within_half_the_range(name, rate):
    samples = tone(name, rate)
    assert samples.dtype == np.float32
    assert samples.ndim == 1
    assert 0.4 < np.max(np.abs(samples)) <= 0.5


@both_rates
@every_tone
def test_tone_starts_and_ends_at_nothing(name, rate):
    samples = tone(name, rate)
    assert samples[0] == 0.0
    assert samples[-1] == 0.0


@both_rates
@every_tone
def test_no_step_is_steeper_than_the_tone_itself(name, rate):
    steepest = 2.0 * np.pi * max(note.hz for note in TONES[name]) / rate * 0.5 * 1.4
    assert np.max(np.abs(np.diff(tone(name, rate)))) < steepest


@every_tone
def test_ends_are_soft(name):
    samples = np.abs(tone(name, 48_000))
    sounding = np.flatnonzero(samples > 1e-6)
    for edge in (samples[sounding[0] : sounding[0] + 96], samples[sounding[-1] - 95 : sounding[-1] + 1]):
        assert np.max(edge) < 0.05  # 2 ms after the beginning and before the end


@both_rates
@every_tone
def test_pitch_is_what_the_spectrum_shows(name, rate):
    assert dominant_hz(tone(name, rate), rate) == pytest.approx(pitch_of(name), rel=0.01)


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_two_tones_differ_in_pitch(one, other):
    low, high = sorted((dominant_hz(tone(one), 48_000), dominant_hz(tone(other), 48_000)))
    assert high / low > SEMITONE**1.5


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_two_tones_differ_in_rhythm(one, other):
    first, second = runs_of(one), runs_of(other)
    assert len(first) != len(second) or np.max(np.abs(first - second)) > 0.04


def test_tone_cannot_be_changed_by_who_plays_it():
    with pytest.raises(ValueError, match="read-only"):
        tone("go")[0] = 1.0


def test_unknown_tone_is_an_error():
    with pytest.raises(KeyError, match="fanfare"):
        tone("fanfare")


def test_bytes_for_a_device_with_two_channels_of_whole_numbers():
    assert as_bytes(np.array([0.0, -1.0, 0.5], dtype=np.float32), channels=2, whole=True) == bytes.fromhex(
        "00000000 01800180 ff3fff3f"
    )


def test_bytes_for_a_device_with_one_channel_of_floats():
    samples = tone("set")
    assert np.array_equal(np.frombuffer(as_bytes(samples, channels=1, whole=False), "<f4"), samples)
