"""What is drawn of a trial: its curve from the onset, the marks on it, and room for their names."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.values.records import TrialContext
from analysis.stored.traces import newtons_trial
from analysis.trial.judged_trial import judge_trial
from analysis.trial.protocol import load_protocol
from ui.model.review.marks import Curve, Mark, curve_of, force_at, framed, heights, lanes, name_span, span_of

WHOLE = ("no-effort", "slow-sensor", "examiner-limit")
"""Faults without a stretch of their own."""


def judged(code="good", *, rate_hz=250.0, context=None):
    """Judge an invented effort that shows a fault."""
    trace = simulate(FAULTY.get(code, GOOD), rate_hz=rate_hz, seed=4).trace
    there = ~np.isnan(trace.force)
    trial = newtons_trial(trace.time[there], trace.force[there])
    return judge_trial(replace(trial, context=context or TrialContext()), load_protocol())


def test_curve_begins_its_time_at_the_onset():
    trial = judged()
    curve = curve_of(trial)
    onset = trial.judgement.measures.onset_s
    np.testing.assert_allclose(curve.time, trial.judgement.effort.time - onset)
    assert curve.phases[0].start == 0.0


def test_ramp_and_hold_lie_where_they_were_measured():
    trial = judged()
    measures, (ramp, hold) = trial.judgement.measures, curve_of(trial).phases
    assert (ramp.name, hold.name) == ("ramp", "hold")
    assert ramp.stop == pytest.approx(measures.ramp_time_s)
    assert hold.start == pytest.approx(measures.plateau_start_s - measures.onset_s)
    assert hold.stop - hold.start == pytest.approx(measures.hold_time_s)


def test_plateau_is_the_mean_of_its_score():
    curve = curve_of(judged())
    scored = (curve.time >= curve.score[0]) & (curve.time <= curve.score[1])
    assert curve.force[scored].mean() == pytest.approx(curve.plateau_n, rel=1e-3)


@pytest.mark.parametrize("code", [code for code in FAULTY if code not in WHOLE])
def test_every_fault_is_marked_within_the_trace(code):
    trial = judged(code)
    curve = curve_of(trial)
    assert [mark.name for mark in curve.faults] == [fault.code for fault in trial.judgement.faults]
    assert code in {mark.name for mark in curve.faults}
    for mark in curve.faults:
        assert curve.time[0] <= mark.start <= mark.stop <= curve.time[-1] + 1e-9


def test_fault_of_the_whole_trial_spans_the_effort():
    context = TrialContext(method="hand", examiner_limit_n=50.0)
    trial = judged(context=context)
    (mark,) = [mark for mark in curve_of(trial).faults if mark.name == "examiner-limit"]
    assert not mark.rejects
    assert mark.start == pytest.approx(0.0, abs=0.01)
    assert mark.stop == pytest.approx(trial.judgement.measures.release_s - trial.judgement.measures.onset_s)


def test_fault_that_rejects_says_so():
    marks = {mark.name: mark.rejects for mark in curve_of(judged("fast-ramp")).faults}
    assert marks["fast-ramp"]


def test_lost_samples_are_gaps():
    curve = curve_of(judged("lost-samples"))
    assert np.isnan(curve.force).any()


def test_trace_without_an_effort_has_no_marks():
    curve = curve_of(judged("no-effort"))
    assert (curve.phases, curve.faults, curve.plateau_n) == ((), (), None)
    assert curve.span == (curve.time[0], curve.time[-1])


def test_trace_too_short_to_judge_is_drawn_all_the_same():
    trial = judge_trial(newtons_trial(np.arange(4.0), np.array([1.0, 2.0, 3.0, 4.0])), load_protocol())
    curve = curve_of(trial)
    assert curve.force.tolist() == [1.0, 2.0, 3.0, 4.0]


def test_trace_that_begins_within_the_effort_has_no_ramp():
    time = np.arange(0.0, 6.0, 0.004)
    force = np.interp(time, [0.0, 4.0, 4.2, 6.0], [200.0, 200.0, 0.0, 0.0])
    curve = curve_of(judge_trial(newtons_trial(time, force), load_protocol()))
    assert [mark.name for mark in curve.phases] == ["hold"]
    assert curve.time[0] == 0.0


def test_span_leaves_a_second_on_either_side():
    trial = judged()
    start, stop = curve_of(trial).span
    measures = trial.judgement.measures
    assert start == pytest.approx(-1.0, abs=0.01)
    assert stop == pytest.approx(measures.release_s - measures.onset_s + 1.0)


def test_curves_are_shown_from_the_first_to_the_last():
    short = Curve(time=np.arange(2.0), force=np.zeros(2), span=(-1.0, 4.0))
    long = Curve(time=np.arange(2.0), force=np.zeros(2), span=(-0.5, 9.0))
    assert span_of([short, long]) == (-1.0, 9.0)


def test_heights_take_only_what_is_shown():
    curve = Curve(time=np.arange(5.0), force=np.array([900.0, 1.0, 40.0, np.nan, -7.0]))
    assert heights([curve], 1.0, 3.0) == (0.0, 40.0)
    assert heights([curve], 1.0, 4.0) == (-7.0, 40.0)


def test_heights_of_nothing_leave_room_for_an_axis():
    assert heights([Curve(time=np.empty(0), force=np.empty(0))], 0.0, 1.0) == (0.0, 1.0)


def test_names_of_others_lie_along_the_hold():
    hold = Mark(name="hold", start=2.0, stop=6.0)
    assert name_span(Curve(time=np.arange(2.0), force=np.zeros(2), phases=(hold,))) == (2.0, 6.0)
    assert name_span(Curve(time=np.arange(2.0), force=np.zeros(2), span=(0.0, 1.0))) == (0.0, 1.0)


@pytest.mark.parametrize("seconds", [-0.1, 2.1, 1.6])
def test_curve_has_no_force_outside_or_in_a_gap(seconds):
    assert force_at(Curve(time=np.arange(3.0), force=np.array([1.0, 2.0, np.nan])), seconds) is None


def test_curve_of_nothing_has_no_force():
    assert force_at(Curve(time=np.empty(0), force=np.empty(0)), 0.0) is None


extents = st.lists(st.tuples(st.floats(0, 100), st.floats(0, 30)).map(lambda e: (e[0], e[0] + e[1])), max_size=12)


@given(extents)
def test_no_two_in_a_lane_meet(stretches):
    chosen = lanes(stretches)
    for i, (a, b) in enumerate(stretches):
        for j in range(i):
            if chosen[i] == chosen[j]:
                c, d = stretches[j]
                assert b < c or a > d


@given(extents)
def test_lanes_are_taken_from_the_first_on(stretches):
    chosen = lanes(stretches)
    assert set(chosen) == set(range(max(chosen, default=-1) + 1))
    assert chosen[:1] in ([], [0])


@given(
    st.floats(-50, 0),
    st.floats(1, 900),
    st.floats(100, 2000),
    st.floats(0, 0.35),
    st.floats(0, 0.35),
)
def test_frame_leaves_the_pixels_that_were_asked_for(low, high, height, above, below):
    bottom, top = framed(low, high, height=height, above=above * height, below=below * height)
    pixel = (top - bottom) / height
    assert math.isclose((top - high) / pixel, above * height, abs_tol=1e-6 * height)
    assert math.isclose((low - bottom) / pixel, below * height, abs_tol=1e-6 * height)


def test_frame_without_room_still_has_a_scale():
    bottom, top = framed(0.0, 10.0, height=40.0, above=60.0, below=60.0)
    assert bottom < 0.0
    assert top > 10.0
