"""What an unloaded sensor did, against what was put in."""

import numpy as np
import pytest

from acquire.values.calibration import Calibration
from analysis.sensor_check import Readings, Stream, assess_unloaded

CALIBRATION = Calibration(newtons_per_count=0.01, zero_counts=100.0)


def look(force, *, rate=1000.0, calibration=CALIBRATION, **stream):
    known = {"nominal_rate_hz": rate, "rate_hz": rate, "rate_uncertainty_hz": 0.05, "lost": 0, "damaged": 0}
    counts = force / calibration.newtons_per_count + calibration.zero_counts
    time = np.arange(len(force)) / rate
    return assess_unloaded(
        Readings(time=time, counts=counts), calibration, Stream(samples=len(force), **{**known, **stream})
    )


def test_zero_drift_and_noise_are_what_was_put_in():
    time = np.arange(30_000) / 1000.0
    chance = np.random.default_rng(4)
    seen = look(1.5 + 0.01 * (time - 15.0) + chance.normal(0.0, 0.2, 30_000))
    assert seen.zero_n == pytest.approx(1.5, abs=seen.zero_uncertainty_n + 0.06)
    assert seen.drift_n_per_min == pytest.approx(0.6, abs=1.5 * seen.drift_uncertainty_n_per_min)
    assert seen.noise_n == pytest.approx(0.2, abs=1.5 * seen.noise_uncertainty_n)
    assert seen.moved_n == pytest.approx(0.01 * 27.0, abs=0.02)
    assert seen.seconds == pytest.approx(29.999)
    assert seen.zero_counts == pytest.approx(100.0 + 100.0 * seen.zero_n)


@pytest.mark.parametrize("seed", range(5))
def test_uncertainties_cover_nineteen_of_twenty(seed):
    chance = np.random.default_rng(seed)
    hits = []
    for _ in range(60):
        seen = look(chance.normal(0.0, 0.5, 2000))
        hits.append(
            (
                abs(seen.drift_n_per_min) < seen.drift_uncertainty_n_per_min,
                abs(seen.noise_n - 0.5) < seen.noise_uncertainty_n,
            )
        )
    assert (np.mean(hits, axis=0) > 0.85).all()


def test_falling_counts_have_the_sign_of_the_effort():
    falling = Calibration(newtons_per_count=-0.01)
    time = np.arange(1000) / 100.0
    seen = look(2.0 + 0.05 * time, rate=100.0, calibration=falling)
    assert seen.drift_n_per_min == pytest.approx(3.0)
    assert seen.zero_n == pytest.approx(2.25, abs=0.01)


def test_hum_is_told_beside_the_drift():
    time = np.arange(10_000) / 1000.0
    noise = np.random.default_rng(1).normal(0.0, 0.05, 10_000)
    seen = look(0.3 * np.sin(2.0 * np.pi * 50.0 * time) + 0.1 * time + noise)
    assert (seen.tone.mains_hz, seen.tone.rms_n) == (50.0, pytest.approx(0.3 / np.sqrt(2.0), rel=0.03))


def test_rate_is_the_time_base_s_and_its_uncertainty_is_expanded():
    seen = look(np.zeros(1000), rate_hz=998.5, rate_uncertainty_hz=0.25, lost=7, damaged=2)
    assert (seen.rate_hz, seen.rate_uncertainty_hz, seen.nominal_rate_hz) == (998.5, 0.5, 1000.0)
    assert (seen.lost, seen.damaged) == (7, 2)
    assert look(np.zeros(1000), rate_hz=None, rate_uncertainty_hz=None).rate_uncertainty_hz is None


def test_steps_of_the_converter_are_in_the_zero():
    # JCGM 100:2008, F.2.2.1: even when every reading is the same, u = 0,29 of a step; twice that for k = 2.
    assert look(np.zeros(1000)).zero_uncertainty_n == pytest.approx(2.0 * 0.29 * 0.01, rel=0.01)


def test_look_of_nothing_is_refused():
    with pytest.raises(ValueError, match="at least 10 samples, got 9"):
        look(np.zeros(9))


def test_step_of_the_converter_is_seen():
    chance = np.random.default_rng(1)
    assert look(np.rint(chance.normal(0.0, 50.0, 3000)) * 0.01).step_counts == pytest.approx(1.0)
    newtons = Calibration(newtons_per_count=1.0)
    assert look(np.round(chance.normal(0.0, 1.0, 3000), 2), calibration=newtons).step_counts == pytest.approx(0.01)
    assert look(np.zeros(1000)).step_counts == 1.0
