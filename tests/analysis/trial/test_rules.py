"""Each rule at its limits, and what it says."""

import msgspec
import numpy as np
import pytest
from drawn import Person, draw

from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.values.records import Trace, TrialContext
from analysis.trial.faults import CODES, VARIANTS, Severity, Variants
from analysis.trial.number import Kind
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import RULES, judge

PROTOCOL = load_protocol()
CLEAN = msgspec.structs.replace(GOOD, shape="straight", sway_pct=0.0, tremor_pct=0.0, noise_n=0.05)
WARN, REJECT = Severity.WARN, Severity.REJECT


def faults(effort=CLEAN, *, rate=1000.0, context=None, protocol=PROTOCOL, **changes):
    trace = simulate(msgspec.structs.replace(effort, **changes), rate_hz=rate, seed=1).trace
    return {fault.code: fault for fault in judge(trace, protocol, context).faults}


def severity(found, code):
    return found[code].severity if code in found else None


@pytest.mark.parametrize(
    ("ramp_s", "code", "expected"),
    [  # a straight ramp reaches 90 % after 0.9 of its length
        (0.50, "fast-ramp", REJECT),
        (0.60, "fast-ramp", WARN),
        (0.85, "fast-ramp", WARN),
        (0.95, "fast-ramp", None),
        (2.35, "slow-ramp", None),
        (2.50, "slow-ramp", WARN),
        (2.72, "slow-ramp", WARN),
        (2.90, "slow-ramp", REJECT),
    ],
)
def test_ramp_time_at_its_limits(ramp_s, code, expected):
    assert severity(faults(ramp_s=ramp_s), code) is expected


@pytest.mark.parametrize(("pct", "expected"), [(3.0, None), (7.0, WARN), (12.0, REJECT)])
def test_preload_at_its_limits(pct, expected):
    assert severity(faults(preload_pct=pct), "preload") is expected


def test_preload_from_the_start_of_the_trace_is_seen_when_it_is_gone_after_the_release():
    assert severity(faults(preload_pct=16.0, preload_s=4.0, rest_before_s=0.0), "preload") is REJECT


@pytest.mark.parametrize(("pct", "expected"), [(0.5, None), (3.0, WARN), (8.0, REJECT)])
def test_countermovement_at_its_limits(pct, expected):
    assert severity(faults(dip_pct=pct), "countermovement") is expected


def test_countermovement_within_the_noise_is_none():
    assert "countermovement" not in faults(dip_pct=1.5, noise_n=3.0)


@pytest.mark.parametrize(("ramp_s", "expected"), [(0.70, None), (0.45, WARN), (0.25, REJECT)])
def test_jerk_at_its_limits(ramp_s, expected):
    # a straight ramp of r seconds climbs at 100/r % of the plateau a second
    assert severity(faults(ramp_s=ramp_s), "jerk") is expected


@pytest.mark.parametrize(("pct", "expected"), [(2.0, None), (8.0, WARN), (14.0, REJECT)])
def test_stepped_ramp_at_its_limits(pct, expected):
    assert severity(faults(step_back_pct=pct), "stepped-ramp") is expected


@pytest.mark.parametrize(("hold_s", "expected"), [(3.6, None), (3.1, WARN), (2.6, REJECT)])
def test_hold_time_at_its_limits(hold_s, expected):
    # the last 15 % of the ramp, 0.24 s, and the first of the fall, 0.04 s, are within the band too
    assert severity(faults(hold_s=hold_s), "short-hold") is expected


@pytest.mark.parametrize(
    ("pct_per_s", "code", "expected"),
    [
        (3.0, "still-rising", None),
        (7.5, "still-rising", WARN),
        (-3.0, "fading", None),
        (-7.0, "fading", WARN),
        (-13.0, "fading", REJECT),
    ],
)
def test_trend_at_its_limits(pct_per_s, code, expected):
    assert severity(faults(drift_pct_per_s=pct_per_s, hold_s=4.0), code) is expected


@pytest.mark.parametrize(("pct", "expected"), [(6.0, None), (13.0, None), (20.0, WARN), (33.0, REJECT)])
def test_overshoot_at_its_limits(pct, expected):
    assert severity(faults(overshoot_pct=pct), "overshoot") is expected


@pytest.mark.parametrize(("pct", "expected"), [(2.0, None), (4.0, WARN), (7.5, REJECT)])
def test_shake_at_its_limits(pct, expected):
    assert severity(faults(shake_pct=pct), "shake") is expected


