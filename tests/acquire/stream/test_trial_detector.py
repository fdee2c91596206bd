"""The trial detector: one span an effort, with its rest on both sides, whatever the zero does.

The efforts are invented (`acquire.simulation.efforts`), so when each began and ended is known.
"""

from itertools import pairwise

import numpy as np
import pytest
from drawn import Person, several
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.simulation.efforts import Effort, recording, simulate
from acquire.stream.trial_detector import DRIFT_N, DetectionRule, Phase, TrialDetector, detect_efforts

RATES = pytest.mark.parametrize("rate_hz", [80.0, 1000.0])
NOISE_N = 0.25


def piecewise(*corners, rate_hz=80.0, noise_n=NOISE_N, seed=7):
    """Seconds and newtons of straight lines between corners of (s, N), with noise."""
    seconds, newtons = zip(*corners, strict=True)
    time = np.arange(round(seconds[-1] * rate_hz)) / rate_hz
    noise = noise_n * np.random.default_rng(seed).standard_normal(len(time))
    return time, np.interp(time, seconds, newtons) + noise


def box(start, stop, newtons, *, base=0.0, after=None):
    """Corners of an effort that rises within 1 s and falls within 0.2 s."""
    after = base if after is None else after
    return (start, base), (start + 1.0, newtons), (stop, newtons), (stop + 0.2, after)


def spans(found):
    return [(round(span.start, 1), round(span.stop, 1)) for span in found]


# where one effort begins and ends


@RATES
def test_effort_is_found_with_two_seconds_before_and_one_and_a_half_after(rate_hz):
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), (16.0, 0.0), rate_hz=rate_hz)
    (span,) = detect_efforts(time, force)
    # it leaves the zero within a block of 6 s and is below 15 % of its peak at 11.17 s
    assert span.start == pytest.approx(4.0, abs=0.1)
    assert span.stop == pytest.approx(11.17 + 1.5, abs=0.1)
    assert span.zero == pytest.approx(0.0, abs=0.1)


def test_rule_says_how_much_is_kept():
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), (16.0, 0.0))
    (span,) = detect_efforts(time, force, DetectionRule(before_s=1.0, after_s=0.5))
    assert (span.start, span.stop) == pytest.approx((5.0, 11.67), abs=0.1)


@pytest.mark.parametrize("newtons", [9.0, 11.5])
def test_effort_begins_above_ten_newtons(newtons):
    time, force = piecewise((0.0, 0.0), *box(6.0, 8.0, newtons), (12.0, 0.0), noise_n=0.05)
    assert len(detect_efforts(time, force)) == (newtons > 10.0)


def test_dip_shorter_than_a_third_of_a_second_does_not_end_an_effort():
    dip = (9.0, 200.0), (9.1, 0.0), (9.2, 0.0), (9.3, 200.0)
    time, force = piecewise((0.0, 0.0), (6.0, 0.0), (7.0, 200.0), *dip, (12.0, 200.0), (12.2, 0.0), (16.0, 0.0))
    assert spans(detect_efforts(time, force)) == [(pytest.approx(4.0, abs=0.1), pytest.approx(13.7, abs=0.1))]


@pytest.mark.parametrize("shape", ["smooth", "straight"])
@pytest.mark.parametrize("plateau_n", [12.0, 15.0, 20.0, 25.0])
@RATES
def test_slow_weak_effort_has_its_rest_before_it(plateau_n, shape, rate_hz):
    done = simulate(Effort(plateau_n=plateau_n, ramp_s=2.5, shape=shape), rate_hz=rate_hz, seed=3)
    (span,) = detect_efforts(done.trace.time, done.trace.force)
    assert span.start <= done.truth.onset_s - 1.4
    assert span.stop == pytest.approx(done.truth.release_s + 1.5, abs=0.2)
    # the zero is the rest's, and nothing of the ramp, however gently that begins
    assert span.zero == pytest.approx(0.0, abs=0.15)


@RATES
def test_hundred_random_efforts_are_found_one_by_one(rate_hz):
    chance = np.random.default_rng(20260302)
    for number in range(100):
        effort = Effort(
            plateau_n=float(chance.uniform(25.0, 500.0)),
            shape=("smooth", "straight")[number % 2],
            ramp_s=float(chance.uniform(0.3, 3.0)),
            hold_s=float(chance.uniform(1.5, 8.0)),
            fall_s=float(chance.uniform(0.1, 0.8)),
            noise_n=float(chance.uniform(0.05, 1.0)),
            sway_pct=float(chance.uniform(0.0, 4.0)),
        )
        done = simulate(effort, rate_hz=rate_hz, seed=number)
        found = detect_efforts(done.trace.time, done.trace.force)
        assert len(found) == 1, effort
        assert found[0].start < done.truth.onset_s - 1.4, effort
        assert found[0].stop > done.truth.release_s + 1.3, effort
        assert abs(found[0].zero) < 0.5, effort


