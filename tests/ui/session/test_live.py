"""A session as the window drives it: which trials count, and what is told of them."""

from dataclasses import replace

import numpy as np
import pytest
from stepped import LEFT, RIGHT, Stepped
from told import aside, begin, gone_on_with, troubles, verdicts

from acquire.errors import LinkFailure
from acquire.storage.session_file import read_session
from acquire.values.remarks import ProgramReason, TrialEnd
from ui.session.cues import Cue
from ui.session.engine import Engine
from ui.session.events import TroubleSource, Verdict
from ui.session.store import PROGRAM

# which trials count


def test_trial_counts_when_it_is_pushed_at_the_word(stepped):
    stepped.trial()
    assert (verdicts(stepped.engine), aside(stepped)) == (["accepted"], [None])
    assert verdicts(gone_on_with(stepped)) == ["accepted"]


def test_stray_press_in_a_rest_is_kept_and_set_aside_by_the_program(stepped):
    stepped.trial()
    stepped.push(30.0, hold_s=1.0)
    stepped.until(lambda: len(stepped.stored) == 2)
    assert (verdicts(stepped.engine), aside(stepped)) == (["accepted"], [None, ProgramReason.STRAY])
    assert stepped.stored[1].set_aside[-1].by == PROGRAM
    assert verdicts(gone_on_with(stepped)) == ["accepted"]


def test_trial_ended_by_the_examiner_does_not_count_nor_when_gone_on_with(stepped):
    begin(stepped)
    stepped.ramp(200.0)
    stepped.go(2.0, 200.0)
    stepped.session.halt()
    stepped.until(lambda: stepped.stored)
    assert (stepped.cue, verdicts(stepped.engine), aside(stepped)) == (Cue.REST, [], [ProgramReason.HALTED])
    assert verdicts(gone_on_with(stepped)) == []


def test_halt_before_anything_was_pushed_marks_no_later_trial(stepped):
    begin(stepped)
    stepped.session.halt()
    stepped.go(1.0)
    stepped.trial()
    assert (verdicts(stepped.engine), aside(stepped)) == (["accepted"], [None])


def test_trial_broken_off_by_a_lost_link_does_not_count(stepped):
    begin(stepped)
    stepped.ramp(200.0)
    stepped.go(2.0, 200.0)
    stepped.recorder.lose()
    stepped.pass_(1.0)
    assert (stepped.cue, verdicts(stepped.engine), aside(stepped)) == (Cue.LOST, [], [TrialEnd.LINK_LOST])
    stepped.recorder.come_back()
    stepped.tick()
    assert stepped.cue is Cue.PLACE
    stepped.trial()
    assert verdicts(stepped.engine) == ["accepted"]


def test_trial_released_before_the_link_was_lost_counts(stepped):
    begin(stepped)
    stepped.push()
    stepped.recorder.lose()
    stepped.pass_(1.0)
    assert (verdicts(stepped.engine), aside(stepped)) == (["accepted"], [None])
    assert verdicts(gone_on_with(stepped)) == ["accepted"]


def test_trial_under_way_at_the_close_is_kept_and_set_aside(stepped):
    begin(stepped)
    stepped.ramp(200.0)
    stepped.session.close()
    assert aside(stepped) == [TrialEnd.STOPPED]


def test_trial_released_before_the_close_counts(stepped):
    begin(stepped)
    stepped.push()
    stepped.session.close()
    assert (verdicts(stepped.engine), aside(stepped)) == (["accepted"], [None])


def test_trial_done_while_the_window_hung_counts(stepped):
    begin(stepped)
    tick, stepped.tick = stepped.tick, lambda: None
    stepped.push()
    stepped.go(3.0)
    tick()
    assert (verdicts(stepped.engine), aside(stepped)) == (["accepted"], [None])


def test_trial_broken_off_by_a_crash_does_not_count_unless_it_was_good(stepped):
    stepped.trial()
    stepped.session.close()
    (trial,) = stepped.stored
    crashed = replace(trial, damage=(TrialEnd.CRASHED,))
    rejected = replace(crashed, verdict={**trial.verdict, "verdict": "rejected"})
    engine = Engine([LEFT], stepped.protocol)
    engine.resume([rejected, crashed])
    assert [result.stored for result in engine.item.results] == [1]


def test_no_trial_begins_before_the_zero_is_known(tmp_path):
    """A sensor whose zero is 40 N off, handled while it is opened."""
    stepped = Stepped(tmp_path, settle=False)
    for at in range(100):
        stepped.step(40.0 + (5.0 if at % 4 < 2 else -5.0))
        stepped.session.press()
    assert (stepped.cue, stepped.session.restless) == (Cue.PLACE, True)
    stepped.go(2.0, 40.0)
    assert not stepped.session.restless
    stepped.session.press()
    stepped.go(2.0, 40.0)
    assert stepped.cue is Cue.GO
    assert stepped.session.force_now_n == pytest.approx(0.0, abs=0.5)
    stepped.session.close()
    assert stepped.stored == ()


