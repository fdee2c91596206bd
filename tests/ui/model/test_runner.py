"""The battery runner, told the time."""

import pytest

from acquire.records import TrialContext
from acquire.simulation.efforts import FAULTY, GOOD, simulate
from analysis.protocol import load_protocol
from analysis.verdict import judge
from ui.model.cues import Cue
from ui.model.runner import BatteryRunner

PROTOCOL = load_protocol()
REST_S = PROTOCOL.set.rest_s
JUDGED = {
    code: judge(simulate(effort, seed=1).trace, PROTOCOL)
    for code, effort in {"good": GOOD, "fast-ramp": FAULTY["fast-ramp"]}.items()
}


def items(*names):
    return [TrialContext(action=name[:-2], side="left" if name[-1] == "l" else "right") for name in names]


class Clock:
    """Seconds that pass when told to."""

    def __init__(self, runner):
        self.now, self.runner, self.stored = 0.0, runner, 0

    def pass_(self, seconds, force=0.0):
        for _ in range(round(seconds / 0.05)):
            self.now += 0.05
            self.runner.see(self.now, force)

    def effort(self, outcome="good", judgement=None):
        """Play a whole effort and hand over what it came to, at its release and when it has been cut."""
        for step in range(30):
            self.now += 0.05
            self.runner.see(self.now, 10.0 * (step + 1))
        self.pass_(6.0, 300.0)
        self.pass_(0.5, 0.0)
        assert self.runner.trial_over
        self.runner.take(judgement or JUDGED[outcome])
        self.runner.correct(judgement or JUDGED[outcome], self.stored)
        self.stored += 1


@pytest.fixture
def clocked():
    def make(*names, protocol=PROTOCOL):
        runner = BatteryRunner(items(*names), protocol)
        return runner, Clock(runner)

    return make


def test_one_press_then_everything_goes_by_itself(clocked):
    runner, clock = clocked("elbow-flexion l")
    assert runner.cue is Cue.PLACE
    clock.pass_(30.0)
    assert runner.cue is Cue.PLACE  # waits for the examiner
    runner.press()
    clock.pass_(2.0)
    assert runner.cue is Cue.GO
    clock.effort()
    assert runner.cue is Cue.REST
    clock.pass_(REST_S + 2.0)
    assert runner.cue is Cue.GO
    clock.effort()
    clock.pass_(REST_S + 2.0)
    clock.effort()
    assert runner.cue is Cue.DONE
    assert runner.view().done == 1


def test_sides_alternate_and_the_rested_one_is_next(clocked):
    runner, clock = clocked("elbow-flexion l", "elbow-flexion r")
    runner.press()
    order = []
    while runner.cue is not Cue.DONE:
        if runner.cue is Cue.PLACE:
            runner.press()
        clock.pass_(REST_S + 2.0 if runner.cue is Cue.REST else 2.0)
        order.append(runner.item.context.side)
        clock.effort()
    assert order == ["left", "right"] * 3


def test_rejected_trial_is_repeated_and_says_why(clocked):
    runner, clock = clocked("elbow-flexion l")
    runner.press()
    clock.pass_(2.0)
    clock.effort("fast-ramp")
    assert runner.view().fault.code == "fast-ramp"
    assert runner.view().set.accepted == 0
    assert [r.verdict for r in runner.item.results] == ["rejected"]
    assert runner.cue is Cue.REST


def test_set_ends_after_five_trials_whatever_they_came_to(clocked):
    runner, clock = clocked("elbow-flexion l")
    runner.press()
    for _ in range(5):
        clock.pass_(REST_S + 2.0)
        clock.effort("fast-ramp")
    assert runner.cue is Cue.DONE


def test_rest_may_be_cut_short_but_not_below_the_least(clocked):
    runner, clock = clocked("elbow-flexion l")
    runner.press()
    clock.pass_(2.0)
    clock.effort()
    clock.pass_(PROTOCOL.set.rest_least_s - 5.0)
    assert runner.press() is Cue.REST
    clock.pass_(6.0)
    assert runner.press() is Cue.SET


