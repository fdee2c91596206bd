"""What an examiner can hold: the same plateau as a person's."""

import numpy as np
import pytest

from acquire.errors import LinkError, LinkFailure
from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import GOOD, Effort, recording, simulate
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge
from ui.session.force_watch import ForceWatch
from ui.session.holding import LONGEST_S, Holding, HoldingLimit
from ui.session.open_sensor import OpenSensor, open_sensor

PROTOCOL = load_protocol()


def shown(limit, time, force):
    """Feed a force and return the states it went through."""
    states = []
    for now, newtons in zip(time, force, strict=True):
        state = limit.see(float(now), float(newtons))
        if not states or states[-1] is not state:
            states.append(state)
    return states


def push(*points, rate=100.0):
    time = np.arange(0.0, points[-1][0], 1.0 / rate)
    return time, np.interp(time, *zip(*points, strict=True))


@pytest.fixture
def limit():
    return HoldingLimit(PROTOCOL)


def test_good_push_is_judged_like_a_trial(limit):
    trace = simulate(GOOD, seed=3).trace
    states = shown(limit, trace.time, trace.force)
    assert states == [Holding.PUSH, Holding.HOLD, Holding.DONE]
    assert limit.newtons == pytest.approx(judge(trace, PROTOCOL).measures.plateau_force_n, rel=1e-3)


def test_best_three_seconds_count_not_the_peak(limit):
    # ten seconds, of which the first three are the strongest, after a peak of a tenth of a second
    time, force = push((0, 0), (2, 0), (3, 315), (3.1, 300), (6.2, 300), (6.5, 280), (12, 280), (12.1, 0), (14, 0))
    shown(limit, time, force)
    assert limit.newtons == pytest.approx(300.0, abs=1.5)


def test_long_push_is_told_to_let_go(limit):
    states = shown(limit, *push((0, 0), (2, 0), (3, 300), (12, 300), (12.2, 0), (14, 0)))
    assert states == [Holding.PUSH, Holding.HOLD, Holding.LET_GO, Holding.DONE]
    assert limit.newtons == pytest.approx(300.0, abs=0.5)


def test_short_push_is_asked_for_again_and_the_next_one_counts(limit):
    short = push((0, 0), (2, 0), (2.5, 400), (4, 400), (4.2, 0), (6, 0))
    assert shown(limit, *short) == [Holding.PUSH, Holding.HOLD, Holding.AGAIN]
    assert limit.newtons is None
    time, force = push((0, 0), (2, 0), (3, 250), (8, 250), (8.2, 0), (10, 0))
    assert shown(limit, time + 10.0, force) == [Holding.AGAIN, Holding.HOLD, Holding.DONE]
    assert limit.newtons == pytest.approx(250.0, abs=0.5)


def test_push_under_way_from_the_start_counts(limit):
    shown(limit, *push((0, 220), (5, 220), (5.2, 0), (7, 0)))
    assert limit.newtons == pytest.approx(220.0, abs=0.5)


def test_brush_of_the_sensor_is_no_push(limit):
    assert shown(limit, *push((0, 0), (2, 0), (2.2, 8), (3, 8), (3.2, 0), (6, 0))) == [Holding.PUSH]


def test_something_that_leans_on_the_sensor_is_no_push(limit):
    shown(limit, *push((0, 0), (1, 100), (LONGEST_S + 3.0, 100)))
    assert limit.newtons is None
    assert limit.state in {Holding.AGAIN, Holding.HOLD}


def test_dip_of_a_moment_does_not_end_the_push(limit):
    shown(
        limit, *push((0, 0), (2, 0), (3, 300), (6.5, 300), (6.6, 50), (6.8, 50), (6.9, 300), (8, 300), (8.1, 0), (9, 0))
    )
    assert limit.state is Holding.DONE
    assert limit.newtons == pytest.approx(300.0, abs=1.0)


def test_lost_samples_do_not_spoil_the_mean(limit):
    time, force = push((0, 0), (2, 0), (3, 300), (8, 300), (8.2, 0), (10, 0))
    there = (time < 5.0) | (time > 5.3)
    shown(limit, time[there], force[there])
    assert limit.newtons == pytest.approx(300.0, abs=0.5)


def test_time_that_stands_still_is_passed_over(limit):
    limit.see(1.0, 0.0)
    assert limit.see(1.0, 500.0) is Holding.PUSH
    assert limit.see(0.5, 500.0) is Holding.PUSH


def test_nothing_changes_once_it_is_done(limit):
    trace = simulate(GOOD, seed=3).trace
    shown(limit, trace.time, trace.force)
    before = limit.newtons
    assert limit.see(100.0, 900.0) is Holding.DONE
    assert limit.newtons == before


def test_seconds_of_the_push_are_told(limit):
    assert limit.held_s() == 0.0
    shown(limit, *push((0, 0), (2, 0), (3, 300), (6, 300)))
    assert limit.held_s() == pytest.approx(4.0, abs=0.1)


def test_slow_sensor_gives_the_same_limit():
    fast, slow = HoldingLimit(PROTOCOL), HoldingLimit(PROTOCOL)
    trace = recording((Effort(plateau_n=240.0),), rate_hz=1000.0, seed=2)
    shown(fast, trace.time, trace.force)
    shown(slow, trace.time[::12], trace.force[::12])
    assert slow.newtons == pytest.approx(fast.newtons, rel=0.005)


class Gone:
    """A sensor that is gone as soon as it is looked at."""

    port, finished, ended, trouble = "/dev/gone", False, False, None

    def wait(self, _):
        return False

    def chunks(self):
        raise LinkError("/dev/gone was unplugged", port=self.port, reason=LinkFailure.UNPLUGGED)

    def close(self):
        self.ended = True


def first_sample(watch):
    while not (fresh := watch.fresh()):  # the test's own time limit ends it otherwise
        pass
    return fresh[0]


def test_sensor_that_goes_away_is_said_and_let_go_of():
    profile, link = load_profile("simulated"), Gone()
    sensor = OpenSensor(profile=profile, calibration=profile.nominal_calibration(), link=link, reopen=None)
    watch = ForceWatch(sensor)
    with pytest.raises(LinkError, match="/dev/gone was unplugged"):
        first_sample(watch)
    watch.close()
    assert link.ended


def test_simulated_sensor_is_looked_at_and_measured(limit):
    with ForceWatch(open_sensor("simulated", port=None, calibration=None, speed=20.0, efforts=(GOOD,))) as watch:
        seen = 0
        while limit.state is not Holding.DONE:  # the test's own time limit ends it otherwise
            fresh = watch.fresh()
            seen += len(fresh)
            for now, force in fresh:
                limit.see(now, force)
    assert seen > 5000
    assert limit.newtons == pytest.approx(GOOD.plateau_n, rel=0.03)