@RATES
def test_several_efforts_in_one_stream_are_separated(rate_hz):
    efforts = [Effort(plateau_n=newtons, rest_before_s=3.0) for newtons in (40.0, 300.0, 25.0, 480.0)]
    trace = recording(efforts, rate_hz=rate_hz)
    found = detect_efforts(trace.time, trace.force)
    length = len(trace.time) / rate_hz / 4
    onsets = [number * length + 3.0 for number in range(4)]
    assert [span.start for span in found] == pytest.approx([onset - 2.0 for onset in onsets], abs=0.6)
    assert all(span.start <= onset - 1.4 for span, onset in zip(found, onsets, strict=True))
    assert all(one.stop <= other.start for one, other in pairwise(found))


@pytest.mark.parametrize("gap_s", [0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 2.5])
@pytest.mark.parametrize("newtons", [(300.0,) * 4, (600.0, 40.0, 600.0, 40.0), (20.0, 800.0, 20.0, 20.0)])
@RATES
def test_no_effort_is_lost_however_soon_it_comes(gap_s, newtons, rate_hz):
    people = [Person(plateau=each, hold=3.0) for each in newtons]
    time, force = several(people, [gap_s] * 3, rate_hz, 3)
    found = detect_efforts(time, force)
    assert len(found) == 4
    highest = [force[(time >= span.start) & (time <= span.stop)].max() for span in found]
    assert highest == pytest.approx(newtons, rel=0.05)
    assert all(one.stop <= other.start for one, other in pairwise(found))


@RATES
def test_limb_laid_on_the_pad_long_before_the_push_is_its_zero(rate_hz):
    laid = (3.0, 0.0), (3.3, 15.0), (16.3, 15.0), (17.8, 165.0), (22.0, 165.0), (22.3, 15.0), (27.0, 15.0)
    time, force = piecewise((0.0, 0.0), *laid, rate_hz=rate_hz)
    (span,) = detect_efforts(time, force)
    assert span.start == pytest.approx(14.3, abs=0.3)
    assert (span.zero, span.resting) == (pytest.approx(15.0, abs=0.2), pytest.approx(15.0, abs=0.2))


@pytest.mark.parametrize("newtons", [6.0, 15.0])
def test_limb_rests_until_it_is_taken_off(newtons):
    def push(begin):
        high = newtons + 150.0
        return (begin, newtons), (begin + 1.5, high), (begin + 5.5, high), (begin + 5.8, newtons)

    laid = (3.0, 0.0), (3.3, newtons), *push(16.0), *push(30.0), (44.0, newtons), (44.3, 0.0)
    time, force = piecewise((0.0, 0.0), *laid, *box(50.0, 54.0, 150.0), (60.0, 0.0), rate_hz=100.0)
    resting = [span.resting for span in detect_efforts(time, force)]
    assert resting == [pytest.approx(newtons, abs=0.2), pytest.approx(newtons, abs=0.2), 0.0]


def test_slow_drift_is_no_limb():
    time, force = piecewise((0.0, 0.0), *box(150.0, 155.0, 200.0), (160.0, 0.0), rate_hz=100.0)
    assert [span.resting for span in detect_efforts(time, force + 0.1 * time)] == [0.0]


def test_two_efforts_close_to_each_other_share_no_time():
    time, force = piecewise((0.0, 0.0), *box(4.0, 7.0, 200.0), *box(9.0, 12.0, 200.0), (16.0, 0.0))
    first, second = detect_efforts(time, force)
    assert first.stop == pytest.approx(8.7, abs=0.1)
    assert second.start == first.stop


# the zero


@RATES
def test_zero_follows_a_slow_drift(rate_hz):
    time, force = piecewise((0.0, 0.0), *box(150.0, 155.0, 200.0), (160.0, 0.0), rate_hz=rate_hz)
    (span,) = detect_efforts(time, force + 0.1 * time)
    assert span.zero == pytest.approx(15.0, abs=0.3)


def test_zero_far_off_the_calibration_is_found_before_the_effort():
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 100.0), (16.0, 0.0))
    (span,) = detect_efforts(time, force - 750.0)
    assert span.zero == pytest.approx(-750.0, abs=0.2)
    assert span.start == pytest.approx(4.0, abs=0.1)