@pytest.mark.parametrize(("pct", "expected"), [(1.0, None), (3.0, WARN), (7.0, REJECT), (-7.0, REJECT)])
def test_zero_shift_at_its_limits(pct, expected):
    assert severity(faults(zero_shift_pct=pct), "zero-shift") is expected


@pytest.mark.parametrize(("drops", "expected"), [(0, None), (1, WARN), (2, REJECT), (4, REJECT)])
def test_giving_way_is_counted(drops, expected):
    found = faults(drops=drops, hold_s=7.0)
    assert severity(found, "gave-way") is expected
    assert expected is None or found["gave-way"].measured == drops


def test_a_slide_that_ends_in_a_step_is_giving_way():
    knots = [0.0, 2.0, 3.5, 4.5, 6.0, 6.1, 8.0, 8.2, 10.0]
    force = np.interp(np.arange(10_000) / 1000.0, knots, [0, 0, 300, 300, 270, 240, 240, 0, 0])
    force += 0.1 * np.random.default_rng(1).standard_normal(len(force))
    found = judge(Trace(time=np.arange(10_000) / 1000.0, force=force), PROTOCOL)
    assert "gave-way" in [fault.code for fault in found.faults]


@pytest.mark.parametrize(("pct", "expected"), [(6.0, None), (14.0, REJECT), (40.0, REJECT)])
def test_a_second_rise_that_ends_in_a_cliff_is_the_examiner_pushing(pct, expected):
    assert severity(faults(push_pct=pct), "examiner-pushed") is expected


@pytest.mark.parametrize("height", [0.12, 0.18, 0.25])
@pytest.mark.parametrize("held", [0.5, 1.0, 1.8])
@pytest.mark.parametrize("release", [0.2, 0.3, 0.8])
def test_a_final_surge_that_is_held_to_the_stop_is_not_the_examiner_pushing(height, held, release):
    surge = ((4.5 - held, 0.0), (5.0 - held, height), (9.0, height))
    person = Person(hold=5.0, release=release, bumps=(surge,), flicker=0.006, tremor=0.005, sway=0.01)
    for seed in range(4):
        drawing = draw(person, 500.0, seed)
        found = judge(Trace(time=drawing.time, force=drawing.force), PROTOCOL)
        assert "examiner-pushed" not in [fault.code for fault in found.faults]


@pytest.mark.parametrize(("lost", "expected"), [((3.0, 0.03), WARN), ((3.0, 0.15), REJECT)])
def test_lost_samples_by_gap(lost, expected):
    assert severity(faults(lost_s=(lost,)), "lost-samples") is expected


def test_lost_samples_by_share():
    assert severity(faults(lost_s=tuple((2.0 + 0.25 * i, 0.05) for i in range(10))), "lost-samples") is REJECT


@pytest.mark.parametrize(
    ("lost", "expected"), [((0.5, 0.03), WARN), ((0.5, 0.15), REJECT), ((-0.2, 0.5), REJECT), ((1.2, 0.4), REJECT)]
)
def test_samples_lost_in_the_ramp_by_gap(lost, expected):
    """A ramp that was not seen cannot be judged: the straight line across a gap is steady however the force was."""
    fault = faults(lost_s=(lost,))["lost-samples"]
    assert fault.severity is expected
    assert fault.measured == pytest.approx(lost[1], abs=0.01)
    assert fault.finding == ("both" if lost[0] > 1.0 else "ramp")
    gap = next(each for each in fault.values if each.name == "gap")
    assert (gap.kind, gap.value) == (Kind.SECONDS, pytest.approx(lost[1], abs=0.01))


def test_samples_lost_outside_ramp_and_hold_are_no_fault():
    assert "lost-samples" not in faults(lost_s=((-1.0, 0.3),))


def test_known_limit_is_judged_by_the_marked_samples():
    trace = simulate(GOOD, seed=1).trace
    marked = np.zeros(len(trace.time), dtype=bool)
    marked[5000:5002] = True
    two = judge(Trace(time=trace.time, force=trace.force, clipped=marked), PROTOCOL)
    marked[5002] = True
    three = judge(Trace(time=trace.time, force=trace.force, clipped=marked), PROTOCOL)
    assert ([f.code for f in two.faults], [f.code for f in three.faults]) == ([], ["clipped"])


def test_a_noiseless_flat_plateau_is_not_taken_for_a_limit():
    assert "clipped" not in faults(noise_n=0.0)


