"""Which stretch of the trace a fault points at: what the window marks and the report draws."""

import dataclasses
import math

import msgspec
import numpy as np
import pytest

from acquire.simulation.efforts import GOOD, simulate
from acquire.values.records import Trace
from analysis.trial.protocol import load_protocol
from analysis.trial.rules.hold import overshoot, short_hold, spread_pct, still_rising, tremor, tremor_pct, unsteady_hold
from analysis.trial.rules.ramp import (
    countermovement,
    fast_ramp,
    preload,
    preload_pct,
    slow_ramp,
    steepest,
    steepest_rise,
    stepped_ramp,
)
from analysis.trial.rules.sensor import clipped, lost_samples, zero_shift
from analysis.trial.verdict import judge

PROTOCOL = load_protocol()
FAR = 1e9
TABLES = {
    "preload": ("warn_pct", -FAR),
    "countermovement": ("warn_pct", -FAR),
    "steepest_rise": ("warn_pct_per_s", -FAR),
    "stepped_ramp": ("warn_pct", -FAR),
    "unsteady_hold": ("warn_pct", -FAR),
    "trend": ("warn_pct_per_s", -FAR),
    "overshoot": ("warn_pct", -FAR),
    "tremor": ("warn_pct", -FAR),
    "zero_shift": ("warn_pct", -FAR),
    "hold": ("warn_below_s", FAR),
}


def everything_told(trace):
    """The evidence of a trace, by limits that let each rule speak."""
    limits = {
        name: msgspec.structs.replace(getattr(PROTOCOL, name), **{key: value}) for name, (key, value) in TABLES.items()
    }
    ramp = msgspec.structs.replace(PROTOCOL.ramp, warn_above_s=0.0, warn_below_s=FAR)
    evidence = judge(trace, PROTOCOL).evidence
    return dataclasses.replace(evidence, protocol=msgspec.structs.replace(PROTOCOL, ramp=ramp, **limits))


@pytest.fixture(scope="module")
def evidence():
    return everything_told(simulate(msgspec.structs.replace(GOOD, dip_pct=3.0, step_back_pct=3.0), seed=1).trace)


def where(fault):
    return fault.start, fault.stop


def test_before_the_ramp(evidence):
    time, onset = evidence.effort.time, evidence.phases.onset_index
    assert where(preload(evidence)) == (time[onset - 500], time[onset - 1])
    assert where(countermovement(evidence)) == (time[onset - 200], time[onset])


def test_in_the_ramp(evidence):
    time, phases, fine = evidence.effort.time, evidence.phases, evidence.effort.fine
    assert where(slow_ramp(evidence)) == where(fast_ramp(evidence)) == (time[phases.onset_index], phases.ramp_end)
    assert [value.value for value in slow_ramp(evidence).values] == [1.0, 2.0]
    step = stepped_ramp(evidence)
    top, low = np.searchsorted(time, where(step))
    assert phases.onset_index <= top < low <= phases.ramp_stop
    assert fine[top] == fine[phases.onset_index : low + 1].max()
    assert fine[top] - fine[low] == pytest.approx(step.measured / 100.0 * phases.plateau_force)


def test_steepest_stretch_is_two_tenths_of_a_second(evidence):
    time, fine = evidence.effort.time, evidence.effort.fine
    fault = steepest_rise(evidence)
    start, stop = np.searchsorted(time, where(fault))
    assert stop - start == 200
    rise = (fine[stop] - fine[start]) / 0.2 / evidence.phases.plateau_force * 100.0
    assert fault.measured == pytest.approx(rise)
    assert steepest(evidence) == (fault.measured, start)


@pytest.mark.parametrize("rule", [unsteady_hold, still_rising, tremor])
def test_in_the_held_part(evidence, rule):
    time, phases = evidence.effort.time, evidence.phases
    assert where(rule(evidence)) == (time[phases.level_start], time[phases.level_stop - 1])


def test_tremor_says_between_which_frequencies(evidence):
    assert [(each.name, each.value) for each in tremor(evidence).values] == [("low", 4.0), ("high", 12.0)]


def test_hold_peak_and_zero(evidence):
    time, phases = evidence.effort.time, evidence.phases
    assert where(short_hold(evidence)) == evidence.hold_span
    assert where(overshoot(evidence)) == (time[phases.peak_index - 1], time[phases.peak_index + 1])
    assert where(zero_shift(evidence)) == (time[len(time) - 500], time[-1])
    assert zero_shift(evidence).values[0].value == pytest.approx(evidence.effort.force[-500:].mean())


