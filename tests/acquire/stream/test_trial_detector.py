"""The trial cutter: one cut an effort, with its rest on both sides, whatever the zero does.

The efforts are invented (`acquire.simulation.efforts`), so when each began and ended is known.
"""

from itertools import pairwise

import numpy as np
import pytest
from drawn import Person, several
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.simulation.efforts import Effort, recording, simulate
from acquire.stream.trial_detector import DRIFT_N, CutRule, Phase, TrialCutter, cut_efforts

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


def spans(cuts):
    return [(round(cut.start, 1), round(cut.stop, 1)) for cut in cuts]


# where one effort is cut


@RATES
def test_effort_is_cut_with_two_seconds_before_and_one_and_a_half_after(rate_hz):
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), (16.0, 0.0), rate_hz=rate_hz)
    (cut,) = cut_efforts(time, force)
    # it leaves the zero within a block of 6 s and is below 15 % of its peak at 11.17 s
    assert cut.start == pytest.approx(4.0, abs=0.1)
    assert cut.stop == pytest.approx(11.17 + 1.5, abs=0.1)
    assert cut.zero == pytest.approx(0.0, abs=0.1)


def test_rule_says_how_much_is_kept():
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), (16.0, 0.0))
    (cut,) = cut_efforts(time, force, CutRule(before_s=1.0, after_s=0.5))
    assert (cut.start, cut.stop) == pytest.approx((5.0, 11.67), abs=0.1)


@pytest.mark.parametrize("newtons", [9.0, 11.5])
def test_effort_begins_above_ten_newtons(newtons):
    time, force = piecewise((0.0, 0.0), *box(6.0, 8.0, newtons), (12.0, 0.0), noise_n=0.05)
    assert len(cut_efforts(time, force)) == (newtons > 10.0)


def test_dip_shorter_than_a_third_of_a_second_does_not_end_an_effort():
    dip = (9.0, 200.0), (9.1, 0.0), (9.2, 0.0), (9.3, 200.0)
    time, force = piecewise((0.0, 0.0), (6.0, 0.0), (7.0, 200.0), *dip, (12.0, 200.0), (12.2, 0.0), (16.0, 0.0))
    assert spans(cut_efforts(time, force)) == [(pytest.approx(4.0, abs=0.1), pytest.approx(13.7, abs=0.1))]


@pytest.mark.parametrize("shape", ["smooth", "straight"])
@pytest.mark.parametrize("plateau_n", [12.0, 15.0, 20.0, 25.0])
@RATES
def test_slow_weak_effort_has_its_rest_before_it(plateau_n, shape, rate_hz):
    done = simulate(Effort(plateau_n=plateau_n, ramp_s=2.5, shape=shape), rate_hz=rate_hz, seed=3)
    (cut,) = cut_efforts(done.trace.time, done.trace.force)
    assert cut.start <= done.truth.onset_s - 1.4
    assert cut.stop == pytest.approx(done.truth.release_s + 1.5, abs=0.2)
    # the zero is the rest's, and nothing of the ramp, however gently that begins
    assert cut.zero == pytest.approx(0.0, abs=0.15)


@RATES
def test_hundred_random_efforts_are_one_cut_each(rate_hz):
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
        cuts = cut_efforts(done.trace.time, done.trace.force)
        assert len(cuts) == 1, effort
        assert cuts[0].start < done.truth.onset_s - 1.4, effort
        assert cuts[0].stop > done.truth.release_s + 1.3, effort
        assert abs(cuts[0].zero) < 0.5, effort


@RATES
def test_several_efforts_in_one_stream_are_cut_apart(rate_hz):
    efforts = [Effort(plateau_n=newtons, rest_before_s=3.0) for newtons in (40.0, 300.0, 25.0, 480.0)]
    trace = recording(efforts, rate_hz=rate_hz)
    cuts = cut_efforts(trace.time, trace.force)
    length = len(trace.time) / rate_hz / 4
    onsets = [number * length + 3.0 for number in range(4)]
    assert [cut.start for cut in cuts] == pytest.approx([onset - 2.0 for onset in onsets], abs=0.6)
    assert all(cut.start <= onset - 1.4 for cut, onset in zip(cuts, onsets, strict=True))
    assert all(one.stop <= other.start for one, other in pairwise(cuts))


