"""The battery engine, told the time."""

from dataclasses import replace

import msgspec
import numpy as np
import pytest

from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.values.calibration import Calibration
from acquire.values.records import Trial, TrialContext
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge
from ui.session.battery_progress import BatteryProgress, Result
from ui.session.cues import Cue
from ui.session.engine import Engine
from ui.session.transitions import Event

PROTOCOL = load_protocol()
REST_S = PROTOCOL.set.rest_s
JUDGED = {
    code: judge(simulate(effort, seed=1).trace, PROTOCOL)
    for code, effort in {"good": GOOD, "fast-ramp": FAULTY["fast-ramp"], "zero-shift": FAULTY["zero-shift"]}.items()
}
OVER = judge(simulate(GOOD, seed=1).trace, PROTOCOL, TrialContext(method="hand", examiner_limit_n=200.0))


def items(*names):
    return [TrialContext(action=name[:-2], side="left" if name[-1] == "l" else "right") for name in names]


class Clock:
    """Seconds that pass when told to."""

    def __init__(self, engine):
        self.now, self.engine, self.stored = 0.0, engine, 0

    def pass_(self, seconds, force=0.0):
        for _ in range(round(seconds / 0.05)):
            self.now += 0.05
            self.engine.see(self.now, force)

    def effort(self, outcome="good", judgement=None):
        """Play a whole effort and hand over what it came to, at its release and when it has been cut."""
        for step in range(30):
            self.now += 0.05
            self.engine.see(self.now, 10.0 * (step + 1))
        self.pass_(6.0, 300.0)
        self.pass_(0.5, 0.0)
        assert self.engine.trial_over
        self.engine.take(judgement or JUDGED[outcome])
        self.engine.correct(judgement or JUDGED[outcome], self.stored)
        self.stored += 1


@pytest.fixture
def clocked():
    def make(*names, protocol=PROTOCOL):
        engine = Engine(items(*names), protocol)
        return engine, Clock(engine)

    return make


def test_one_press_then_everything_goes_by_itself(clocked):
    engine, clock = clocked("elbow-flexion l")
    assert engine.cue is Cue.PLACE
    clock.pass_(30.0)
    assert engine.cue is Cue.PLACE  # waits for the examiner
    engine.handle(Event.PRESS)
    clock.pass_(2.0)
    assert engine.cue is Cue.GO
    clock.effort()
    assert engine.cue is Cue.REST
    clock.pass_(REST_S + 2.0)
    assert engine.cue is Cue.GO
    clock.effort()
    clock.pass_(REST_S + 2.0)
    clock.effort()
    assert engine.cue is Cue.DONE
    assert engine.view().done == 1


def test_sides_alternate_and_the_rested_one_is_next(clocked):
    engine, clock = clocked("elbow-flexion l", "elbow-flexion r")
    engine.handle(Event.PRESS)
    order = []
    while engine.cue is not Cue.DONE:
        clock.pass_(REST_S + 2.0)
        if order:
            assert engine.cue is Cue.PLACE, "GO never comes unasked for the other limb"
            engine.handle(Event.PRESS)
            clock.pass_(2.0)
        order.append(engine.item.context.side)
        clock.effort()
    assert order == ["left", "right"] * 3


def test_rejected_trial_is_repeated_and_says_why(clocked):
    engine, clock = clocked("elbow-flexion l")
    engine.handle(Event.PRESS)
    clock.pass_(2.0)
    clock.effort("fast-ramp")
    assert engine.view().fault.code == "fast-ramp"
    assert engine.view().set.accepted == 0
    assert [r.verdict for r in engine.item.results] == ["rejected"]
    assert engine.cue is Cue.REST


def test_set_ends_after_five_trials_whatever_they_came_to(clocked):
    engine, clock = clocked("elbow-flexion l")
    engine.handle(Event.PRESS)
    for _ in range(5):
        clock.pass_(REST_S + 2.0)
        clock.effort("fast-ramp")
    assert engine.cue is Cue.DONE


def test_rest_may_be_cut_short_but_not_below_the_least(clocked):
    engine, clock = clocked("elbow-flexion l")
    engine.handle(Event.PRESS)
    clock.pass_(2.0)
    clock.effort()
    clock.pass_(PROTOCOL.set.rest_least_s - 5.0)
    assert engine.handle(Event.PRESS) is Cue.REST
    assert engine.view().least_s == pytest.approx(5.0, abs=0.1)
    clock.pass_(6.0)
    assert engine.view().least_s == 0.0
    assert engine.handle(Event.PRESS) is Cue.SET


def test_next_action_waits_for_the_examiner(clocked):
    engine, clock = clocked("elbow-flexion l", "knee-flexion l")
    engine.handle(Event.PRESS)
    for _ in range(3):
        clock.pass_(REST_S + 2.0)
        clock.effort()
    assert (engine.cue, engine.item.context.action) == (Cue.PLACE, "knee-flexion")


