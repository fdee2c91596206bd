"""Traces and trials: what is missing stays missing, what is clipped stays marked."""

import math
from dataclasses import FrozenInstanceError, replace
from datetime import UTC, datetime

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.simulation.scenario import PERSON
from acquire.values.calibration import Calibration
from acquire.values.records import Session, SessionContext, Trace, Trial, TrialContext

CALIBRATION = Calibration(newtons_per_count=0.5, zero_counts=100.0, rated_force_n=500.0, limit_counts=(-2048, 2047))
UNRATED = msgspec.structs.replace(CALIBRATION, rated_force_n=None)
MORNING = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)


def made_trial(counts, time=None, *, calibration=CALIBRATION, zero_counts=100.0):
    counts = np.asarray(counts)
    time = 70.0 + np.arange(len(counts)) / 100.0 if time is None else np.asarray(time)
    return Trial(time=time, counts=counts, calibration=calibration, zero_counts=zero_counts)


# traces


def test_samples_without_a_gap_stay_as_they_are():
    time, force = np.array([0.0, 0.1, 0.2, 0.3]), np.array([1.0, 2.0, 3.0, 4.0])
    trace = Trace.from_samples(time, force)
    assert trace.time is time
    assert trace.force is force
    assert trace.lost == 0


def test_samples_with_gaps_get_a_nan_for_each_lost_one():
    trace = Trace.from_samples(np.array([0.0, 0.1, 0.2, 0.4, 0.5, 0.6, 1.0]), np.arange(7.0))
    np.testing.assert_allclose(trace.time, np.arange(11) / 10.0, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(trace.force, [0, 1, 2, np.nan, 3, 4, 5, np.nan, np.nan, np.nan, 6])
    assert trace.lost == 4


@pytest.mark.parametrize(("step", "lost"), [(0.149, 0), (0.151, 1), (0.24, 1), (0.26, 2)])
def test_step_of_more_than_one_and_a_half_is_a_gap(step, lost):
    time = np.array([0.0, 0.1, 0.2, 0.3, 0.3 + step, 0.4 + step])
    assert Trace.from_samples(time, np.ones(6)).lost == lost


def test_lost_samples_are_never_clipped():
    clipped = np.array([False, True, True, True])
    trace = Trace.from_samples(np.array([0.0, 0.1, 0.2, 0.4]), np.ones(4), clipped)
    assert trace.clipped.tolist() == [False, True, True, False, True]


def test_nan_force_counts_as_lost_and_stays():
    trace = Trace.from_samples(np.array([0.0, 0.1, 0.2, 0.4]), np.array([1.0, np.nan, 3.0, 4.0]))
    np.testing.assert_array_equal(trace.force, [1.0, np.nan, 3.0, np.nan, 4.0])
    assert trace.lost == 2


def test_inputs_are_unchanged():
    time, force, clipped = np.array([0.0, 0.1, 0.2, 0.5]), np.ones(4), np.zeros(4, dtype=bool)
    Trace.from_samples(time, force, clipped)
    assert time.tolist() == [0.0, 0.1, 0.2, 0.5]
    assert force.tolist() == [1.0] * 4
    assert not clipped.any()


@given(st.lists(st.booleans(), min_size=10, max_size=60))
def test_any_pattern_of_losses_is_seen_where_it_was(kept):
    # half of the steps or more must be unbroken for the median to be the step: losses are the exception
    kept = np.array([*[True] * 60, *kept, True])
    time = np.arange(len(kept)) / 80.0
    force = np.arange(float(len(kept)))
    trace = Trace.from_samples(time[kept], force[kept])
    np.testing.assert_allclose(trace.time, time, rtol=0, atol=1e-9)
    np.testing.assert_array_equal(trace.force, np.where(kept, force, np.nan))
    assert trace.lost == (~kept).sum()


@pytest.mark.parametrize("time", [[0.0, 0.1, 0.1, 0.2], [0.0, 0.1, 0.05, 0.2]])
def test_time_that_does_not_increase_is_refused(time):
    with pytest.raises(ValueError, match=rf"time must increase, got 0.1 s then {time[2]} s at sample 2"):
        Trace.from_samples(np.array(time), np.ones(4))


def test_time_and_force_of_different_lengths_are_refused():
    with pytest.raises(ValueError, match=r"time and force must be 1-D and alike, got \(3,\) and \(2,\)"):
        Trace.from_samples(np.arange(3.0), np.ones(2))


def test_time_in_two_dimensions_is_refused():
    with pytest.raises(ValueError, match=r"must be 1-D and alike, got \(2, 2\) and \(2, 2\)"):
        Trace(time=np.ones((2, 2)), force=np.ones((2, 2)))


def test_clipped_of_another_length_is_refused():
    with pytest.raises(ValueError, match=r"clipped must be shaped like time, got \(2,\) for \(3,\)"):
        Trace(time=np.arange(3.0), force=np.ones(3), clipped=np.zeros(2, dtype=bool))


def test_sample_rate_is_that_of_the_whole_trace_lost_ones_counted_in():
    time = np.delete(np.arange(101) / 80.0, [30, 31, 60])
    assert Trace.from_samples(time, np.ones(len(time))).sample_rate == pytest.approx(80.0, rel=1e-12)


@pytest.mark.parametrize("count", [0, 1])
def test_sample_rate_of_fewer_than_two_samples_is_unknown(count):
    trace = Trace.from_samples(np.arange(float(count)), np.ones(count))
    assert math.isnan(trace.sample_rate)
    assert trace.lost == 0


def test_trace_is_frozen():
    with pytest.raises(FrozenInstanceError, match="force"):
        Trace(time=np.arange(2.0), force=np.ones(2)).force = np.zeros(2)


# trials


def test_trace_of_a_trial_begins_at_zero_and_has_its_own_zero_removed():
    trace = made_trial([110, 110, 310], zero_counts=110.0).trace()
    np.testing.assert_allclose(trace.time, [0.0, 0.01, 0.02], rtol=0, atol=1e-9)
    assert trace.force.tolist() == [0.0, 0.0, 100.0]


def test_trace_of_falling_counts_is_positive():
    falling = Calibration(newtons_per_count=-0.5, rated_force_n=500.0)
    assert made_trial([100, -100], calibration=falling).trace().force.tolist() == [0.0, 100.0]


def test_lost_samples_of_a_trial_are_nan():
    trace = made_trial([100, 102, 104, 106], [70.0, 70.01, 70.02, 70.05]).trace()
    np.testing.assert_array_equal(trace.force, [0.0, 1.0, 2.0, np.nan, np.nan, 3.0])


def test_clipping_at_the_converter_is_marked():
    trace = made_trial([100, 2047, 2046, -2048], calibration=UNRATED).trace()
    assert trace.clipped.tolist() == [False, True, False, True]


def test_clipping_at_the_rated_force_is_taken_from_the_zero_of_the_calibration():
    # 1099 counts are 499.5 N from 100 counts; what the pad weighed before the effort loads the cell too
    trace = made_trial([1099, 1100, -900], zero_counts=300.0).trace()
    assert trace.clipped.tolist() == [False, True, True]
    assert trace.force.tolist() == [399.5, 400.0, -600.0]


def test_clipping_is_unknown_where_no_limit_is():
    free = Calibration(newtons_per_count=1.0, rated_force_n=None)
    assert made_trial([1.0, 1e9, 2.0], calibration=free).trace().clipped is None


def test_nan_count_is_lost_and_not_clipped():
    trace = made_trial([100.0, math.nan, 5000.0]).trace()
    assert trace.lost == 1
    assert trace.clipped.tolist() == [False, False, True]


def test_trace_of_a_trial_without_samples_is_empty():
    assert made_trial(np.empty(0)).trace().time.shape == (0,)


@given(st.floats(-1e6, 1e6), st.integers(-2000, 2000))
def test_trace_depends_neither_on_when_it_was_nor_on_a_common_offset(start, offset):
    time, counts = np.array([0.0, 0.25, 0.5, 1.25]), np.array([0, 8, 80, 8])
    plain = made_trial(counts, time, zero_counts=0.0).trace()
    moved = made_trial(counts + offset, start + time, zero_counts=float(offset)).trace()
    np.testing.assert_allclose(moved.time, plain.time, rtol=0, atol=1e-9)
    np.testing.assert_array_equal(moved.force, plain.force)


def test_judged_trial_is_the_same_trial_with_a_verdict():
    trial = made_trial([1, 2, 3])
    judged = trial.judged({"verdict": "accepted"})
    assert trial.verdict is None
    assert judged.verdict == {"verdict": "accepted"}
    assert judged.counts is trial.counts


def test_session_with_a_trial_leaves_the_one_before_as_it_was():
    empty = Session(context=SessionContext(session="s", started=MORNING, person=PERSON))
    first, second = made_trial([1]), replace(made_trial([2]), context=TrialContext(side="left"))
    assert empty.with_trial(first).with_trial(second).trials == (first, second)
    assert empty.trials == ()
