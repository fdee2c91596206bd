"""Each rule at its very limit: what is measured keeps a limit of the same number, and passes a hair stricter one.

The effort stays as it is and the limit is moved to it, so that both sides of the limit are tried to the last digit.
"""

import dataclasses
import math

import msgspec
import numpy as np
import pytest

from acquire.simulation.efforts import GOOD, simulate
from acquire.values.records import Trace, TrialContext
from analysis.trial.faults import Severity
from analysis.trial.measures import RATE_TOLERANCE
from analysis.trial.protocol import load_protocol
from analysis.trial.rules.examiner import examiner_limit, examiner_pushed, gave_way
from analysis.trial.rules.hold import fading, overshoot, short_hold, still_rising, tremor, unsteady_hold
from analysis.trial.rules.ramp import countermovement, fast_ramp, preload, slow_ramp, steepest_rise, stepped_ramp
from analysis.trial.rules.sensor import clipped, lost_samples, slow_sensor, zero_shift
from analysis.trial.verdict import judge

PROTOCOL = load_protocol()
WARN, REJECT = Severity.WARN, Severity.REJECT
FAR = 1e9
HAND = TrialContext(method="hand", examiner_limit_n=240.0)


def evidence_of(*, context=None, rate_hz=1000.0, **changes):
    trace = simulate(msgspec.structs.replace(GOOD, **changes), rate_hz=rate_hz, seed=1).trace
    return judge(trace, PROTOCOL, context).evidence


@pytest.fixture(scope="module")
def good():
    return evidence_of(dip_pct=3.0, step_back_pct=2.0, zero_shift_pct=1.0)


def held_to(evidence, table, **limits):
    """The same evidence, and one table of the protocol with other limits."""
    changed = msgspec.structs.replace(getattr(evidence.protocol, table), **limits)
    return dataclasses.replace(evidence, protocol=msgspec.structs.replace(evidence.protocol, **{table: changed}))


ABOVE = [
    (preload, "preload", "warn_pct", "reject_pct"),
    (countermovement, "countermovement", "warn_pct", "reject_pct"),
    (slow_ramp, "ramp", "warn_above_s", "reject_above_s"),
    (steepest_rise, "steepest_rise", "warn_pct_per_s", "reject_pct_per_s"),
    (stepped_ramp, "stepped_ramp", "warn_pct", "reject_pct"),
    (unsteady_hold, "unsteady_hold", "warn_pct", "reject_pct"),
    (still_rising, "trend", "warn_pct_per_s", "reject_pct_per_s"),
    (overshoot, "overshoot", "warn_pct", "reject_pct"),
    (tremor, "tremor", "warn_pct", "reject_pct"),
    (zero_shift, "zero_shift", "warn_pct", "reject_pct"),
]


@pytest.mark.parametrize(("rule", "table", "warn", "reject"), ABOVE, ids=lambda each: getattr(each, "__name__", None))
def test_upper_limit_is_kept_by_its_own_number(good, rule, table, warn, reject):
    measured = rule(held_to(good, table, **{warn: -FAR, reject: FAR})).measured
    below = math.nextafter(measured, -math.inf)
    assert rule(held_to(good, table, **{warn: measured, reject: measured})) is None
    warned = rule(held_to(good, table, **{warn: below, reject: measured}))
    assert (warned.severity, warned.limit, warned.measured) == (WARN, below, measured)
    rejected = rule(held_to(good, table, **{warn: -FAR, reject: below}))
    assert (rejected.severity, rejected.limit, rejected.measured) == (REJECT, below, measured)


def test_fading_is_the_trend_downwards(good):
    trend = good.measures.hold_trend_pct_per_s
    assert fading(held_to(good, "trend", warn_pct_per_s=-trend, reject_pct_per_s=-trend)) is None
    stricter = math.nextafter(-trend, -math.inf)
    fault = fading(held_to(good, "trend", warn_pct_per_s=stricter, reject_pct_per_s=-trend))
    assert (fault.severity, fault.measured, fault.limit) == (WARN, trend, -stricter)


BELOW = [
    (short_hold, "hold", ("warn_below_s", "reject_below_s"), {}),
    (fast_ramp, "ramp", ("warn_below_s", "reject_below_s"), {"rise_warn_below_s": 0.0, "rise_reject_below_s": 0.0}),
    (fast_ramp, "ramp", ("rise_warn_below_s", "rise_reject_below_s"), {"warn_below_s": 0.0, "reject_below_s": 0.0}),
]