@pytest.mark.parametrize("gap_s", [0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 2.5])
@pytest.mark.parametrize("newtons", [(300.0,) * 4, (600.0, 40.0, 600.0, 40.0), (20.0, 800.0, 20.0, 20.0)])
@RATES
def test_no_effort_is_lost_however_soon_it_comes(gap_s, newtons, rate_hz):
    people = [Person(plateau=each, hold=3.0) for each in newtons]
    time, force = several(people, [gap_s] * 3, rate_hz, 3)
    cuts = cut_efforts(time, force)
    assert len(cuts) == 4
    highest = [force[(time >= cut.start) & (time <= cut.stop)].max() for cut in cuts]
    assert highest == pytest.approx(newtons, rel=0.05)
    assert all(one.stop <= other.start for one, other in pairwise(cuts))


@RATES
def test_limb_laid_on_the_pad_long_before_the_push_is_its_zero(rate_hz):
    laid = (3.0, 0.0), (3.3, 15.0), (16.3, 15.0), (17.8, 165.0), (22.0, 165.0), (22.3, 15.0), (27.0, 15.0)
    time, force = piecewise((0.0, 0.0), *laid, rate_hz=rate_hz)
    (cut,) = cut_efforts(time, force)
    assert cut.start == pytest.approx(14.3, abs=0.3)
    assert (cut.zero, cut.resting) == (pytest.approx(15.0, abs=0.2), pytest.approx(15.0, abs=0.2))


def test_two_efforts_close_to_each_other_share_no_time():
    time, force = piecewise((0.0, 0.0), *box(4.0, 7.0, 200.0), *box(9.0, 12.0, 200.0), (16.0, 0.0))
    first, second = cut_efforts(time, force)
    assert first.stop == pytest.approx(8.7, abs=0.1)
    assert second.start == first.stop


# the zero


@RATES
def test_zero_follows_a_slow_drift(rate_hz):
    time, force = piecewise((0.0, 0.0), *box(150.0, 155.0, 200.0), (160.0, 0.0), rate_hz=rate_hz)
    (cut,) = cut_efforts(time, force + 0.1 * time)
    assert cut.zero == pytest.approx(15.0, abs=0.3)


def test_zero_far_off_the_calibration_is_found_before_the_effort():
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 100.0), (16.0, 0.0))
    (cut,) = cut_efforts(time, force - 750.0)
    assert cut.zero == pytest.approx(-750.0, abs=0.2)
    assert cut.start == pytest.approx(4.0, abs=0.1)


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
    cutter = TrialCutter()
    first, second = cutter.feed(time, force)
    assert first.stop < 11.0
    assert second.start > 11.0
    assert (first.zero, second.zero) == pytest.approx((0.0, 24.0), abs=0.2)
    assert cutter.phase is Phase.ARMED
    assert cutter.zero == pytest.approx(24.0, abs=0.3)


def test_hold_that_is_still_ends_only_with_the_release():
    """The quiet of a hold is no moved zero, as long as it is near the peak."""
    time, force = piecewise((0.0, 0.0), *box(4.0, 12.0, 30.0), (16.0, 0.0), noise_n=0.0)
    assert spans(cut_efforts(time, force)) == [(2.0, pytest.approx(13.6, abs=0.1))]


@RATES
def test_preload_of_three_seconds_is_no_zero(rate_hz):
    effort = Effort(plateau_n=200.0, preload_pct=4.0, preload_s=3.0)
    done = simulate(effort, rate_hz=rate_hz)
    (cut,) = cut_efforts(done.trace.time, done.trace.force)
    assert cut.zero == pytest.approx(0.0, abs=0.2)
    # of the rest before the preload some is kept, so that the preload shows
    assert cut.start < done.truth.onset_s - effort.preload_s - 0.5