@pytest.mark.parametrize("plateau_n", [60.0, 100.0, 300.0])
@RATES
def test_zero_moved_after_an_effort_neither_goes_on_nor_triggers(plateau_n, rate_hz):
    time, force = piecewise(
        (0.0, 0.0),
        *box(4.0, 8.0, plateau_n, after=24.0),
        *box(14.0, 18.0, plateau_n + 24.0, base=24.0),
        (60.0, 24.0),
        rate_hz=rate_hz,
    )
    detector = TrialDetector()
    first, second = detector.feed(time, force)
    assert first.stop < 11.0
    assert second.start > 11.0
    assert (first.zero, second.zero) == pytest.approx((0.0, 24.0), abs=0.2)
    assert detector.phase is Phase.ARMED
    assert detector.zero == pytest.approx(24.0, abs=0.3)


def test_hold_that_is_still_ends_only_with_the_release():
    """The quiet of a hold is no moved zero, as long as it is near the peak."""
    time, force = piecewise((0.0, 0.0), *box(4.0, 12.0, 30.0), (16.0, 0.0), noise_n=0.0)
    assert spans(detect_efforts(time, force)) == [(2.0, pytest.approx(13.6, abs=0.1))]


@RATES
def test_preload_of_three_seconds_is_no_zero(rate_hz):
    effort = Effort(plateau_n=200.0, preload_pct=4.0, preload_s=3.0)
    done = simulate(effort, rate_hz=rate_hz)
    (span,) = detect_efforts(done.trace.time, done.trace.force)
    assert span.zero == pytest.approx(0.0, abs=0.2)
    # of the rest before the preload some is kept, so that the preload shows
    assert span.start < done.truth.onset_s - effort.preload_s - 0.5


def test_load_that_stays_is_the_zero_after_four_seconds():
    time, force = piecewise((0.0, 0.0), (5.0, 0.0), (5.1, 8.0), (20.0, 8.0))
    detector = TrialDetector()
    early = time < 8.9
    assert detector.feed(time[early], force[early]) == []
    assert detector.zero == pytest.approx(0.0, abs=0.2)
    assert detector.feed(time[~early], force[~early]) == []
    assert detector.zero == pytest.approx(8.0, abs=0.2)


def test_zero_that_fell_is_followed_at_once():
    """A belt that is taken off: nobody pulls on a pad."""
    time, force = piecewise((0.0, 80.0), (5.0, 80.0), (5.1, 0.0), *box(7.0, 10.0, 60.0), (14.0, 0.0))
    (span,) = detect_efforts(time, force)
    assert span.zero == pytest.approx(0.0, abs=0.2)
    assert span.start == pytest.approx(5.1, abs=0.3)


@given(st.floats(-DRIFT_N, DRIFT_N))
@settings(max_examples=20, deadline=None)
def test_small_move_of_the_zero_is_followed(moved):
    time, force = piecewise((0.0, 0.0), (5.0, 0.0), (5.1, moved), (9.0, moved), noise_n=0.01)
    detector = TrialDetector()
    detector.feed(time, force)
    assert detector.zero == pytest.approx(moved, abs=0.02)


# a stream that does not begin quietly


def handled(base, *, seconds=0.6, swing=5.0, onset=8.0, rate_hz=80.0):
    """A sensor whose zero is off by `base`, handled while it is opened, and one effort."""
    time, force = piecewise((0.0, 0.0), *box(onset, onset + 5.0, 160.0), (onset + 15.0, 0.0), rate_hz=rate_hz)
    return time, force + base + np.where(time < seconds, swing * np.sin(2.0 * np.pi * 2.0 * time), 0.0)


@pytest.mark.parametrize("base", [-300.0, -12.0, 0.0, 12.0, 40.0, 300.0])
@RATES
def test_sensor_far_off_its_zero_that_is_handled_at_first_settles_when_it_is_quiet(base, rate_hz):
    (span,) = detect_efforts(*handled(base, rate_hz=rate_hz))
    assert span.zero == pytest.approx(base, abs=0.2)
    assert (span.start, span.stop) == pytest.approx((6.0, 14.7), abs=0.2)


def test_stream_is_settling_until_its_first_quiet_second():
    time, force = handled(40.0, seconds=3.0)
    detector = TrialDetector()
    detector.feed(time[time < 3.9], force[time < 3.9])
    assert detector.phase is Phase.SETTLING
    later = (time >= 3.9) & (time < 4.2)
    detector.feed(time[later], force[later])
    assert detector.phase is Phase.ARMED


