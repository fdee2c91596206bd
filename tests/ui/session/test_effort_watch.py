"""What the force does in one trial, on a clock of its own."""

import numpy as np
import pytest

from analysis.trial.protocol import load_protocol
from ui.session.effort_watch import EffortWatch
from ui.session.transitions import Event

PROTOCOL = load_protocol()
FRAME = 0.016


def seen(knots, forces, *, until, before_n=0.0):
    """Return when each event came while a force of straight pieces goes by, and the watch."""
    watch, events = EffortWatch(PROTOCOL, before_n=before_n), {}
    for now in np.arange(0.0, until, FRAME):
        for event in watch.see(float(now), float(np.interp(now, knots, forces))):
            assert event not in events, "each comes once"
            events[event] = float(now)
    return events, watch


def test_whole_trial_comes_in_order():
    times, watch = seen([0, 2.0, 3.5, 9.2, 9.4, 10], [0, 0, 300, 300, 0, 0], until=10)
    assert list(times) == [Event.QUIET, Event.EFFORT, Event.LEVEL, Event.HELD, Event.RELEASED]
    assert times[Event.QUIET] == pytest.approx(1.0, abs=0.1)
    assert watch.began == pytest.approx(2.05, abs=0.05)
    assert times[Event.EFFORT] == pytest.approx(2.15, abs=0.05)
    assert times[Event.LEVEL] == pytest.approx(3.7, abs=0.2)
    assert times[Event.HELD] - times[Event.LEVEL] == pytest.approx(PROTOCOL.instruction.hold_s, abs=0.05)
    assert watch.released


def test_release_is_seen_within_a_fifth_of_a_second():
    events, _ = seen([0, 2.0, 3.5, 9.0, 9.2], [0, 0, 300, 300, 0], until=9.0)
    assert Event.RELEASED not in events
    events, _ = seen([0, 2.0, 3.5, 9.0, 9.2], [0, 0, 300, 300, 0], until=9.0 + 0.2 + 0.2)
    assert Event.RELEASED in events


def test_push_before_it_was_quiet_is_an_effort():
    events, _ = seen([0, 0.3, 1.8, 9], [0, 0, 300, 300], until=3.0)
    assert next(iter(events)) is Event.EFFORT


def test_unquiet_force_is_not_quiet():
    watch = EffortWatch(PROTOCOL)
    for step in range(200):
        assert watch.see(step * FRAME, 4.0 * (step % 2)) == []


def test_ramp_is_over_after_two_seconds_even_if_the_force_still_climbs():
    _, watch = seen([0, 2.0, 9.0], [0, 0, 500], until=6.0)
    assert watch.level_s == pytest.approx(PROTOCOL.instruction.ramp_most_s, abs=0.05)


def test_early_release_comes_before_the_hold_is_over():
    events, _ = seen([0, 2.0, 3.0, 4.5, 4.7], [0, 0, 200, 200, 0], until=6.0)
    assert Event.HELD not in events
    assert Event.RELEASED in events


def test_fraction_of_the_hold_goes_from_nothing_to_all():
    _, watch = seen([0, 2.0, 3.0, 20], [0, 0, 200, 200], until=3.0)
    assert watch.fraction(3.0) == 0.0
    _, watch = seen([0, 2.0, 3.0, 20], [0, 0, 200, 200], until=15.0)
    assert watch.fraction(15.0) == 1.0


# what presses and is no effort: made here, by hand, from the two that an examiner described

KNOCK = ([0, 2.0, 2.1, 2.5, 2.6], [0, 0, 22, 22, 0])
LAID_ON = ([0, 2.0, 2.3], [0, 0, 15])


@pytest.mark.parametrize("before_n", [0.0, 200.0])
@pytest.mark.parametrize(("knots", "forces"), [KNOCK, LAID_ON])
def test_contact_leaves_the_word_to_go_standing(knots, forces, before_n):
    events, watch = seen(knots, forces, until=12.0, before_n=before_n)
    assert list(events) == [Event.QUIET]
    assert watch.began is None


def test_effort_after_a_knock_begins_at_its_own_onset():
    _, watch = seen([*KNOCK[0], 5.0, 6.5, 12.0], [*KNOCK[1], 0, 300, 300], until=8.0)
    assert watch.began == pytest.approx(5.05, abs=0.05)


@pytest.mark.parametrize("before_n", [0.0, 24.0, 200.0])
def test_weak_person_is_seen_in_every_trial(before_n):
    events, watch = seen([0, 2.0, 3.8, 12.0], [0, 0, 24, 24], until=6.0, before_n=before_n)
    assert Event.LEVEL in events
    assert watch.began == pytest.approx(2.75, abs=0.05)


def test_knock_that_a_strong_limb_gives_while_it_settles_is_no_effort():
    events, _ = seen([0, 2.0, 2.1, 2.4, 2.5], [0, 0, 60, 60, 0], until=6.0, before_n=500.0)
    assert Event.EFFORT not in events
    events, _ = seen([0, 2.0, 2.1, 2.4, 2.5], [0, 0, 60, 60, 0], until=6.0)
    assert Event.EFFORT in events