def test_a_coarse_sensor_is_not_taken_for_clipped():
    trace = simulate(CLEAN, rate_hz=80.0, seed=1).trace
    coarse = Trace(time=trace.time, force=np.round(trace.force))
    assert "clipped" not in [fault.code for fault in judge(coarse, PROTOCOL).faults]


@pytest.mark.parametrize(("rate", "expected"), [(79.6, None), (80.0, None), (60.0, WARN), (9.0, REJECT)])
def test_sample_rate_at_its_limits(rate, expected):
    assert severity(faults(rate=rate), "slow-sensor") is expected


@pytest.mark.parametrize(
    ("method", "limit_n", "expected"),
    [("hand", 240.0, WARN), ("hand", 260.0, None), ("belt", 240.0, None), ("hand", None, None)],
)
def test_examiner_limit_asks_for_the_belt(method, limit_n, expected):
    context = TrialContext(method=method, examiner_limit_n=limit_n)
    found = faults(context=context)
    assert severity(found, "examiner-limit") is expected
    assert expected is None or found["examiner-limit"].kind is Kind.FORCE


def test_limits_come_from_the_protocol():
    patient = msgspec.structs.replace(
        PROTOCOL, hold=msgspec.structs.replace(PROTOCOL.hold, warn_below_s=1.0, reject_below_s=0.5)
    )
    assert "short-hold" in faults(hold_s=2.0)
    assert "short-hold" not in faults(hold_s=2.0, protocol=patient)


@pytest.mark.parametrize("code", FAULTY)
def test_fault_has_its_numbers_and_names_sentences_that_there_are(code):
    trace = simulate(FAULTY[code], rate_hz=8.0 if code == "slow-sensor" else 1000.0, seed=1).trace
    fault = next(fault for fault in judge(trace, PROTOCOL).faults if fault.code == code)
    variants = VARIANTS.get(code, Variants())
    assert fault.finding in variants.finding
    assert fault.advice in variants.advice
    names = [each.name for each in fault.values]
    assert len(set(names)) == len(names)
    assert str(fault).startswith(f"{code}: measured ")
    assert str(fault).count(", ") == 1 + len(fault.values)


@pytest.mark.parametrize(
    ("changes", "finding", "advice"),
    [
        ({"hold_s": 2.0}, "held-all", "stopped"),
        ({"hold_s": 2.8}, "held", "stopped"),
        ({"drift_pct_per_s": -12.0}, "held-all", "sank"),
    ],
)
def test_short_hold_says_why_and_what_the_plateau_is_a_mean_of(changes, finding, advice):
    fault = faults(**changes)["short-hold"]
    assert (fault.finding, fault.advice) == (finding, advice)


def test_recording_that_ends_in_the_hold_is_told_from_a_person_who_stops():
    trace = simulate(CLEAN, seed=1).trace
    there = trace.time < 3.5
    found = {
        each.code: each for each in judge(Trace(time=trace.time[there], force=trace.force[there]), PROTOCOL).faults
    }
    assert (found["short-hold"].finding, found["short-hold"].advice) == ("recorded", "cut")


def test_fast_ramp_says_which_part_was_too_fast():
    assert faults(ramp_s=0.5)["fast-ramp"].finding == "onset"
    assert faults(FAULTY["fast-ramp"])["fast-ramp"].finding in {"onset", "middle"}


def test_the_least_force_is_a_force_and_too_few_samples_are_a_count():
    rest = judge(Trace(time=np.arange(2000) / 1000.0, force=np.zeros(2000)), PROTOCOL).faults[0]
    few = judge(Trace(time=np.arange(3) / 1000.0, force=np.zeros(3)), PROTOCOL).faults[0]
    assert (rest.finding, rest.kind, rest.names_force) == ("no-rise", Kind.FORCE, True)
    assert (few.finding, few.kind, few.names_force) == ("few-samples", Kind.COUNT, False)
    assert (few.measured, rest.limit) == (3.0, PROTOCOL.no_effort.force_n)


def test_causes_are_listed_before_what_follows_from_them():
    for effort in FAULTY.values():
        found = judge(simulate(effort, seed=1).trace, PROTOCOL).faults
        ranks = [(fault.severity is not REJECT, CODES.index(fault.code)) for fault in found]
        assert ranks == sorted(ranks)


def test_every_code_has_a_rule_or_is_no_effort():
    assert len(RULES) == len(CODES) - 1