def test_examiner_limit_asks_for_the_belt_and_begins_the_set_anew(clocked):
    engine, clock = clocked("knee-extension l")
    engine.handle(Event.PRESS)
    clock.pass_(2.0)
    clock.effort(judgement=OVER)
    assert (engine.cue, engine.item.context.method, engine.item.results) == (Cue.PLACE, "belt", ())
    assert engine.view().fault.code == "examiner-limit"


def test_lost_sensor_stops_and_goes_on_where_it_was(clocked):
    engine, clock = clocked("elbow-flexion l")
    engine.handle(Event.PRESS)
    clock.pass_(2.0)
    clock.pass_(1.0, 200.0)
    engine.handle(Event.LOST)
    assert engine.cue is Cue.LOST
    assert not engine.trial_over
    clock.pass_(5.0)
    assert engine.cue is Cue.LOST
    engine.handle(Event.BACK)
    assert engine.cue is Cue.PLACE
    assert engine.item.results == ()


def test_skipped_item_is_left_open_and_the_next_begins(clocked):
    engine, _ = clocked("elbow-flexion l", "knee-flexion l")
    engine.handle(Event.SKIP)
    assert engine.item.context.action == "knee-flexion"


def test_skip_while_somebody_pushes_does_nothing(clocked):
    engine, clock = clocked("elbow-flexion l", "knee-flexion l")
    engine.handle(Event.PRESS)
    clock.pass_(2.0)
    engine.handle(Event.SKIP)
    assert (engine.cue, engine.item.context.action) == (Cue.GO, "elbow-flexion")


def test_halted_trial_does_not_count_and_waits_for_the_examiner(clocked):
    engine, clock = clocked("elbow-flexion l")
    engine.handle(Event.HALT)
    assert engine.cue is Cue.PLACE
    engine.handle(Event.PRESS)
    clock.pass_(2.0)
    clock.pass_(1.0, 200.0)
    engine.handle(Event.HALT)
    clock.pass_(5.0, 200.0)
    assert (engine.cue, engine.item.results) == (Cue.HALTED, ())
    clock.pass_(1.0)
    assert (engine.cue, engine.item.results, engine.trial_began) == (Cue.REST, (), None)
    clock.pass_(REST_S + 2.0)
    assert engine.cue is Cue.PLACE


def test_trial_set_aside_is_taken_out_and_its_item_tried_again(clocked):
    engine, clock = clocked("elbow-flexion l", "knee-flexion l")
    engine.uncount(0)
    assert engine.cue is Cue.PLACE
    engine.handle(Event.PRESS)
    for _ in range(3):
        clock.pass_(REST_S + 2.0)
        clock.effort()
    assert engine.item.context.action == "knee-flexion"
    engine.uncount(engine.last_stored)
    assert (engine.cue, engine.item.context.action, len(engine.item.results)) == (Cue.REST, "elbow-flexion", 2)
    clock.pass_(REST_S + 2.0)
    engine.handle(Event.PRESS)
    clock.pass_(2.0)
    clock.effort()
    assert engine.item.context.action == "knee-flexion"


def test_set_aside_after_the_last_trial_opens_the_battery_again(clocked):
    engine, clock = clocked("elbow-flexion l")
    engine.handle(Event.PRESS)
    for _ in range(3):
        clock.pass_(REST_S + 2.0)
        clock.effort()
    assert engine.cue is Cue.DONE
    engine.uncount(engine.last_stored)
    assert engine.cue is Cue.REST


def test_view_says_what_the_last_trial_was_until_the_next_begins(clocked):
    engine, clock = clocked("elbow-flexion l", "elbow-flexion r")
    engine.handle(Event.PRESS)
    clock.pass_(2.0)
    clock.effort("fast-ramp")
    view = engine.view()
    assert (view.last.side, view.item.context.side) == ("left", "right")
    clock.pass_(REST_S + 2.0)
    engine.handle(Event.PRESS)
    assert engine.view().last is None


def test_verdict_that_the_rest_of_the_trace_changes_is_replaced(clocked):
    engine, clock = clocked("elbow-flexion l")
    engine.handle(Event.PRESS)
    clock.pass_(2.0)
    clock.effort("good")
    engine.correct(JUDGED["fast-ramp"])
    assert [r.verdict for r in engine.item.results] == ["rejected"]
    assert engine.cue is Cue.REST


def verdicts(engine):
    return [[result.verdict for result in item.results] for item in engine.items]


def test_last_trial_that_is_rejected_in_the_end_opens_the_battery_again(clocked):
    engine, clock = clocked("elbow-flexion l")
    engine.handle(Event.PRESS)
    for outcome in ("good", "good", "good"):
        clock.pass_(REST_S + 2.0)
        clock.effort(outcome)
    assert engine.cue is Cue.DONE
    assert engine.correct(JUDGED["zero-shift"], 2)
    assert (engine.cue, engine.view().fault.code) == (Cue.REST, "zero-shift")


