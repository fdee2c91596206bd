"""Measures with an answer in closed form, and what is withheld."""

import numpy as np
import pytest

from acquire.simulation.efforts import GOOD, Effort, simulate
from acquire.values.records import Trace
from analysis.trial.number import Kind, Number
from analysis.trial.protocol import load_protocol
from analysis.trial.rfd import rate_of_force_development, steepest_rate
from analysis.trial.steadiness import band_rms, coefficient_of_variation
from analysis.trial.verdict import judge
from analysis.trial.withheld import Reason, Why

PROTOCOL = load_protocol()


def trapezoid(*, rate=1000.0, onset=2.0, ramp=1.5, plateau=300.0, hold=4.0, fall=0.25):
    time = np.arange(round((onset + ramp + hold + fall + 2.0) * rate)) / rate
    knots = np.cumsum([0.0, onset, ramp, hold, fall])
    return Trace(time=time, force=np.interp(time, knots, [0.0, 0.0, plateau, plateau, 0.0]))


def test_closed_form_of_a_noiseless_trapezoid():
    found = judge(trapezoid(), PROTOCOL).measures
    assert found.onset_s == pytest.approx(2.0, abs=0.002)
    assert found.ramp_time_s == pytest.approx(0.9 * 1.5, abs=0.003)
    assert found.ramp_slope_n_per_s == pytest.approx(200.0, rel=1e-6)
    assert found.plateau_force_n == pytest.approx(300.0, rel=1e-9)
    assert found.peak_force_n == pytest.approx(300.0, rel=1e-9)
    assert found.release_s == pytest.approx(2.0 + 1.5 + 4.0 + 0.125, abs=0.002)
    assert found.plateau_end_s - found.plateau_start_s == pytest.approx(found.hold_time_s, abs=0.0011)
    # triangle up, plateau, and the fall down to a half
    assert found.impulse_n_s == pytest.approx(300.0 * (1.5 / 2 + 4.0 + 0.125 * 0.75), rel=1e-3)
    assert found.peak_rfd_n_per_s == pytest.approx(200.0, rel=1e-6)
    assert found.baseline_n == 0.0


@pytest.mark.parametrize(("last_n", "index"), [(300.0, 0.0), (270.0, 8.0), (312.0, -3.2)])
def test_fatigue_index_of_a_hold_that_falls_in_a_straight_line(last_n, index):
    """Five seconds from 300 N: the first second's mean is a tenth of the way, the last one's nine tenths."""
    time = np.arange(12_000) / 1000.0
    force = np.interp(time, [2.0, 3.5, 8.5, 8.6], [0.0, 300.0, last_n, 0.0])
    found = judge(Trace(time=time, force=force), PROTOCOL).measures.fatigue_index_pct
    first, last = 300.0 + 0.1 * (last_n - 300.0), 300.0 + 0.9 * (last_n - 300.0)
    assert found == pytest.approx(100.0 * (first - last) / first, abs=0.6)
    assert found == pytest.approx(index, abs=0.7)


def test_fatigue_index_of_a_short_hold_is_withheld():
    found = judge(trapezoid(hold=2.4), PROTOCOL)
    assert found.measures.fatigue_index_pct is None
    assert found.withheld["fatigue_index_pct"].why is Why.SHORT_HOLD
    assert judge(trapezoid(hold=4.0), PROTOCOL).measures.fatigue_index_pct == pytest.approx(0.0, abs=0.5)


def test_straight_fast_ramp_keeps_its_early_rates():
    found = judge(trapezoid(ramp=0.6), PROTOCOL)
    rates = found.measures.rfd_n_per_s
    # 500 N/s from the onset on, which lies within a sample or two of the truth
    assert rates["0-100"] == pytest.approx(500.0, rel=0.03)
    assert rates["0-250"] == pytest.approx(500.0, rel=0.02)
    assert not [name for name in found.withheld if name.startswith("rfd")]