def test_stream_that_is_never_quiet_settles_in_the_end_and_finds_an_effort():
    time, force = handled(40.0, seconds=33.0, onset=40.0)
    assert spans(detect_efforts(time, force)) == [(pytest.approx(38.0, abs=0.2), pytest.approx(46.7, abs=0.2))]


def test_effort_right_at_the_start_of_a_trace_is_found():
    """Somebody began to record late: a fifth of a second of rest before the ramp."""
    time, force = piecewise((0.0, 0.0), *box(0.2, 6.0, 200.0), (12.0, 0.0))
    (span,) = detect_efforts(time, force)
    assert span.start <= 0.0
    assert span.stop == pytest.approx(7.7, abs=0.1)


# noise


@pytest.mark.parametrize("seed", range(5))
@RATES
def test_noisy_sensor_does_not_trigger(rate_hz, seed):
    time = np.arange(round(120.0 * rate_hz)) / rate_hz
    detector = TrialDetector()
    assert detector.feed(time, 3.0 * np.random.default_rng(seed).standard_normal(len(time))) == []
    assert detector.phase is Phase.ARMED
    assert detector.threshold == pytest.approx(15.0, rel=0.4)


@RATES
def test_effort_is_found_in_noise(rate_hz):
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 100.0), (16.0, 0.0), rate_hz=rate_hz, noise_n=3.0)
    (span,) = detect_efforts(time, force)
    assert span.start == pytest.approx(4.0, abs=0.3)


# what is missing


def test_lost_samples_change_no_effort():
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), (16.0, 0.0))
    (whole,) = detect_efforts(time, force)
    holed = np.where(np.random.default_rng(4).random(len(force)) < 0.3, np.nan, force)
    (span,) = detect_efforts(time, holed)
    assert (span.start, span.stop) == pytest.approx((whole.start, whole.stop), abs=0.1)
    assert span.zero == pytest.approx(whole.zero, abs=0.2)


def test_stretch_without_any_sample_within_an_effort_does_not_end_it():
    time, force = piecewise((0.0, 0.0), *box(6.0, 12.0, 200.0), (16.0, 0.0))
    lost = (time > 8.0) & (time < 10.5)
    as_nan = detect_efforts(time, np.where(lost, np.nan, force))
    as_gap = detect_efforts(time[~lost], force[~lost])
    assert spans(as_nan) == spans(as_gap) == [(4.0, pytest.approx(13.7, abs=0.1))]


def test_stream_that_is_all_lost_has_no_effort():
    detector = TrialDetector()
    assert detector.feed(np.arange(0.0, 5.0, 0.01), np.full(500, np.nan)) == []
    assert detector.finish() == []
    assert detector.phase is Phase.SETTLING


def test_empty_stream_has_no_effort():
    assert detect_efforts(np.empty(0), np.empty(0)) == []


def test_gap_in_the_rest_leaves_what_is_there_of_it():
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), (16.0, 0.0))
    late = np.where(time < 5.0, time, time + 30.0)
    (span,) = detect_efforts(late, force)
    assert 30.0 < span.start < 36.0
    assert span.zero == pytest.approx(0.0, abs=0.1)


def test_effort_broken_off_by_a_long_gap_ends_before_it():
    """A computer that slept for hours in the middle of an effort makes no trial of hours."""
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), (20.0, 0.0))
    late = np.where(time < 9.0, time, time + 7200.0)
    first, *_ = detect_efforts(late, force)
    assert first.stop == pytest.approx(9.0, abs=0.1)


# what does not end, or not begin


def test_stuck_load_is_found_at_the_longest_and_the_next_effort_is_found():
    time, force = piecewise((0.0, 0.0), *box(3.0, 200.0, 150.0), *box(205.0, 210.0, 80.0), (215.0, 0.0))
    stuck, effort = detect_efforts(time, force)
    assert stuck.stop - stuck.start == pytest.approx(120.0, abs=0.1)
    assert spans([effort]) == [(pytest.approx(203.0, abs=0.2), pytest.approx(211.6, abs=0.2))]
    assert effort.zero == pytest.approx(0.0, abs=0.2)


def test_effort_soon_after_a_stuck_load_was_taken_off_is_found():
    time, force = piecewise((0.0, 0.0), *box(3.0, 200.0, 150.0), *box(202.0, 206.0, 80.0), (210.0, 0.0))
    _, effort = detect_efforts(time, force)
    assert effort.stop == pytest.approx(207.7, abs=0.2)
    assert effort.zero == pytest.approx(0.0, abs=0.2)


