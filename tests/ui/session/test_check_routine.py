"""The routine: it takes what is asked for when it hangs still, and nothing else."""

import msgspec
import numpy as np
import pytest
from check_bench import LIMITS, PROFILE, Bench, setup

from analysis.sensor_check import Hung, assess_loads
from ui.session.check_routine import TABLE, WAITING, State
from ui.session.check_setup import CheckError, check_steps, refuse_overload
from ui.session.load_watch import LEAST_LOOK_S, Sight

replace = msgspec.structs.replace
SHORT = replace(LIMITS.procedure, look_s=3.0, rest_s=4.0, creep_s=10.0, wait_s=60.0)


def purposes(steps):
    return [(step.purpose, step.mass_kg, step.run) for step in steps]


# what is to be done


def test_look_alone_is_one_step():
    assert purposes(check_steps(setup(), SHORT)) == [("look", 0.0, 0)]
    assert purposes(check_steps(setup(0.0, full=True), SHORT)) == [("look", 0.0, 0)]


def test_weights_in_a_silly_order_are_hung_rising():
    steps = check_steps(setup(20.0, 0.0, 5.0, 10.0, 5.0), SHORT)
    assert [step.mass_kg for step in steps] == [0.0, 0.0, 5.0, 10.0, 20.0]


def test_all_of_it_is_preload_runs_and_creep():
    steps = check_steps(setup(10.0, 5.0, full=True), replace(SHORT, runs=2, preloads=1))
    run = [("zero", 0.0), ("up", 5.0), ("up", 10.0), ("down", 5.0), ("down", 0.0)]
    assert purposes(steps) == [
        ("look", 0.0, 0),
        ("preload", 10.0, 0),
        ("preload", 0.0, 0),
        *((purpose, mass, 1) for purpose, mass in run),
        *((purpose, mass, 2) for purpose, mass in run),
        ("rest", 0.0, 0),
        ("hold", 10.0, 0),
        ("return", 0.0, 0),
    ]


def test_no_creep_and_no_preload_when_the_limits_say_so():
    steps = check_steps(setup(10.0, full=True), replace(SHORT, runs=1, preloads=0, creep_s=0.0))
    assert [step.purpose for step in steps] == ["look", "zero", "up", "down"]


def test_weight_that_would_hurt_the_sensor_is_refused():
    with pytest.raises(CheckError, match=r"60 kg weigh 589 N, more than the 500 N .*: hang 50\.9 kg at most"):
        refuse_overload(setup(5.0, 60.0), 500.0)
    refuse_overload(setup(5.0, 50.9), 500.0)
    refuse_overload(setup(), 1.0)


def hold(bench):
    """Go on until the heaviest weight is being held."""
    while bench.routine.step.purpose != "hold" or bench.routine.state is not State.HOLDING:
        bench.play(0.5)


# the table

LOADED = {Sight.MOVING, Sight.AS_ASKED, Sight.AS_BEFORE, Sight.OTHER}
"""What may be seen of a load that is waited for, and decides something."""


def test_table_has_an_entry_for_all_that_decides_something_and_no_other():
    wanted = {State.LOOKING: {Sight.OVER}, State.HOLDING: {Sight.TOUCHED, Sight.OVER}, State.DONE: set()}
    wanted |= dict.fromkeys(WAITING, LOADED)
    assert {state: {sight for at, sight in TABLE if at is state} for state in State} == wanted


# hands-free


def test_whole_check_goes_by_itself():
    routine = Bench(setup(5.0, 10.0, 20.0, full=True), procedure=SHORT, noise_n=0.1).to_end()
    assert routine.number == len(routine.steps)
    assert [(r.purpose, r.mass_kg, r.run) for r in routine.readings] == purposes(routine.steps)[1:]
    assert routine.creep.seconds == pytest.approx(10.0, abs=0.3)
    assert (routine.left_s, routine.state) == (0.0, State.DONE)