def test_rejection_in_the_end_comes_back_from_the_next_item(clocked):
    engine, clock = clocked("elbow-flexion l", "knee-flexion l")
    engine.handle(Event.PRESS)
    for _ in range(3):
        clock.pass_(REST_S + 2.0)
        clock.effort()
    assert engine.item.context.action == "knee-flexion"
    assert engine.correct(JUDGED["zero-shift"], 2)
    assert (engine.item.context.action, engine.cue) == ("elbow-flexion", Cue.REST)
    assert verdicts(engine) == [["accepted", "accepted", "rejected"], []]


def test_trial_accepted_in_the_end_is_no_fault_and_goes_on(clocked):
    engine, clock = clocked("elbow-flexion l", "knee-flexion l")
    engine.handle(Event.PRESS)
    for outcome in ("good", "good", "fast-ramp"):
        clock.pass_(REST_S + 2.0)
        clock.effort(outcome)
    assert engine.item.context.action == "elbow-flexion"
    assert engine.correct(JUDGED["good"], 2)
    assert (engine.item.context.action, engine.cue, engine.fault) == ("knee-flexion", Cue.PLACE, None)


def test_same_verdict_in_the_end_changes_nothing(clocked):
    engine, clock = clocked("elbow-flexion l", "elbow-flexion r")
    engine.handle(Event.PRESS)
    clock.pass_(2.0)
    clock.effort()
    before = (engine.cue, engine.item.context.side, engine.rest_left(clock.now))
    assert not engine.correct(JUDGED["good"], 0)
    assert (engine.cue, engine.item.context.side, engine.rest_left(clock.now)) == before


def test_examiner_limit_seen_in_the_end_asks_for_the_belt_too(clocked):
    engine, clock = clocked("knee-extension l")
    engine.handle(Event.PRESS)
    clock.pass_(2.0)
    clock.effort()
    engine.correct(OVER, 0)
    assert (engine.cue, engine.item.context.method, engine.item.results) == (Cue.PLACE, "belt", ())


# gone on with


def stored(context, judgement):
    """A trial as a session file gives it back, without its samples."""
    time = np.arange(3.0)
    known = Calibration(newtons_per_count=1.0, rated_force_n=None)
    verdict = judgement.as_json()
    return Trial(time=time, counts=time, calibration=known, zero_counts=0.0, context=context, verdict=verdict)


def test_session_gone_on_with_stays_with_the_belt():
    (by_hand,) = items("knee-extension l")
    belt = msgspec.structs.replace(by_hand, method="belt")
    engine = Engine([by_hand], PROTOCOL)
    engine.resume([stored(by_hand, JUDGED["good"]), stored(by_hand, OVER), stored(belt, JUDGED["good"])])
    assert (engine.item.context.method, engine.cue) == ("belt", Cue.PLACE)
    assert [result.stored for result in engine.item.results] == [2]


def test_session_gone_on_with_leaves_out_what_was_left_out():
    contexts = items("elbow-flexion l", "elbow-flexion r", "knee-flexion l")
    engine = Engine(contexts, PROTOCOL)
    engine.resume([], skipped=[contexts[0], contexts[2]])
    view = engine.view()
    assert (engine.item.context.side, view.done, view.left_out) == ("right", 0, 2)
    engine.handle(Event.SKIP)
    assert engine.cue is Cue.DONE


def test_empty_battery_is_refused():
    with pytest.raises(ValueError, match="at least one item"):
        Engine([], PROTOCOL)


def test_trials_by_hand_stay_beside_those_with_a_belt():
    battery = BatteryProgress(items("knee-extension l", "knee-extension r"), PROTOCOL.set)
    strong = Result(verdict="accepted", plateau_n=300.0, codes=("examiner-limit",))
    battery.count(strong, now=1.0)
    assert battery.follow_limit(0, strong)
    assert (battery.item.context.method, battery.item.results, battery.item.by_hand) == ("belt", (), (strong,))
    final = replace(strong, stored=0)
    assert not battery.replace_last(0, final)
    assert battery.item.by_hand == (final,)


def test_item_that_is_complete_can_be_repeated_and_is_then_done_again():
    (context,) = items("knee-extension l")
    engine = Engine([context], PROTOCOL)
    clock = Clock(engine)
    while engine.cue is not Cue.DONE:
        engine.handle(Event.PRESS)
        clock.effort()
        clock.pass_(PROTOCOL.set.rest_s)
    tried = len(engine.item.results)
    engine.repeat(context)
    assert engine.cue is not Cue.DONE
    assert engine.view().done == 0
    clock.pass_(PROTOCOL.set.rest_s)
    engine.handle(Event.PRESS)
    clock.effort()
    assert (engine.cue, len(engine.item.results)) == (Cue.DONE, tried + 1)


def test_sides_take_turns_or_the_trials_of_one_come_together():
    for alternate, sides in ((True, ["left", "right", "left", "right"]), (False, ["left", "left", "left", "right"])):
        engine = Engine(items("knee-extension l", "knee-extension r"), PROTOCOL, alternate=alternate)
        clock, tried = Clock(engine), []
        for _ in sides:
            while engine.cue is not Cue.GO:
                engine.handle(Event.PRESS)
                clock.pass_(5.0)
            tried.append(engine.item.context.side)
            clock.effort()
        assert tried == sides
