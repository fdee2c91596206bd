"""One sensor against another: what was put in comes out."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.values.records import Trace
from analysis.sensor_check.comparison import compare


def pressed(seconds=20.0, rate_hz=1000.0, most_n=200.0):
    """A force that goes up and down slowly, as a person presses."""
    time = np.arange(0.0, seconds, 1.0 / rate_hz)
    return time, most_n * (0.5 - 0.5 * np.cos(0.8 * time)) + 10.0 * np.sin(5.0 * time)


@pytest.mark.slow
@given(
    gain=st.floats(0.8, 1.25),
    offset=st.floats(-20.0, 20.0),
    lag=st.floats(-0.9, 0.9),
    rate=st.sampled_from([80, 1000]),
)
def test_gain_offset_and_delay_come_out(gain, offset, lag, rate):
    time, force = pressed()
    slow, theirs = pressed(rate_hz=float(rate))
    found = compare(Trace.from_samples(time, force), Trace.from_samples(slow + lag, gain * theirs + offset))
    assert found.gain == pytest.approx(gain, rel=2e-3)
    assert found.offset_n == pytest.approx(offset, abs=0.3)
    assert found.lag_s == pytest.approx(lag, abs=2e-3)


def test_same_sensor_twice_agrees_to_nothing():
    trace = Trace.from_samples(*pressed())
    found = compare(trace, trace)
    assert found.lag_s == pytest.approx(0.0, abs=1e-4)
    assert found.gain == pytest.approx(1.0, abs=1e-6)
    assert found.limits_n == pytest.approx((0.0, 0.0), abs=0.01)


def test_uncertainty_of_the_gain_is_that_of_repeated_comparisons():
    time, force = pressed()
    chance = np.random.default_rng(2)
    gains, said = [], []
    for _ in range(60):
        blocks = np.repeat(chance.normal(0.0, 1.0, 80), 250)
        found = compare(Trace.from_samples(time, force), Trace.from_samples(time, force + blocks))
        gains.append(found.gain)
        said.append(found.gain_uncertainty)
    assert np.std(gains) == pytest.approx(np.mean(said), rel=0.35)


def test_limits_of_agreement_are_the_published_ones():
    # Bland and Altman 1986: mean difference and 1.96 standard deviations of the differences
    time, force = pressed()
    rng = np.random.default_rng(3)
    added = np.repeat(rng.normal(1.0, 2.0, 80), 250)[: len(time)]
    found = compare(Trace.from_samples(time, force), Trace.from_samples(time, force + added))
    assert found.bias_n == pytest.approx(1.0, abs=0.6)
    assert found.limits_n[1] - found.limits_n[0] == pytest.approx(2 * 1.96 * 2.0, rel=0.25)


def test_lost_samples_are_passed_over():
    time, force = pressed()
    holed = force.copy()
    holed[3000:3200] = np.nan
    found = compare(Trace.from_samples(time, force), Trace.from_samples(time, holed))
    assert found.gain == pytest.approx(1.0, abs=0.01)


def test_traces_that_hardly_meet_are_refused():
    time, force = pressed()
    with pytest.raises(ValueError, match=r"the traces share 2\.0 s: record both for at least 3 s"):
        compare(Trace.from_samples(time, force), Trace.from_samples(time + 18.0, force))


def test_force_that_hardly_changes_is_refused():
    time = np.arange(0.0, 10.0, 0.001)
    flat = Trace.from_samples(time, 5.0 + np.sin(time))
    with pytest.raises(ValueError, match=r"changed by \d\.\d N only: press over at least 20 N"):
        compare(flat, flat)


def test_forces_that_are_not_the_same_are_refused():
    time, force = pressed()
    other = 200.0 * (0.5 - 0.5 * np.cos(0.8 * (time + 2.5)))
    with pytest.raises(ValueError, match="fit nowhere within 1 s"):
        compare(Trace.from_samples(time, force), Trace.from_samples(time, other))