@pytest.mark.parametrize("piece_s", [0.05, 0.25, 1.7, 9.0])
def test_pieces_in_which_it_comes_change_nothing(piece_s):
    bench = Bench(setup(), procedure=SHORT, noise_n=0.1, piece_s=0.05).play(20.0)
    other = Bench(setup(), procedure=SHORT, noise_n=0.1, piece_s=piece_s).play(20.0)
    assert other.routine.look.counts.tolist() == bench.routine.look.counts.tolist()


def test_pieces_change_no_reading_of_a_load():
    """The same recorded stream, cut in different pieces."""
    rng = np.random.default_rng(1)
    time = np.arange(6000) / 200.0
    load = np.interp(time, [10.0, 10.6, 20.0, 20.6], [0.0, 49.05, 49.05, 98.1])
    counts = np.rint(4000.0 * (load + 0.1 * rng.standard_normal(len(time))))
    found = []
    for size in (1, 7, 40, 6000):
        bench = Bench(setup(5.0, 10.0), procedure=SHORT)
        for at in range(0, len(time), size):
            bench.routine.see(time[at : at + size], counts[at : at + size])
        found.append([reading.counts for reading in bench.routine.readings])
    assert len(found[0]) == 3
    assert all(each == found[0] for each in found)


def test_swinging_weight_is_waited_for():
    bench = Bench(setup(20.0), procedure=SHORT, swing_pct=30.0).play(8.0)
    states = set()
    while not bench.routine.done:
        bench.play(0.1)
        states.add(bench.routine.state)
    assert states == {State.MOVING, State.DONE}
    assert bench.routine.readings[-1].counts / 4000.0 == pytest.approx(20.0 * 9.81, abs=0.05)


def test_noise_of_the_sensor_is_no_movement():
    # 2 N of noise at 200 a second: fifths of a second differ by more than 0.05 % of 500 N
    routine = Bench(setup(5.0, 20.0), procedure=SHORT, noise_n=2.0).to_end(most_s=120.0)
    assert [r.counts / 4000.0 for r in routine.readings] == pytest.approx([0.0, 49.05, 196.2], abs=0.6)


def test_load_that_never_hangs_still_is_given_up():
    bench = Bench(setup(10.0), procedure=SHORT, unrest_n=3.0)
    with pytest.raises(CheckError, match=r"the load never hung still at 10 kg within 1 min \(it moved by [45]\.\d N\)"):
        bench.play(200.0)
    assert [r.mass_kg for r in bench.routine.readings] == [0.0]
    assert bench.seconds == pytest.approx(3.0 + 2.0 + 60.0, abs=4.0)


def test_weight_that_nobody_hangs_is_given_up():
    bench = Bench(setup(10.0), procedure=SHORT, hands=lambda _: None)
    with pytest.raises(CheckError, match="10 kg were waited for over 1 min: hang each weight as it is asked for"):
        bench.play(200.0)


def test_tick_without_anything_new_changes_nothing():
    bench = Bench(setup(10.0), procedure=SHORT, hands=lambda _: None).play(8.0)
    bench.routine.see(np.empty(0), np.empty(0))
    assert (bench.routine.state, bench.routine.number) == (State.CHANGE, 2)


def test_held_load_is_never_given_up():
    slow = replace(SHORT, creep_s=100.0, wait_s=20.0)
    assert Bench(setup(10.0, full=True), procedure=slow).to_end().creep.seconds == pytest.approx(100.0, abs=0.3)


# another weight than was asked for


def wrong(step, asked=5.0, instead=7.0):
    return instead if step.mass_kg == asked else step.mass_kg


def test_other_weight_is_not_taken_but_told():
    bench = Bench(setup(5.0, 10.0), procedure=SHORT, hands=wrong).play(20.0)
    routine = bench.routine
    assert (routine.state, routine.step.mass_kg) == (State.WRONG, 5.0)
    assert routine.load.looks_like_kg == pytest.approx(7.0, abs=0.05)
    bench.hang(5.0)
    assert bench.to_end().readings[1].counts / 4000.0 == pytest.approx(49.05, abs=0.05)