def test_next_action_waits_for_the_examiner(clocked):
    runner, clock = clocked("elbow-flexion l", "knee-flexion l")
    runner.press()
    for _ in range(3):
        clock.pass_(REST_S + 2.0)
        clock.effort()
    assert (runner.cue, runner.item.context.action) == (Cue.PLACE, "knee-flexion")


def test_examiner_limit_asks_for_the_belt_and_begins_the_set_anew(clocked):
    runner, clock = clocked("knee-extension l")
    over = judge(simulate(GOOD, seed=1).trace, PROTOCOL, TrialContext(method="hand", examiner_limit_n=200.0))
    runner.press()
    clock.pass_(2.0)
    clock.effort(judgement=over)
    assert (runner.cue, runner.item.context.method, runner.item.results) == (Cue.PLACE, "belt", ())
    assert runner.view().fault.code == "examiner-limit"


def test_lost_sensor_stops_and_goes_on_where_it_was(clocked):
    runner, clock = clocked("elbow-flexion l")
    runner.press()
    clock.pass_(2.0)
    clock.pass_(1.0, 200.0)
    runner.lost()
    assert runner.cue is Cue.LOST
    assert not runner.trial_over
    clock.pass_(5.0)
    assert runner.cue is Cue.LOST
    runner.back()
    assert runner.cue is Cue.PLACE
    assert runner.item.results == ()


def test_skipped_item_is_left_open_and_the_next_begins(clocked):
    runner, _ = clocked("elbow-flexion l", "knee-flexion l")
    runner.skip()
    assert runner.item.context.action == "knee-flexion"


def test_skip_while_somebody_pushes_does_nothing(clocked):
    runner, clock = clocked("elbow-flexion l", "knee-flexion l")
    runner.press()
    clock.pass_(2.0)
    runner.skip()
    assert (runner.cue, runner.item.context.action) == (Cue.GO, "elbow-flexion")


def test_halted_trial_does_not_count_and_waits_for_the_examiner(clocked):
    runner, clock = clocked("elbow-flexion l")
    runner.halt()
    assert runner.cue is Cue.PLACE
    runner.press()
    clock.pass_(2.0)
    clock.pass_(1.0, 200.0)
    runner.halt()
    clock.pass_(5.0)
    assert (runner.cue, runner.item.results, runner.trial_began) == (Cue.PLACE, (), None)


def test_trial_set_aside_is_taken_out_and_its_item_tried_again(clocked):
    runner, clock = clocked("elbow-flexion l", "knee-flexion l")
    runner.uncount(0)
    assert runner.cue is Cue.PLACE
    runner.press()
    for _ in range(3):
        clock.pass_(REST_S + 2.0)
        clock.effort()
    assert runner.item.context.action == "knee-flexion"
    runner.uncount(runner.last_stored)
    assert (runner.cue, runner.item.context.action, len(runner.item.results)) == (Cue.REST, "elbow-flexion", 2)
    clock.pass_(REST_S + 2.0)
    clock.effort()
    assert runner.item.context.action == "knee-flexion"


def test_set_aside_after_the_last_trial_opens_the_battery_again(clocked):
    runner, clock = clocked("elbow-flexion l")
    runner.press()
    for _ in range(3):
        clock.pass_(REST_S + 2.0)
        clock.effort()
    assert runner.cue is Cue.DONE
    runner.uncount(runner.last_stored)
    assert runner.cue is Cue.REST


def test_view_says_what_the_last_trial_was_until_the_next_begins(clocked):
    runner, clock = clocked("elbow-flexion l", "elbow-flexion r")
    runner.press()
    clock.pass_(2.0)
    clock.effort("fast-ramp")
    view = runner.view()
    assert (view.last.side, view.item.context.side) == ("left", "right")
    clock.pass_(REST_S + 2.0)
    runner.press()
    assert runner.view().last is None


def test_verdict_that_the_rest_of_the_trace_changes_is_replaced(clocked):
    runner, clock = clocked("elbow-flexion l")
    runner.press()
    clock.pass_(2.0)
    clock.effort("good")
    runner.correct(JUDGED["fast-ramp"])
    assert [r.verdict for r in runner.item.results] == ["rejected"]
    assert runner.cue is Cue.REST


def test_empty_battery_is_refused():
    with pytest.raises(ValueError, match="at least one item"):
        BatteryRunner([], PROTOCOL)
