"""The main job against things outside the project: a measured effort, and general reference libraries."""

import numpy as np
import pytest
import ruptures
from detecta import detect_onset
from scipy import integrate, ndimage, signal

from acquire.simulation.efforts import GOOD, Effort, simulate
from acquire.values.records import Trace
from analysis.trial.effort import prepare
from analysis.trial.faults import Severity
from analysis.trial.onset import threshold_onset
from analysis.trial.phases import find_phases
from analysis.trial.protocol import load_protocol
from analysis.trial.rfd import rate_of_force_development
from analysis.trial.steadiness import band_rms, coefficient_of_variation
from analysis.trial.verdict import judge
from analysis.trial.windows import moving_mean

PROTOCOL = load_protocol()
RATE_HZ = 2048.0


def rejecting(judgement):
    return [fault.code for fault in judgement.faults if fault.severity is Severity.REJECT]


@pytest.mark.network
class TestMeasuredRampAndHold:
    """openhdemg 0.1.2, `otb_testfile.mat`; the numbers are what that library prints for its own file."""

    def test_coefficient_of_variation_is_that_of_its_library(self, measured_force):
        # covsteady(start_steady=20480, end_steady=40960), both ends included
        assert coefficient_of_variation(measured_force[20480:40961]) == pytest.approx(1.1311254, abs=5e-8)

    def test_rate_of_force_development_is_that_of_its_library(self, measured_force):
        found = rate_of_force_development(measured_force, RATE_HZ, start=1650, bands_ms=(50, 100, 150, 200))
        assert list(found.values()) == pytest.approx([0.793457, 2.578735, 3.438314, 3.967285], abs=5e-7)

    def test_filtered_coefficient_of_variation_is_that_of_its_library(self, measured_force):
        smooth = signal.sosfiltfilt(signal.butter(4, 15, fs=RATE_HZ, output="sos"), measured_force)
        assert coefficient_of_variation(smooth[20480:40961]) == pytest.approx(1.1073722, abs=5e-8)

    def test_resting_level_is_found(self, measured_force):
        found = judge(Trace(time=np.arange(len(measured_force)) / RATE_HZ, force=measured_force), PROTOCOL)
        assert found.measures.baseline_n == pytest.approx(1.6900277, abs=0.001)

    def test_as_measured_its_ramp_is_too_slow_and_its_hold_fine(self, measured_force):
        found = judge(Trace(time=np.arange(len(measured_force)) / RATE_HZ, force=measured_force), PROTOCOL)
        assert rejecting(found) == ["slow-ramp"]
        assert found.measures.ramp_time_s > 4.0
        assert found.measures.hold_time_s == pytest.approx(21.1, abs=0.3)

    def test_played_three_times_faster_it_is_accepted(self, measured_force):
        found = judge(Trace(time=np.arange(len(measured_force)) / (3 * RATE_HZ), force=measured_force), PROTOCOL)
        assert (found.verdict, found.faults) == ("accepted", ())
        assert found.measures.hold_time_s == pytest.approx(7.08, abs=0.1)
        assert 1.0 < found.measures.ramp_time_s < 2.0
        assert found.measures.peak_force_n / found.measures.plateau_force_n == pytest.approx(1.045, abs=0.02)

    def test_played_twelve_times_faster_its_ramp_is_too_fast(self, measured_force):
        # its rest of 0.8 s is repeated, so that there still is one
        force = np.concatenate([np.tile(measured_force[:1500], 15), measured_force])
        found = judge(Trace(time=np.arange(len(force)) / (12 * RATE_HZ), force=force), PROTOCOL)
        assert "fast-ramp" in rejecting(found)
        assert "short-hold" in rejecting(found)


@pytest.mark.parametrize("seed", range(10))
def test_threshold_onset_is_that_of_detecta(seed):
    # detecta 0.1.0, detect_onset: first run of samples at or above the threshold
    force = simulate(Effort(shape="straight", noise_n=0.4), seed=seed).trace.force
    rest = force[:1500]
    threshold = float(rest.mean() + 5.0 * rest.std(ddof=1))
    (first, _), *_ = detect_onset(force, threshold=np.nextafter(threshold, np.inf), n_above=20, n_below=20)
    top = int(np.argmax(force > 0.5 * force.max()))
    found = threshold_onset(force, threshold, before=top)
    # noise may cross the threshold once more on the way up: one of the last crossings, within 10 ms
    assert abs(found - first) <= 10


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(5))
def test_parts_are_the_change_points_of_ruptures(seed):
    # ruptures 1.1.10, exact segmentation into pieces that are straight lines (model "clinear")
    effort = Effort(shape="straight", ramp_s=1.6, fall_s=0.4, sway_pct=0.3, tremor_pct=0.2)
    trace = simulate(effort, rate_hz=1000.0, seed=seed).trace
    prepared = prepare(trace, smoothing_s=PROTOCOL.hold.smoothing_s)
    phases = find_phases(prepared, PROTOCOL)
    step = 40
    coarse = prepared.force[: len(prepared.force) // step * step].reshape(-1, step).mean(axis=1)
    lines = ruptures.Dynp(model="clinear", min_size=3, jump=1).fit(coarse).predict(n_bkps=4)
    onset, plateau, fall, rest = [point * step / 1000.0 for point in lines[:4]]
    assert phases.onset.time == pytest.approx(onset, abs=0.08)
    # the hold begins where the band about the plateau is entered: 0.15 of the ramp before its end
    assert prepared.time[phases.hold.start] == pytest.approx(plateau - 0.24, abs=0.08)
    assert prepared.time[phases.hold.stop - 1] == pytest.approx(fall + 0.04, abs=0.08)
    assert phases.release == pytest.approx((fall + rest) / 2.0, abs=0.08)


def test_impulse_is_that_of_scipy():
    trace = simulate(GOOD, seed=3).trace
    found = judge(trace, PROTOCOL)
    onset, release = found.measures.onset_s, found.measures.release_s
    inside = (trace.time >= onset) & (trace.time <= release)
    expected = integrate.simpson(trace.force[inside] - found.measures.baseline_n, x=trace.time[inside])
    assert found.measures.impulse_n_s == pytest.approx(expected, rel=1e-3)


def test_band_is_that_of_a_welch_spectrum():
    chance = np.random.default_rng(1)
    force = signal.sosfiltfilt(signal.butter(2, 30, fs=1000.0, output="sos"), chance.standard_normal(60_000))
    frequency, density = signal.welch(force, fs=1000.0, nperseg=4096)
    band = (frequency >= 4.0) & (frequency <= 12.0)
    expected = np.sqrt(integrate.trapezoid(density[band], frequency[band]))
    assert band_rms(force, 1000.0, low_hz=4.0, high_hz=12.0) == pytest.approx(expected, rel=0.05)


@pytest.mark.parametrize("width", [1, 2, 3, 50, 51])
def test_moving_mean_is_that_of_scipy_away_from_the_ends(width):
    values = np.random.default_rng(2).standard_normal(500)
    # scipy's window of even width lies one sample further back
    expected = ndimage.uniform_filter1d(values, width, origin=-1 if width % 2 == 0 and width > 1 else 0)
    assert moving_mean(values, width)[60:-60] == pytest.approx(expected[60:-60], abs=1e-12)