def test_load_that_stays_is_the_zero_after_four_seconds():
    time, force = piecewise((0.0, 0.0), (5.0, 0.0), (5.1, 8.0), (20.0, 8.0))
    cutter = TrialCutter()
    early = time < 8.9
    assert cutter.feed(time[early], force[early]) == []
    assert cutter.zero == pytest.approx(0.0, abs=0.2)
    assert cutter.feed(time[~early], force[~early]) == []
    assert cutter.zero == pytest.approx(8.0, abs=0.2)


def test_zero_that_fell_is_followed_at_once():
    """A belt that is taken off: nobody pulls on a pad."""
    time, force = piecewise((0.0, 80.0), (5.0, 80.0), (5.1, 0.0), *box(7.0, 10.0, 60.0), (14.0, 0.0))
    (cut,) = cut_efforts(time, force)
    assert cut.zero == pytest.approx(0.0, abs=0.2)
    assert cut.start == pytest.approx(5.1, abs=0.3)


@given(st.floats(-DRIFT_N, DRIFT_N))
@settings(max_examples=20, deadline=None)
def test_small_move_of_the_zero_is_followed(moved):
    time, force = piecewise((0.0, 0.0), (5.0, 0.0), (5.1, moved), (9.0, moved), noise_n=0.01)
    cutter = TrialCutter()
    cutter.feed(time, force)
    assert cutter.zero == pytest.approx(moved, abs=0.02)


# a stream that does not begin quietly


def handled(base, *, seconds=0.6, swing=5.0, onset=8.0, rate_hz=80.0):
    """A sensor whose zero is off by `base`, handled while it is opened, and one effort."""
    time, force = piecewise((0.0, 0.0), *box(onset, onset + 5.0, 160.0), (onset + 15.0, 0.0), rate_hz=rate_hz)
    return time, force + base + np.where(time < seconds, swing * np.sin(2.0 * np.pi * 2.0 * time), 0.0)


@pytest.mark.parametrize("base", [-300.0, -12.0, 0.0, 12.0, 40.0, 300.0])
@RATES
def test_sensor_far_off_its_zero_that_is_handled_at_first_settles_when_it_is_quiet(base, rate_hz):
    (cut,) = cut_efforts(*handled(base, rate_hz=rate_hz))
    assert cut.zero == pytest.approx(base, abs=0.2)
    assert (cut.start, cut.stop) == pytest.approx((6.0, 14.7), abs=0.2)


def test_stream_is_settling_until_its_first_quiet_second():
    time, force = handled(40.0, seconds=3.0)
    cutter = TrialCutter()
    cutter.feed(time[time < 3.9], force[time < 3.9])
    assert cutter.phase is Phase.SETTLING
    later = (time >= 3.9) & (time < 4.2)
    cutter.feed(time[later], force[later])
    assert cutter.phase is Phase.ARMED


def test_stream_that_is_never_quiet_settles_in_the_end_and_finds_an_effort():
    time, force = handled(40.0, seconds=33.0, onset=40.0)
    assert spans(cut_efforts(time, force)) == [(pytest.approx(38.0, abs=0.2), pytest.approx(46.7, abs=0.2))]


def test_effort_right_at_the_start_of_a_trace_is_found():
    """Somebody began to record late: a fifth of a second of rest before the ramp."""
    time, force = piecewise((0.0, 0.0), *box(0.2, 6.0, 200.0), (12.0, 0.0))
    (cut,) = cut_efforts(time, force)
    assert cut.start <= 0.0
    assert cut.stop == pytest.approx(7.7, abs=0.1)


# noise


@pytest.mark.parametrize("seed", range(5))
@RATES
def test_noisy_sensor_does_not_trigger(rate_hz, seed):
    time = np.arange(round(120.0 * rate_hz)) / rate_hz
    cutter = TrialCutter()
    assert cutter.feed(time, 3.0 * np.random.default_rng(seed).standard_normal(len(time))) == []
    assert cutter.phase is Phase.ARMED
    assert cutter.threshold == pytest.approx(15.0, rel=0.4)