def test_item_left_out_is_left_out_when_the_session_is_gone_on_with(tmp_path):
    stepped = Stepped(tmp_path, LEFT, RIGHT)
    stepped.session.skip()
    stepped.session.close()
    session = read_session(stepped.path)
    assert (session.context.skipped, session.trials) == ((LEFT,), ())
    engine = Engine([LEFT, RIGHT], stepped.protocol)
    engine.resume(session.trials, skipped=session.context.skipped)
    assert engine.item.context == RIGHT


def test_verdict_that_only_the_zero_after_it_shows_is_told_again(stepped):
    begin(stepped)
    stepped.ramp(200.0)
    stepped.go(4.0, 200.0)
    stepped.until(lambda: stepped.stored, force=25.0)
    first, last = [h for h in stepped.happened if isinstance(h, Verdict)]
    assert (first.final, first.judged.judgement.verdict) == (False, "accepted")
    assert (last.final, last.changed, last.judged.judgement.verdict) == (True, True, "rejected")
    assert stepped.engine.view().fault.code == "zero-shift"


def test_verdict_that_stays_is_told_once(stepped):
    stepped.trial()
    assert [h.changed for h in stepped.happened if isinstance(h, Verdict)] == [False, False]


# one effort, one trial


@pytest.mark.slow
def test_no_trial_begins_while_a_halted_effort_goes_on(stepped):
    begin(stepped)
    stepped.ramp(200.0)
    stepped.go(1.0, 200.0)
    stepped.session.halt()
    stepped.session.press()
    assert stepped.cue is Cue.HALTED
    stepped.go(4.0, 200.0)
    stepped.session.press()
    assert (stepped.cue, stepped.engine.view().halted) == (Cue.HALTED, True)
    stepped.go(0.5)
    assert (stepped.cue, stepped.engine.view().halted) == (Cue.REST, True)
    stepped.until(lambda: stepped.cue is not Cue.REST)
    assert (stepped.cue, aside(stepped)) == (Cue.PLACE, [ProgramReason.HALTED])
    stepped.session.press()
    assert (stepped.cue, stepped.engine.view().halted) == (Cue.SET, False)


def test_rest_that_is_over_waits_until_the_sensor_is_let_go(stepped):
    stepped.trial()
    stepped.until(lambda: stepped.engine.rest_left(stepped.seconds) < 5.0)
    stepped.ramp(30.0)
    stepped.go(6.0, 30.0)
    assert (stepped.cue, stepped.engine.view().seconds) == (Cue.REST, 0.0)
    stepped.until(lambda: stepped.cue is Cue.GO)
    assert aside(stepped) == [None, ProgramReason.STRAY]


@pytest.mark.slow
def test_sensor_laid_down_on_its_pad_does_not_keep_a_session_from_ending(stepped):
    while stepped.cue is not Cue.DONE:
        stepped.trial()
    stepped.ramp(30.0)
    stepped.go(2.0, 30.0)
    assert (stepped.session.settled, stepped.session.complete) == (False, True)


# a sensor in trouble


def test_silence_is_over_when_the_sensor_speaks(stepped):
    stepped.recorder.fall_silent()
    stepped.tick()
    assert stepped.session.force_now_n is None
    stepped.recorder.be_heard()
    stepped.tick()
    assert stepped.session.force_now_n == pytest.approx(0.0, abs=0.5)
    stalled, over = troubles(stepped, TroubleSource.SENSOR)
    assert (stalled.reason, over) == (LinkFailure.STALLED, None)


def test_force_of_a_lost_sensor_is_not_shown(stepped):
    begin(stepped)
    stepped.ramp(200.0)
    assert stepped.session.force_now_n == pytest.approx(200.0, rel=0.05)
    stepped.recorder.lose()
    stepped.tick()
    assert stepped.session.force_now_n is None


def test_gap_of_an_hour_is_one_break_in_the_stream_shown(stepped):
    stepped.trial()
    stepped.recorder.lose()
    stepped.pass_(1.0)
    stepped.recorder.come_back()
    stepped.leave_out_samples(3600.0)
    stepped.go(2.0)
    time, force = stepped.session.view.recent(4000.0)
    assert len(time) < 200.0 * (stepped.seconds + 1.0)
    assert np.isnan(force).sum() == 1
    assert (np.diff(time) > 0.0).all()
    time, force = stepped.session.view.recent(9.0)
    assert time[0] >= -9.0
    assert not np.isnan(force).any()
