"""What the end of a recording cuts off is no fault of the person; what was done by then is judged as ever."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from acquire.values.records import SetAside
from acquire.values.remarks import TrialEnd
from analysis.stored.traces import Samples, cut_samples
from analysis.trial.judged_trial import Exclusion, judge_trial
from analysis.trial.protocol import load_protocol
from tests.fakes.drawn import Person, draw

PROTOCOL = load_protocol()
PERSON = Person(hold=5.0, ramp=1.4, flicker=0.005, tremor=0.005)
HOLD_BEGINS = 2.0 + 1.4


def judged_until(end_s, person=PERSON, seed=1):
    drawing = draw(person, 200.0, seed)
    kept = drawing.time < end_s
    (trial,) = cut_samples(Samples(time=drawing.time[kept], force=drawing.force[kept], start=0.0))
    return judge_trial(trial, PROTOCOL)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("held", [-0.7, 0.3, 1.5, 2.5])
def test_end_before_the_hold_was_long_enough_accuses_nobody(held, seed):
    found = judged_until(HOLD_BEGINS + held, seed=seed)
    assert (found.excluded, found.cut_off, found.faults) == (Exclusion.CUT_OFF, TrialEnd.ENDED, ())


@pytest.mark.parametrize("seed", range(3))
def test_end_after_a_hold_that_was_long_enough_leaves_the_trial_accepted(seed):
    found = judged_until(HOLD_BEGINS + 4.5, seed=seed)
    assert (found.trial.broken_off, found.cut_off, found.excluded) == (TrialEnd.ENDED, None, None)


def test_fault_before_the_end_is_judged_all_the_same():
    found = judged_until(2.2 + 4.5, Person(hold=5.0, ramp=0.2))
    assert (found.excluded, found.trial.broken_off) == (Exclusion.REJECTED, TrialEnd.ENDED)
    assert "fast-ramp" in [fault.code for fault in found.faults]


@pytest.mark.parametrize("after", [0.5, 1.6])
def test_short_hold_that_was_released_before_the_end_is_rejected(after):
    person = Person(hold=1.5, ramp=1.4, release=0.3)
    found = judged_until(HOLD_BEGINS + 1.5 + 0.3 + after, person)
    assert (found.excluded, found.trial.broken_off) == (Exclusion.REJECTED, None)
    assert "short-hold" in [fault.code for fault in found.faults]


def test_trial_that_somebody_takes_back_is_judged(taken_at):
    trial = judged_until(HOLD_BEGINS + 1.5).trial
    aside, back = (SetAside(aside=aside, reason="r", by="X", at=taken_at) for aside in (True, False))
    assert judge_trial(_with(trial, aside), PROTOCOL).excluded is Exclusion.SET_ASIDE
    assert judge_trial(_with(trial, aside, back), PROTOCOL).excluded is Exclusion.REJECTED


@pytest.fixture
def taken_at():
    return dt.datetime(2026, 3, 2, tzinfo=dt.UTC)


def _with(trial, *decisions):
    return replace(trial, set_aside=decisions)


def test_knock_at_the_very_end_is_kept_and_set_aside_since_it_may_have_become_an_effort():
    time = np.arange(0.0, 5.0, 0.005)
    force = np.interp(time, [4.7, 5.0], [0.0, 30.0])
    (trial,) = cut_samples(Samples(time=time, force=force, start=0.0))
    assert judge_trial(trial, PROTOCOL).excluded is Exclusion.CUT_OFF