@RATES
def test_effort_is_found_in_noise(rate_hz):
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 100.0), (16.0, 0.0), rate_hz=rate_hz, noise_n=3.0)
    (cut,) = cut_efforts(time, force)
    assert cut.start == pytest.approx(4.0, abs=0.3)


# what is missing


def test_lost_samples_change_no_cut():
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), (16.0, 0.0))
    (whole,) = cut_efforts(time, force)
    holed = np.where(np.random.default_rng(4).random(len(force)) < 0.3, np.nan, force)
    (cut,) = cut_efforts(time, holed)
    assert (cut.start, cut.stop) == pytest.approx((whole.start, whole.stop), abs=0.1)
    assert cut.zero == pytest.approx(whole.zero, abs=0.2)


def test_stretch_without_any_sample_within_an_effort_does_not_end_it():
    time, force = piecewise((0.0, 0.0), *box(6.0, 12.0, 200.0), (16.0, 0.0))
    lost = (time > 8.0) & (time < 10.5)
    as_nan = cut_efforts(time, np.where(lost, np.nan, force))
    as_gap = cut_efforts(time[~lost], force[~lost])
    assert spans(as_nan) == spans(as_gap) == [(4.0, pytest.approx(13.7, abs=0.1))]


def test_stream_that_is_all_lost_has_no_effort():
    cutter = TrialCutter()
    assert cutter.feed(np.arange(0.0, 5.0, 0.01), np.full(500, np.nan)) == []
    assert cutter.finish() == []
    assert cutter.phase is Phase.SETTLING


def test_empty_stream_has_no_effort():
    assert cut_efforts(np.empty(0), np.empty(0)) == []


def test_gap_in_the_rest_leaves_what_is_there_of_it():
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), (16.0, 0.0))
    late = np.where(time < 5.0, time, time + 30.0)
    (cut,) = cut_efforts(late, force)
    assert 30.0 < cut.start < 36.0
    assert cut.zero == pytest.approx(0.0, abs=0.1)


def test_effort_broken_off_by_a_long_gap_ends_before_it():
    """A computer that slept for hours in the middle of an effort makes no trial of hours."""
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), (20.0, 0.0))
    late = np.where(time < 9.0, time, time + 7200.0)
    first, *_ = cut_efforts(late, force)
    assert first.stop == pytest.approx(9.0, abs=0.1)


# what does not end, or not begin


def test_stuck_load_is_cut_at_the_longest_and_the_next_effort_is_found():
    time, force = piecewise((0.0, 0.0), *box(3.0, 200.0, 150.0), *box(205.0, 210.0, 80.0), (215.0, 0.0))
    stuck, effort = cut_efforts(time, force)
    assert stuck.stop - stuck.start == pytest.approx(120.0, abs=0.1)
    assert spans([effort]) == [(pytest.approx(203.0, abs=0.2), pytest.approx(211.6, abs=0.2))]
    assert effort.zero == pytest.approx(0.0, abs=0.2)


def test_effort_soon_after_a_stuck_load_was_taken_off_is_found():
    time, force = piecewise((0.0, 0.0), *box(3.0, 200.0, 150.0), *box(202.0, 206.0, 80.0), (210.0, 0.0))
    _, effort = cut_efforts(time, force)
    assert effort.stop == pytest.approx(207.7, abs=0.2)
    assert effort.zero == pytest.approx(0.0, abs=0.2)


def test_restless_stuck_load_is_cut_and_no_second_time():
    """Somebody leans on the sensor for five minutes: one cut, until the force was near zero again."""
    time = np.arange(0.0, 330.0, 1 / 80)
    lean = np.where((time > 3.0) & (time < 303.0), 150.0 + 20.0 * np.sin(2.0 * np.pi * 0.5 * time), 0.0)
    assert spans(cut_efforts(time, lean)) == [(1.0, pytest.approx(121.0, abs=0.1))]


