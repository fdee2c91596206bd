"""What is asked of an effort while it goes on, on efforts of straight pieces made here."""

import numpy as np
import pytest

from analysis.trial.protocol import load_protocol
from ui.model.stage.hint import STAYS_S, HintWatch, hint
from ui.model.stage.target import target_of

PROTOCOL = load_protocol()
ASKED, BAND = PROTOCOL.instruction, PROTOCOL.hold.band_pct / 100.0


def effort(knots, forces, *, until):
    time = np.arange(-1.0, until, 0.001)
    return time, np.interp(time, knots, forces)


def asked(time, force, level_s=None, before_n=None):
    return target_of(PROTOCOL, time, force, level_s=level_s, before_n=before_n)


def told(time, force, **of):
    return hint(PROTOCOL, time, force, asked(time, force, **of))


def test_nobody_knows_the_level_before_a_limb_has_pushed():
    target = asked(*effort([0, 1.5], [0, 300], until=0.7))
    assert (target.level, target.floor, target.until) == (None, None, None)
    assert target.ramp_end == pytest.approx((ASKED.ramp_least_s, ASKED.ramp_most_s), abs=0.02)


def test_wedge_begins_where_the_force_left_the_zero():
    target = asked(*effort([-0.3, 1.2], [0, 300], until=0.7), before_n=200.0)
    assert target.onset == pytest.approx(-0.3, abs=0.02)
    assert target.ramp_end[0] == pytest.approx(ASKED.ramp_least_s - 0.3, abs=0.02)


@pytest.mark.parametrize(("reached", "level"), [(100.0, 200.0), (350.0, 350.0)])
def test_level_is_what_the_limb_gave_and_never_caps_a_stronger_effort(reached, level):
    assert asked(*effort([0, 1], [0, reached], until=1.0), before_n=200.0).level == pytest.approx(level, rel=0.01)


def test_floor_is_the_band_below_the_running_mean_and_moves_with_it():
    weak = asked(*effort([0, 1], [0, 100], until=3.0), level_s=1.3, before_n=500.0)
    strong = asked(*effort([0, 1, 2, 3], [0, 100, 100, 900], until=3.0), level_s=1.3, before_n=50.0)
    assert weak.floor == pytest.approx((1.0 - BAND) * 100.0)
    assert strong.floor > weak.floor
    assert strong.level > 100.0


def test_end_is_counted_from_when_the_force_got_there():
    for level_s in (0.8, 1.9):
        assert asked(*effort([0, 1], [0, 100], until=3.0), level_s=level_s).until == level_s + ASKED.hold_s


def test_release_after_the_end_does_not_lower_the_floor():
    time, force = effort([0, 1, 7.0, 7.2], [0, 100, 100, 0], until=9.0)
    assert asked(time, force, level_s=1.0).level == pytest.approx(100.0, rel=0.01)


def test_lost_samples_do_not_matter():
    time, force = effort([0, 1], [0, 100], until=3.0)
    force[::3] = np.nan
    assert asked(time, force, level_s=1.3).level == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("ramp_s", "found"),
    [(0.4, "slower"), (1.0, "building"), (1.5, "building"), (2.0, "building"), (4.0, "building")],
)
def test_build_up_that_is_too_fast_is_slowed(ramp_s, found):
    assert told(*effort([0, ramp_s], [0, 200], until=0.8 * min(ramp_s, 1.0)), before_n=200.0) == found


def test_first_trial_is_not_told_to_slow_down():
    assert told(*effort([0, 0.4], [0, 200], until=0.35)) == "building"


@pytest.mark.parametrize(("now", "found"), [(100.0, "hold"), (70.0, "pushing"), (130.0, "steady")])
def test_hold_says_what_helps_now(now, found):
    time, force = effort([0, 1, 4.0, 4.1], [0, 100, 100, now], until=4.4)
    assert told(time, force, level_s=1.2) == found


def test_nothing_helps_before_the_onset():
    assert told(*effort([0, 1], [0, 0], until=-0.1)) == ""
    assert hint(PROTOCOL, np.empty(0), np.empty(0), asked(*effort([0, 1], [0, 0], until=0.1))) == ""


def test_hint_stays_for_a_moment_and_is_heard_once():
    watch = HintWatch()
    assert watch.see(0.0, "slower")
    assert not watch.see(0.1, "slower")
    assert not watch.see(0.2, "building")
    assert watch.shown == "slower"
    assert not watch.see(STAYS_S + 0.1, "building")
    assert watch.shown == "building"
    assert not watch.see(STAYS_S + 0.2, "")
    assert watch.shown == ""