def test_weight_within_the_match_is_taken():
    assert Bench(setup(5.0, 10.0), procedure=SHORT, hands=lambda step: 1.1 * step.mass_kg).to_end(60.0).done


def test_neighbouring_weights_are_told_apart():
    bench = Bench(setup(18.0, 19.0, 20.0, full=True), procedure=SHORT, hands=lambda s: 20.0 if s.mass_kg else 0.0)
    bench.play(60.0)
    assert (bench.routine.step.purpose, bench.routine.step.mass_kg) == ("up", 18.0)
    assert bench.routine.state is State.WRONG


def test_weight_left_on_is_told_when_nothing_should_hang():
    bench = Bench(setup(10.0, full=True), procedure=SHORT, hands=lambda step: 2.0 if not step.mass_kg else step.mass_kg)
    bench.play(30.0)
    assert bench.routine.step.purpose == "preload"
    assert (bench.routine.state, bench.routine.step.mass_kg) == (State.WRONG, 0.0)


def test_sensor_of_another_sensitivity_is_believed_after_one_press():
    bench = Bench(setup(5.0, 10.0, 20.0), procedure=SHORT, sensitivity_pct=50.0).play(20.0)
    assert bench.routine.state is State.WRONG
    bench.routine.press()
    routine = bench.to_end(60.0)
    assert [r.counts / 6000.0 for r in routine.readings] == pytest.approx([0.0, 49.05, 98.1, 196.2], abs=0.1)
    assert routine.load.looks_like_kg >= 0.0


def test_falling_sensor_is_weighed_too():
    falling = msgspec.structs.replace(PROFILE, counts_per_newton=-4000.0)
    routine = Bench(setup(5.0, 20.0), procedure=SHORT, profile=falling).to_end(60.0)
    assert routine.readings[-1].counts == pytest.approx(-4000.0 * 196.2, rel=1e-3)


# presses


def test_press_does_not_take_nothing_for_a_weight():
    bench = Bench(setup(5.0), procedure=SHORT, hands=lambda _: None).play(10.0)
    assert bench.routine.state is State.CHANGE
    bench.routine.press()
    bench.play(5.0)
    assert (bench.routine.state, len(bench.routine.readings)) == (State.CHANGE, 1)
    bench.hang(5.0)
    assert bench.to_end(20.0).readings[-1].counts / 4000.0 == pytest.approx(49.05, abs=0.05)


def test_press_while_it_moves_takes_it_when_it_is_still():
    bench = Bench(setup(5.0), procedure=SHORT, hands=wrong).play(5.6)
    assert bench.routine.number == 2
    bench.routine.press()
    routine = bench.to_end(20.0)
    assert routine.readings[-1].counts / 4000.0 == pytest.approx(7.0 * 9.81, abs=0.05)


def test_press_ends_the_look_but_not_at_once():
    long = replace(SHORT, look_s=100.0)
    bench = Bench(setup(), procedure=long).play(1.0)
    bench.routine.press()
    bench.play(0.5)
    assert bench.routine.state is State.LOOKING
    bench.to_end(10.0)
    assert bench.routine.look.seconds == pytest.approx(LEAST_LOOK_S, abs=0.25)
    later = Bench(setup(), procedure=long).play(10.0)
    later.routine.press()
    assert later.to_end(1.0).look.seconds == pytest.approx(10.0, abs=0.5)


def test_press_ends_a_held_load():
    bench = Bench(setup(10.0, full=True), procedure=replace(SHORT, creep_s=300.0))
    hold(bench)
    bench.play(20.0)
    bench.routine.press()
    assert bench.to_end(60.0).creep.seconds == pytest.approx(20.0, abs=3.0)


