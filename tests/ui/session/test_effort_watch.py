"""What the force does in one trial, on a clock of its own."""

import numpy as np
import pytest

from analysis.trial.protocol import load_protocol
from ui.session.effort_watch import EffortWatch
from ui.session.transitions import Event

PROTOCOL = load_protocol()
FRAME = 0.016


def seen(knots, forces, *, until):
    """Return when each event came while a force of straight pieces goes by, and the watch."""
    watch, events = EffortWatch(PROTOCOL), {}
    for now in np.arange(0.0, until, FRAME):
        for event in watch.see(float(now), float(np.interp(now, knots, forces))):
            assert event not in events, "each comes once"
            events[event] = float(now)
    return events, watch


def test_whole_trial_comes_in_order():
    times, watch = seen([0, 2.0, 3.5, 9.2, 9.4, 10], [0, 0, 300, 300, 0, 0], until=10)
    assert list(times) == [Event.QUIET, Event.EFFORT, Event.LEVEL, Event.HELD, Event.RELEASED]
    assert times[Event.QUIET] == pytest.approx(1.0, abs=0.1)
    assert times[Event.EFFORT] == pytest.approx(2.05, abs=0.05)
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
    times, _ = seen([0, 2.0, 9.0], [0, 0, 500], until=6.0)
    assert times[Event.LEVEL] - times[Event.EFFORT] == pytest.approx(PROTOCOL.instruction.ramp_most_s, abs=0.05)


def test_early_release_comes_before_the_hold_is_over():
    events, _ = seen([0, 2.0, 3.0, 4.5, 4.7], [0, 0, 200, 200, 0], until=6.0)
    assert Event.HELD not in events
    assert Event.RELEASED in events


def test_fraction_of_the_hold_goes_from_nothing_to_all():
    _, watch = seen([0, 2.0, 3.0, 20], [0, 0, 200, 200], until=3.0)
    assert watch.fraction(3.0) == 0.0
    _, watch = seen([0, 2.0, 3.0, 20], [0, 0, 200, 200], until=15.0)
    assert watch.fraction(15.0) == 1.0