def test_spread_is_about_the_trend_with_two_degrees_of_freedom_less(evidence):
    held = slice(evidence.phases.level_start, evidence.phases.level_stop)
    time, force = evidence.effort.time[held], evidence.effort.force[held]
    rest = force - np.polyval(np.polyfit(time, force, 1), time)
    expected = math.sqrt(float(rest @ rest) / (len(rest) - 2)) / evidence.phases.plateau_force * 100.0
    assert spread_pct(evidence) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("samples", "told"), [(2, False), (3, True)])
def test_spread_needs_three_samples(evidence, samples, told):
    start = evidence.phases.level_start
    few = dataclasses.replace(
        evidence, phases=dataclasses.replace(evidence.phases, level_start=start, level_stop=start + samples)
    )
    assert (spread_pct(few) is not None) == told


@pytest.mark.parametrize(("samples", "told"), [(499, False), (500, True)])
def test_tremor_needs_two_periods_of_its_lowest_frequency(evidence, samples, told):
    start = evidence.phases.level_start
    few = dataclasses.replace(evidence, phases=dataclasses.replace(evidence.phases, level_stop=start + samples))
    assert (tremor_pct(few) is not None) == told


@pytest.mark.parametrize(("high_hz", "told"), [(499.0, True), (500.0, False)])
def test_tremor_needs_a_rate_above_twice_its_highest_frequency(evidence, high_hz, told):
    rule = msgspec.structs.replace(evidence.protocol.tremor, high_hz=high_hz)
    other = dataclasses.replace(evidence, protocol=msgspec.structs.replace(evidence.protocol, tremor=rule))
    assert (tremor_pct(other) is not None) == told


def test_trace_that_begins_with_the_force_on_has_its_first_level_before_the_ramp():
    """40 N for 1.2 s, then up to 200 N: a fifth of the plateau, and the first half second of it is shown."""
    time = np.arange(0.0, 9.0, 0.001)
    force = np.interp(time, [1.2, 2.6, 7.0, 7.2], [40.0, 200.0, 200.0, 0.0])
    force += 0.05 * np.random.default_rng(1).standard_normal(len(force))
    evidence = everything_told(Trace(time=time, force=force))
    assert preload_pct(evidence) == pytest.approx(20.0, abs=0.5)


def test_gaps_of_ramp_and_hold_are_told_apart():
    trace = simulate(msgspec.structs.replace(GOOD, lost_s=((0.5, 0.03), (3.0, 0.05))), seed=1).trace
    evidence = everything_told(trace)
    fault = lost_samples(evidence)
    gone = np.flatnonzero(np.isnan(trace.force))
    assert fault.finding == "both"
    assert fault.values[0].value == len(gone)
    assert where(fault) == (trace.time[evidence.phases.onset_index], evidence.hold_span[1])
    only = lost_samples(everything_told(simulate(msgspec.structs.replace(GOOD, lost_s=((3.0, 0.05),)), seed=1).trace))
    assert only.finding == "hold"


@pytest.mark.parametrize(("equal_s", "told"), [(0.045, False), (0.06, True)])
def test_flat_top_of_a_twentieth_of_a_second_is_a_limit(equal_s, told):
    trace = simulate(GOOD, seed=1).trace
    force = trace.force.copy()
    start = 4000
    force[start : start + round(1000 * equal_s)] = force.max() + 1.0
    evidence = judge(Trace(time=trace.time, force=force), PROTOCOL).evidence
    fault = clipped(evidence)
    assert (fault is not None) == told
    if told:
        assert where(fault) == pytest.approx((trace.time[start], trace.time[start + 59]))
        assert fault.measured == 60.0


def test_trace_that_begins_at_the_plateau_is_preload_whole():
    """Nothing of a ramp is in the trace: the first sample is what there was before."""
    time = np.arange(0.0, 8.0, 0.001)
    force = np.interp(time, [0.0, 5.0, 5.2], [205.0, 200.0, 0.0])
    evidence = everything_told(Trace(time=time, force=force))
    assert evidence.phases.onset is None
    assert preload_pct(evidence) == pytest.approx(102.0, abs=2.0)
