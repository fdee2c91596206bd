"""Contacts are distinguished from efforts by what is there, next to what was pushed otherwise."""

import numpy as np
import pytest
from drawn import Person, draw

from acquire.values.records import Trace
from analysis.trial.contacts import ALONE_N, FAINT, SMALL, Press, contacts_among, is_contact, press_of
from analysis.trial.protocol import load_protocol

PROTOCOL = load_protocol()


def knock(newtons, seconds, rate=500.0, seed=1):
    """Return a short arch of force with rest around it."""
    time = np.arange(0.0, 4.0, 1.0 / rate)
    arch = np.sqrt(np.clip(np.sin(np.pi * np.clip((time - 2.0) / seconds, 0.0, 1.0)), 0.0, 1.0))
    return Trace(time=time, force=newtons * arch + 0.1 * np.random.default_rng(seed).standard_normal(len(time)))


@pytest.mark.parametrize("rate", [80.0, 500.0, 2000.0])
@pytest.mark.parametrize("seconds", [0.15, 0.3, 0.6])
@pytest.mark.parametrize("newtons", [12.0, 22.0, 45.0])
def test_knock_beside_efforts_is_a_contact_and_they_are_not(newtons, seconds, rate):
    efforts = [draw(Person(plateau=force), rate, 3) for force in (120.0, 150.0)]
    traces = [knock(newtons, seconds, rate), *(Trace(time=each.time, force=each.force) for each in efforts)]
    assert contacts_among([press_of(trace, PROTOCOL) for trace in traces]) == [True, False, False]


@pytest.mark.parametrize("plateau", [12.0, 15.0, 40.0, 800.0])
def test_effort_by_itself_is_none(plateau):
    drawing = draw(Person(plateau=plateau), 500.0, 2)
    assert contacts_among([press_of(Trace(time=drawing.time, force=drawing.force), PROTOCOL)]) == [False]


def test_short_push_of_full_strength_is_an_effort_that_broke_the_protocol():
    short, whole = (draw(Person(plateau=200.0, hold=hold, ramp=0.5), 500.0, 2) for hold in (0.3, 4.5))
    presses = [press_of(Trace(time=each.time, force=each.force), PROTOCOL) for each in (short, whole)]
    assert not presses[0].has_plateau
    assert contacts_among(presses) == [False, False]


@pytest.mark.parametrize("steady_s", [0.2, 4.0])
def test_shares_of_the_usual_force_from_both_sides(steady_s):
    share = FAINT if steady_s > 1.0 else SMALL
    below, above = (Press(peak_n=200.0 * share * by, plateau_n=1.0, steady_s=steady_s) for by in (0.999, 1.001))
    assert (is_contact(below, 200.0), is_contact(above, 200.0)) == (True, False)


@pytest.mark.parametrize(("peak_n", "expected"), [(ALONE_N - 0.1, True), (ALONE_N, False)])
def test_alone_only_what_is_faint_and_has_no_plateau(peak_n, expected):
    assert is_contact(Press(peak_n=peak_n, plateau_n=1.0, steady_s=0.99), None) is expected
    assert not is_contact(Press(peak_n=peak_n, plateau_n=1.0, steady_s=1.0), None)


def test_a_handful_of_samples_is_a_contact_without_a_plateau():
    few = press_of(Trace(time=np.arange(3.0), force=np.array([0.0, 12.0, np.nan])), PROTOCOL)
    assert (few.peak_n, few.has_plateau) == (12.0, False)


def test_when_it_pressed():
    found = press_of(knock(30.0, 0.6), PROTOCOL)
    assert (found.start_s, found.stop_s) == (pytest.approx(2.0, abs=0.05), pytest.approx(2.6, abs=0.05))