def test_restless_stuck_load_is_found_and_no_second_time():
    """Somebody leans on the sensor for five minutes: one effort, until the force was near zero again."""
    time = np.arange(0.0, 330.0, 1 / 80)
    lean = np.where((time > 3.0) & (time < 303.0), 150.0 + 20.0 * np.sin(2.0 * np.pi * 0.5 * time), 0.0)
    assert spans(detect_efforts(time, lean)) == [(1.0, pytest.approx(121.0, abs=0.1))]


@pytest.mark.parametrize("sway_pct", [0.0, 1.0])
@RATES
def test_stream_that_starts_within_an_effort_finds_the_next(sway_pct, rate_hz):
    trace = recording([Effort(sway_pct=sway_pct, noise_n=0.05)] * 2, rate_hz=rate_hz)
    late = trace.time > 5.0
    found = detect_efforts(trace.time[late], trace.force[late])
    onset = trace.time[-1] / 2 + 2.2
    assert found[-1].start == pytest.approx(onset - 2.0, abs=0.4)
    assert found[-1].zero == pytest.approx(0.0, abs=0.1)
    assert len(found) <= 2


def test_finish_returns_the_effort_under_way():
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), (16.0, 0.0))
    detector = TrialDetector()
    within = time < 9.0
    assert detector.feed(time[within], force[within]) == []
    assert detector.phase is Phase.EFFORT
    assert detector.began == pytest.approx(4.0, abs=0.1)
    (span,) = detector.finish()
    assert span.start == pytest.approx(4.0, abs=0.1)
    assert span.stop == time[within][-1]
    assert detector.began is None
    assert detector.finish() == []


def test_stream_goes_on_after_finish():
    """As when a sensor is plugged in again: the rest of the old effort is no new one, the next is."""
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), *box(15.0, 18.0, 200.0), (22.0, 0.0))
    detector = TrialDetector()
    within = time < 9.0
    detector.feed(time[within], force[within])
    detector.finish()
    (span,) = detector.feed(time[~within], force[~within])
    assert span.start == pytest.approx(13.0, abs=0.1)


@pytest.mark.parametrize("seconds", [0.0, 0.2, 5.0])
def test_finish_in_the_rest_returns_nothing(seconds):
    time, force = piecewise((0.0, 0.0), (max(seconds, 0.1), 0.0))
    detector = TrialDetector()
    assert detector.feed(time[time < seconds], force[time < seconds]) == []
    assert detector.finish() == []


# chunks


def stream():
    trace = recording([Effort(plateau_n=60.0), Effort(drops=2), Effort(zero_shift_pct=8.0)], rate_hz=80.0)
    force = trace.force.copy()
    force[np.random.default_rng(2).random(len(force)) < 0.02] = np.nan
    kept = np.random.default_rng(3).random(len(force)) > 0.02
    return trace.time[kept], force[kept]


TIME, FORCE = stream()
EFFORTS = detect_efforts(TIME, FORCE)


@given(st.lists(st.integers(0, len(TIME)), max_size=30))
@settings(max_examples=100, deadline=None)
def test_efforts_do_not_depend_on_chunks(at):
    detector, found = TrialDetector(), []
    edges = [0, *sorted(at), len(TIME)]
    for begin, end in pairwise(edges):
        found += detector.feed(TIME[begin:end], FORCE[begin:end])
    assert [*found, *detector.finish()] == EFFORTS
    assert len(EFFORTS) == 3


def test_efforts_are_the_same_sample_by_sample():
    detector, found = TrialDetector(), []
    for at in range(len(TIME)):
        found += detector.feed(TIME[at : at + 1], FORCE[at : at + 1])
    assert [*found, *detector.finish()] == EFFORTS


@given(st.floats(0.25, 4.0), st.integers(-(2**20), 2**20))
@settings(max_examples=30, deadline=None)
def test_efforts_move_with_the_clock(scale, blocks):
    """Whole blocks later, everything is later by as much; a larger force has its found near the same places."""
    time = TIME + blocks * 0.05
    found = detect_efforts(time, FORCE)
    assert [span.start for span in found] == pytest.approx([span.start + blocks * 0.05 for span in EFFORTS], abs=1e-6)
    assert len(detect_efforts(TIME, FORCE * max(scale, 0.5))) == 3


def test_effort_is_found_in_a_stream_that_has_run_for_months():
    """A second is then rounded to more than the hair by which a block begins early."""
    (span,) = detect_efforts(TIME + 1e7, FORCE)[:1]
    assert span.start - 1e7 == pytest.approx(EFFORTS[0].start, abs=0.06)