@pytest.mark.parametrize(
    ("rate", "shown"),
    [
        (1000.0, ["0-50", "0-100", "0-150", "0-200", "0-250"]),
        (500.0, ["0-100", "0-150", "0-200", "0-250"]),
        (200.0, []),
    ],
)
def test_early_rates_need_a_fast_sensor(rate, shown):
    found = judge(trapezoid(rate=rate, ramp=0.6), PROTOCOL)
    assert [band for band, value in found.measures.rfd_n_per_s.items() if value is not None] == shown
    for band in set(found.measures.rfd_n_per_s) - set(shown):
        assert found.withheld[f"rfd_n_per_s.{band}"].why is Why.SLOW_SENSOR


def test_early_rates_of_a_gradual_ramp_are_withheld():
    found = judge(simulate(GOOD).trace, PROTOCOL)
    assert set(found.measures.rfd_n_per_s.values()) == {None}
    assert found.withheld["rfd_n_per_s.0-50"].why is Why.UNSURE_ONSET


def test_early_rates_across_a_gap_are_withheld():
    trace = trapezoid(ramp=0.6)
    force = trace.force.copy()
    force[2120] = np.nan
    found = judge(Trace(time=trace.time, force=force), PROTOCOL)
    assert found.measures.rfd_n_per_s["0-100"] is not None
    assert found.withheld["rfd_n_per_s.0-150"] == Reason(Why.LOST_IN_BAND)


def test_steepest_rate_that_noise_could_make_is_withheld():
    found = judge(simulate(Effort(noise_n=3.0)).trace, PROTOCOL)
    assert found.measures.peak_rfd_n_per_s is None
    assert found.withheld["peak_rfd_n_per_s"] == Reason(Why.NOISE, (Number("window", 0.02, Kind.SECONDS),))


def test_trace_that_ends_in_the_hold_has_no_release():
    trace = trapezoid()
    found = judge(Trace(time=trace.time[:6000], force=trace.force[:6000]), PROTOCOL)
    assert (found.measures.release_s, found.measures.impulse_n_s) == (None, None)
    assert found.withheld["release_s"] == Reason(Why.NO_RELEASE)


def test_trace_that_begins_in_the_effort_has_no_onset():
    trace = trapezoid()
    found = judge(Trace(time=trace.time[2800:], force=trace.force[2800:]), PROTOCOL)
    assert found.measures.onset_s is None
    assert found.withheld["ramp_time_s"] == Reason(Why.NO_ONSET)
    assert found.verdict == "rejected"
    assert found.measures.plateau_force_n == pytest.approx(300.0)


def test_empty_trace_is_no_effort():
    found = judge(Trace(time=np.empty(0), force=np.empty(0)), PROTOCOL)
    assert [fault.code for fault in found.faults] == ["no-effort"]
    assert (found.faults[0].finding, found.faults[0].measured) == ("few-samples", 0.0)


@pytest.mark.parametrize("rate", [0.0, -1.0])
def test_rate_of_force_development_refuses_a_rate(rate):
    with pytest.raises(ValueError, match=f"sample_rate must be positive, got {rate} Hz"):
        rate_of_force_development(np.zeros(10), rate, start=0)


def test_rate_of_force_development_refuses_a_start_outside():
    with pytest.raises(ValueError, match="start must be a sample of the record of 10, got 10"):
        rate_of_force_development(np.zeros(10), 1000.0, start=10)


def test_steepest_rate_of_a_short_record_is_not_a_number():
    assert np.isnan(steepest_rate(np.zeros(5), 1000.0))


def test_coefficient_of_variation_refuses_what_it_cannot_say():
    with pytest.raises(ValueError, match="at least 2 values, got 1"):
        coefficient_of_variation(np.array([1.0, np.nan]))
    with pytest.raises(ValueError, match="a mean other than 0 N"):
        coefficient_of_variation(np.array([1.0, -1.0]))


def test_band_refuses_what_it_cannot_resolve():
    with pytest.raises(ValueError, match=r"must last at least 0.5 s, got 0.1 s"):
        band_rms(np.zeros(100), 1000.0, low_hz=4.0, high_hz=12.0)
    with pytest.raises(ValueError, match=r"high_hz must be below half the sample rate, got 12.0 Hz at 20.0 Hz"):
        band_rms(np.zeros(100), 20.0, low_hz=4.0, high_hz=12.0)