# what can happen meanwhile


def test_held_load_that_is_touched_begins_anew():
    bench = Bench(setup(10.0, full=True), procedure=SHORT, swing_pct=0.0)
    hold(bench)
    bench.play(5.0)
    left = bench.routine.left_s
    bench.hang(10.5)
    bench.play(0.5)
    bench.hang(10.0)
    bench.play(1.0)
    assert bench.routine.state is State.MOVING
    bench.play(4.0)
    assert bench.routine.state is State.HOLDING
    assert bench.routine.left_s > left
    assert bench.to_end(60.0).creep.counts / 4000.0 == pytest.approx(0.0, abs=0.01)


def test_too_much_is_told_at_once():
    bench = Bench(setup(20.0), procedure=SHORT, hands=lambda step: 3.0 * step.mass_kg).play(7.0)
    assert bench.routine.load.overloaded
    bench.hang(0.0)
    bench.play(2.0)
    assert not bench.routine.load.overloaded


def test_time_left_runs_down():
    bench = Bench(setup(), procedure=SHORT).play(1.0)
    assert bench.routine.left_s == pytest.approx(2.0, abs=0.1)
    assert bench.routine.load.force_n == pytest.approx(0.0, abs=1e-6)


def test_gap_in_the_stream_leaves_a_reading_all_the_same():
    bench = Bench(setup(), procedure=SHORT)
    time = np.concatenate([np.arange(0.0, 1.0, 0.005), np.arange(2.0, 4.0, 0.005)])
    bench.routine.see(time, np.zeros(len(time)))
    assert bench.routine.done


# what comes of it


def test_errors_that_were_put_in_come_out():
    """Every number of the cell, but for creep: it would lie on top of the others."""
    cell = {
        "sensitivity_pct": 0.4,
        "bow_n": 0.25,
        "hysteresis_n": 0.2,
        "repeatability_n": 0.08,
        "noise_n": 0.05,
        "zero_n": 1.5,
        "drift_n_per_min": 0.0,
    }
    routine = Bench(setup(5.0, 10.0, 15.0, 20.0, full=True), **{**cell, "full_n": 20.0 * 9.81}).to_end()
    hung = Hung(gravity=setup(gravity_m_per_s2=9.81).gravity, mass_tolerance_pct=0.0)
    found = assess_loads(routine.readings, routine.creep, hung, rated_force_n=500.0)
    assert found.counts_per_newton == pytest.approx(4000.0 * 1.004, rel=2e-4)
    assert found.terminal.value_n == pytest.approx(0.25, abs=0.01)
    assert found.hysteresis.value_n == pytest.approx(0.2, abs=0.01)
    assert found.repeatability.value_n == pytest.approx(0.08, abs=0.015)
    assert found.zero_return.value_n == pytest.approx(0.0, abs=0.015)
    assert found.creep.value_n == pytest.approx(0.0, abs=0.01)
    for figure in (found.terminal, found.hysteresis, found.repeatability):
        assert figure.expanded_n < 0.02


def test_creep_that_was_put_in_comes_out():
    cell = {"creep_pct": 0.3, "creep_s": 15.0, "noise_n": 0.05, "swing_pct": 0.0}
    routine = Bench(setup(20.0, full=True), procedure=replace(LIMITS.procedure, runs=1, preloads=0), **cell).to_end()
    hung = Hung(gravity=setup().gravity, mass_tolerance_pct=0.0)
    creep = assess_loads(routine.readings, routine.creep, hung, rated_force_n=500.0).creep
    # The first reading is the mean of two seconds, about a second after the hand let go, when some has crept
    # already; what is left of an exponential after t is exp(-t / 15 s) of it. The run before has left little.
    whole = 0.003 * 20.0 * 9.81
    assert 0.75 * whole < creep.value_n < 0.95 * whole
    assert creep.expanded_n < 0.03