@pytest.mark.parametrize("sway_pct", [0.0, 1.0])
@RATES
def test_stream_that_starts_within_an_effort_finds_the_next(sway_pct, rate_hz):
    trace = recording([Effort(sway_pct=sway_pct, noise_n=0.05)] * 2, rate_hz=rate_hz)
    late = trace.time > 5.0
    cuts = cut_efforts(trace.time[late], trace.force[late])
    onset = trace.time[-1] / 2 + 2.2
    assert cuts[-1].start == pytest.approx(onset - 2.0, abs=0.4)
    assert cuts[-1].zero == pytest.approx(0.0, abs=0.1)
    assert len(cuts) <= 2


def test_finish_returns_the_effort_under_way():
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), (16.0, 0.0))
    cutter = TrialCutter()
    within = time < 9.0
    assert cutter.feed(time[within], force[within]) == []
    assert cutter.phase is Phase.EFFORT
    assert cutter.began == pytest.approx(4.0, abs=0.1)
    (cut,) = cutter.finish()
    assert cut.start == pytest.approx(4.0, abs=0.1)
    assert cut.stop == time[within][-1]
    assert cutter.began is None
    assert cutter.finish() == []


def test_stream_goes_on_after_finish():
    """As when a sensor is plugged in again: the rest of the old effort is no new one, the next is."""
    time, force = piecewise((0.0, 0.0), *box(6.0, 11.0, 200.0), *box(15.0, 18.0, 200.0), (22.0, 0.0))
    cutter = TrialCutter()
    within = time < 9.0
    cutter.feed(time[within], force[within])
    cutter.finish()
    (cut,) = cutter.feed(time[~within], force[~within])
    assert cut.start == pytest.approx(13.0, abs=0.1)


@pytest.mark.parametrize("seconds", [0.0, 0.2, 5.0])
def test_finish_in_the_rest_returns_nothing(seconds):
    time, force = piecewise((0.0, 0.0), (max(seconds, 0.1), 0.0))
    cutter = TrialCutter()
    assert cutter.feed(time[time < seconds], force[time < seconds]) == []
    assert cutter.finish() == []


# chunks


def stream():
    trace = recording([Effort(plateau_n=60.0), Effort(drops=2), Effort(zero_shift_pct=8.0)], rate_hz=80.0)
    force = trace.force.copy()
    force[np.random.default_rng(2).random(len(force)) < 0.02] = np.nan
    kept = np.random.default_rng(3).random(len(force)) > 0.02
    return trace.time[kept], force[kept]


TIME, FORCE = stream()
CUTS = cut_efforts(TIME, FORCE)


@given(st.lists(st.integers(0, len(TIME)), max_size=30))
@settings(max_examples=100, deadline=None)
def test_cuts_do_not_depend_on_chunks(at):
    cutter, cuts = TrialCutter(), []
    edges = [0, *sorted(at), len(TIME)]
    for begin, end in pairwise(edges):
        cuts += cutter.feed(TIME[begin:end], FORCE[begin:end])
    assert [*cuts, *cutter.finish()] == CUTS
    assert len(CUTS) == 3


def test_cuts_are_the_same_sample_by_sample():
    cutter, cuts = TrialCutter(), []
    for at in range(len(TIME)):
        cuts += cutter.feed(TIME[at : at + 1], FORCE[at : at + 1])
    assert [*cuts, *cutter.finish()] == CUTS


@given(st.floats(0.25, 4.0), st.integers(-(2**20), 2**20))
@settings(max_examples=30, deadline=None)
def test_cuts_move_with_the_clock(scale, blocks):
    """Whole blocks later, everything is later by as much; a larger force has its cuts near the same places."""
    time = TIME + blocks * 0.05
    cuts = cut_efforts(time, FORCE)
    assert [cut.start for cut in cuts] == pytest.approx([cut.start + blocks * 0.05 for cut in CUTS], abs=1e-6)
    assert len(cut_efforts(TIME, FORCE * max(scale, 0.5))) == 3