@pytest.mark.parametrize(("rule", "table", "limits", "others"), BELOW, ids=["hold", "onset", "middle"])
def test_lower_limit_is_kept_by_its_own_number(good, rule, table, limits, others):
    warn, reject = limits
    measured = rule(held_to(good, table, **{warn: FAR, reject: 0.0}, **others)).measured
    above = math.nextafter(measured, math.inf)
    assert rule(held_to(good, table, **{warn: measured, reject: measured}, **others)) is None
    warned = rule(held_to(good, table, **{warn: above, reject: measured}, **others))
    assert (warned.severity, warned.limit, warned.measured) == (WARN, above, measured)
    rejected = rule(held_to(good, table, **{warn: FAR, reject: above}, **others))
    assert (rejected.severity, rejected.limit) == (REJECT, above)


def test_middle_of_the_ramp_speaks_where_it_says_more_than_the_onset(good):
    def found(*, warn=0.0, reject=0.0, rise_warn=0.0, rise_reject=0.0):
        limits = {"warn_below_s": warn, "reject_below_s": reject}
        limits |= {"rise_warn_below_s": rise_warn, "rise_reject_below_s": rise_reject}
        fault = fast_ramp(held_to(good, "ramp", **limits))
        return fault.finding, fault.severity

    assert found(warn=9.0, rise_warn=9.0) == ("onset", WARN)
    assert found(warn=9.0, rise_reject=9.0) == ("middle", REJECT)
    assert found(reject=9.0, rise_reject=9.0) == ("onset", REJECT)
    assert found(reject=9.0, rise_warn=9.0) == ("onset", REJECT)
    assert found(rise_warn=9.0) == ("middle", WARN)


def test_dip_counts_only_above_the_noise(good):
    fault = countermovement(held_to(good, "countermovement", warn_pct=0.0, noise_sds=0.0))
    sds = fault.measured / 100.0 * good.phases.plateau_force / good.effort.noise
    assert countermovement(held_to(good, "countermovement", warn_pct=0.0, noise_sds=sds * 1.001)) is None
    assert countermovement(held_to(good, "countermovement", warn_pct=0.0, noise_sds=sds * 0.999)) is not None


def test_rate_may_be_a_hundredth_below_its_limit(good):
    rate = good.effort.rate
    assert slow_sensor(held_to(good, "slow_sensor", warn_below_hz=rate / RATE_TOLERANCE)) is None
    fault = slow_sensor(held_to(good, "slow_sensor", warn_below_hz=rate / RATE_TOLERANCE * 1.0001))
    assert (fault.severity, fault.measured) == (WARN, rate)
    assert pytest.approx(0.99) == RATE_TOLERANCE
    rejected = slow_sensor(held_to(good, "slow_sensor", reject_below_hz=rate / RATE_TOLERANCE * 1.0001))
    assert rejected.severity is REJECT


def test_samples_at_the_limit_of_the_sensor_are_counted(good):
    marked = np.zeros(len(good.effort.time), dtype=bool)
    marked[[3000, 3001, 4000]] = True
    found = dataclasses.replace(good, effort=dataclasses.replace(good.effort, clipped=marked))
    assert clipped(held_to(found, "clipped", reject_samples=4)) is None
    fault = clipped(held_to(found, "clipped", reject_samples=3))
    assert (fault.severity, fault.measured, fault.limit) == (REJECT, 3.0, 3.0)
    assert [fault.start, fault.stop] == [good.effort.time[3000], good.effort.time[4000]]


@pytest.fixture(scope="module")
def lossy():
    """Two gaps in the hold, of 40 and of 60 samples."""
    return evidence_of(lost_s=((2.0, 0.04), (3.0, 0.06)))


def test_share_of_lost_samples_at_its_limit(lossy):
    lost, held = lossy.lost_in_hold(), lossy.phases.hold.stop - lossy.phases.hold.start
    assert lost == pytest.approx(100, abs=2)
    share = 100.0 * lost / held
    kept = lost_samples(held_to(lossy, "lost_samples", reject_pct=share))
    assert (kept.severity, kept.measured, kept.limit, kept.finding) == (WARN, share, 0.0, "hold")
    void = lost_samples(held_to(lossy, "lost_samples", reject_pct=math.nextafter(share, 0.0)))
    assert (void.severity, void.measured) == (REJECT, share)


