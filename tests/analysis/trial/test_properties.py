"""What must hold for every trace."""

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.values.records import Trace, TrialContext
from analysis.trial.faults import CODES
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge

PROTOCOL = load_protocol()
TIMES = ("onset_s", "plateau_start_s", "plateau_end_s", "release_s")
FORCES = ("peak_force_n", "plateau_force_n", "ramp_slope_n_per_s", "impulse_n_s", "peak_rfd_n_per_s")
efforts = st.sampled_from([GOOD, *(e for code, e in FAULTY.items() if code not in {"no-effort", "clipped"})])


def codes(judgement):
    return [(fault.code, fault.severity) for fault in judgement.faults]


@settings(max_examples=40, deadline=None)
@given(effort=efforts, seed=st.integers(0, 10_000), factor=st.floats(0.5, 4.0))
def test_scaling_the_force_scales_the_measures(effort, seed, factor):
    trace = simulate(effort, rate_hz=500.0, seed=seed).trace
    one = judge(trace, PROTOCOL)
    other = judge(Trace(time=trace.time, force=trace.force * factor), PROTOCOL)
    assert codes(one) == codes(other)
    for name in FORCES:
        value = getattr(one.measures, name)
        assert getattr(other.measures, name) == (None if value is None else pytest.approx(value * factor, rel=1e-6))
    for name in TIMES:
        value = getattr(one.measures, name)
        assert getattr(other.measures, name) == (None if value is None else pytest.approx(value, abs=2e-3))


@settings(max_examples=40, deadline=None)
@given(effort=efforts, seed=st.integers(0, 10_000), shift=st.sampled_from([-3.0, 0.5, 100.0, 4096.0]))
def test_shifting_time_shifts_the_times_and_nothing_else(effort, seed, shift):
    trace = simulate(effort, rate_hz=500.0, seed=seed).trace
    one = judge(trace, PROTOCOL)
    other = judge(Trace(time=trace.time + shift, force=trace.force), PROTOCOL)
    assert codes(one) == codes(other)
    for name in TIMES:
        value = getattr(one.measures, name)
        assert getattr(other.measures, name) == (None if value is None else pytest.approx(value + shift, abs=2e-3))
    assert other.measures.plateau_force_n == pytest.approx(one.measures.plateau_force_n, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(effort=efforts, seed=st.integers(0, 10_000), offset=st.floats(-8.0, 8.0))
def test_a_constant_offset_moves_the_baseline_only(effort, seed, offset):
    trace = simulate(effort, rate_hz=500.0, seed=seed).trace
    one = judge(trace, PROTOCOL)
    other = judge(Trace(time=trace.time, force=trace.force + offset), PROTOCOL)
    assert codes(one) == codes(other)
    assert other.measures.baseline_n == pytest.approx(one.measures.baseline_n + offset, abs=1e-6)
    assert other.measures.plateau_force_n == pytest.approx(one.measures.plateau_force_n, rel=1e-6)


@settings(max_examples=200, deadline=None)
@given(
    force=arrays(
        np.float64,
        st.integers(0, 400),
        elements=st.one_of(st.floats(-1e4, 1e4), st.just(float("nan")), st.sampled_from([0.0, 250.0])),
    ),
    rate=st.sampled_from([5.0, 50.0, 1000.0]),
)
def test_any_trace_is_judged_without_an_error_and_every_absent_number_has_its_reason(force, rate):
    trace = Trace(time=np.arange(len(force)) / rate, force=force)
    content = judge(trace, PROTOCOL, TrialContext(examiner_limit_n=10.0)).as_json()
    for name, value in content.items():
        if value is None:
            assert name in content["withheld"]
    for band, value in content["rfd_n_per_s"].items():
        assert value is not None or {"rfd_n_per_s", f"rfd_n_per_s.{band}"} & set(content["withheld"])
    assert all(fault["code"] in CODES for fault in content["faults"])
    assert msgspec.json.decode(msgspec.json.encode(content)) == content


@settings(max_examples=30, deadline=None)
@given(effort=efforts, seed=st.integers(0, 10_000))
def test_a_trace_is_left_as_it_was(effort, seed):
    trace = simulate(effort, rate_hz=200.0, seed=seed).trace
    before = trace.force.copy()
    judge(trace, PROTOCOL)
    np.testing.assert_array_equal(trace.force, before)