def test_longest_gap_at_its_limit(lossy):
    longest = next(each.value for each in lost_samples(lossy).values if each.name == "gap")
    assert longest == pytest.approx(0.06, abs=0.0015)
    kept = lost_samples(held_to(lossy, "lost_samples", reject_gap_s=longest))
    assert kept.severity is WARN
    void = lost_samples(held_to(lossy, "lost_samples", reject_gap_s=math.nextafter(longest, 0.0)))
    assert (void.severity, void.measured, void.limit) == (REJECT, longest, math.nextafter(longest, 0.0))


def test_least_count_of_lost_samples(lossy):
    lost = lossy.lost_in_hold()
    assert lost_samples(held_to(lossy, "lost_samples", warn_samples=lost + 1)) is None
    assert lost_samples(held_to(lossy, "lost_samples", warn_samples=lost)) is not None


def test_plateau_at_the_limit_of_the_examiner():
    found = evidence_of(context=HAND)
    percent = 100.0 * found.phases.plateau_force / HAND.examiner_limit_n
    assert examiner_limit(held_to(found, "examiner_limit", warn_pct=percent * (1.0 + 1e-12))) is None
    fault = examiner_limit(held_to(found, "examiner_limit", warn_pct=percent * (1.0 - 1e-12)))
    assert (fault.severity, fault.measured) == (WARN, found.phases.plateau_force)


def test_drops_are_counted_to_both_limits():
    found = evidence_of(drops=2, hold_s=7.0)
    assert gave_way(held_to(found, "gave_way", warn_count=3, reject_count=4)) is None
    warned = gave_way(held_to(found, "gave_way", warn_count=2, reject_count=3))
    assert (warned.severity, warned.measured, warned.limit) == (WARN, 2.0, 2.0)
    rejected = gave_way(held_to(found, "gave_way", warn_count=1, reject_count=2))
    assert (rejected.severity, rejected.measured, rejected.limit) == (REJECT, 2.0, 2.0)


def pushed(rise_pct, fall_pct, *, top_s=0.1, climb_pct_per_s=0.0):
    """A level of 200 N that may climb, a rise from its end, a top, a fall, and a hold after it."""
    knots = np.cumsum([0.0, 1.5, 1.3, 2.5, 0.3, top_s, 0.1, 1.5, 0.2, 1.5])
    level = 200.0 * (1.0 + 2.5 * climb_pct_per_s / 100.0)
    top = level + 200.0 * rise_pct / 100.0
    low = top - 200.0 * fall_pct / 100.0
    time = np.arange(0.0, knots[-1], 0.001)
    force = np.interp(time, knots, [0.0, 0.0, 200.0, level, top, top, low, low, 0.0, 0.0])
    force += 0.05 * np.random.default_rng(1).standard_normal(len(force))
    return judge(Trace(time=time, force=force), PROTOCOL).evidence


def test_second_rise_of_the_examiner_has_a_least_height():
    fault = examiner_pushed(pushed(25.0, 40.0))
    assert fault.measured == pytest.approx(25.0, abs=1.0)
    assert fault.severity is REJECT
    found = pushed(25.0, 40.0)
    assert examiner_pushed(held_to(found, "examiner_pushed", rise_pct=fault.measured + 0.5)) is None
    assert examiner_pushed(held_to(found, "examiner_pushed", rise_pct=fault.measured - 0.5)) is not None


def test_fall_after_it_has_a_least_depth():
    found = pushed(25.0, 40.0)
    assert examiner_pushed(held_to(found, "examiner_pushed", fall_pct=38.0)) is not None
    assert examiner_pushed(held_to(found, "examiner_pushed", fall_pct=42.0)) is None


@pytest.mark.parametrize(("top_s", "breaks"), [(0.05, True), (0.6, False)])
def test_fall_to_nothing_is_a_break_when_it_follows_the_rise_at_once_and_else_a_release(top_s, breaks):
    assert (examiner_pushed(pushed(25.0, 125.0, top_s=top_s)) is not None) == breaks


@pytest.mark.parametrize(("climb_pct_per_s", "found"), [(0.0, True), (8.0, False)])
def test_what_the_trend_of_the_level_leads_to_is_no_second_rise(climb_pct_per_s, found):
    """A rise of 12 % in 0.3 s: of a level that climbs by 8 % a second, some 5 % of it are its own."""
    evidence = pushed(13.0, 40.0, climb_pct_per_s=climb_pct_per_s)
    assert (examiner_pushed(evidence) is not None) == found
