"""What the examiner decides in a session: trials set aside, notes, pauses, and what was done by mistake."""

from datetime import UTC, datetime

import numpy as np
import pytest
from stepped import LEFT, RIGHT, Stepped
from told import aside, begin, gone_on_with, verdicts

from acquire.storage.session_file import read_session
from acquire.values.records import SetAside
from acquire.values.remarks import ProgramReason
from ui.session.cues import Cue
from ui.session.store import PROGRAM


def decision(reason="the pad slipped"):
    return SetAside(aside=True, reason=reason, by="X1", at=datetime.now(UTC))


def test_trial_set_aside_is_the_last_that_counted_whatever_was_pushed_since(stepped):
    stepped.trial(190.0)
    stepped.trial(200.0)
    stepped.push(30.0, hold_s=1.0)
    stepped.until(lambda: len(stepped.stored) == 3)
    stepped.go(0.1)
    assert stepped.session.to_set_aside == 1
    stepped.session.set_aside(1, decision())
    assert aside(stepped) == [None, "the pad slipped", ProgramReason.STRAY]
    assert [result.stored for result in stepped.engine.item.results] == [0]
    assert stepped.session.to_set_aside is None
    assert len(read_session(stepped.path).trials) == 3


def test_trial_ended_by_the_examiner_is_out_already_and_the_one_before_it_stays(stepped):
    stepped.trial()
    stepped.until(lambda: stepped.cue is Cue.GO)
    stepped.ramp(200.0)
    stepped.session.halt()
    stepped.until(lambda: len(stepped.stored) == 2)
    assert stepped.session.to_set_aside is None


def test_trial_is_set_aside_though_the_next_one_has_begun(stepped):
    stepped.trial()
    stepped.until(lambda: stepped.cue is Cue.GO)
    stepped.session.set_aside(0, decision())
    assert (stepped.cue, verdicts(stepped.engine), aside(stepped)) == (Cue.GO, [], ["the pad slipped"])


def notes(stepped):
    return [[(note.text, note.by) for note in trial.notes] for trial in stepped.stored]


def test_note_is_kept_with_the_last_trial(stepped):
    stepped.trial()
    assert stepped.session.note("the pad was moved up", "X1") == []
    assert notes(stepped) == [[("the pad was moved up", "X1")]]
    assert notes_in(stepped.path) == [["the pad was moved up"]]
    assert (aside(stepped), verdicts(stepped.engine)) == ([None], ["accepted"])


def test_note_before_the_first_trial_or_during_one_is_kept_with_that(stepped):
    stepped.session.note("a stiff knee")
    stepped.trial()
    stepped.until(lambda: stepped.cue is Cue.GO)
    stepped.ramp(200.0)
    stepped.session.note("he laughed", "X1")
    stepped.session.note("and let go", "X1")
    stepped.session.halt()
    stepped.until(lambda: len(stepped.stored) == 2)
    assert notes(stepped) == [[("a stiff knee", PROGRAM)], [("he laughed", "X1"), ("and let go", "X1")]]
    assert notes_in(stepped.path) == [["a stiff knee"], ["he laughed", "and let go"]]


def notes_in(path):
    return [[note.text for note in trial.notes] for trial in read_session(path).trials]


@pytest.mark.slow
def test_no_trial_begins_by_itself_while_the_examiner_is_busy(stepped):
    stepped.trial()
    stepped.session.busy = True
    stepped.go(2.0 * stepped.protocol.set.rest_s)
    assert stepped.cue is Cue.REST
    stepped.session.busy = False
    stepped.go(0.1)
    assert stepped.cue is Cue.SET


# pause and undo


@pytest.mark.slow
def test_pause_in_a_rest_holds_everything_and_the_limb_is_asked_for_anew(stepped):
    stepped.trial()
    stepped.session.pause()
    stepped.go(2.0 * stepped.protocol.set.rest_s)
    assert stepped.cue is Cue.PAUSED
    stepped.session.press()
    stepped.go(0.1)
    assert stepped.cue is Cue.PLACE


def test_push_while_paused_is_set_aside(stepped):
    stepped.session.pause()
    stepped.push(100.0)
    stepped.until(lambda: stepped.stored)
    assert (stepped.cue, aside(stepped)) == (Cue.PAUSED, [ProgramReason.STRAY])


def test_pause_during_an_effort_comes_after_it(stepped):
    begin(stepped)
    stepped.ramp(200.0)
    stepped.session.pause()
    stepped.go(4.0, 200.0)
    assert stepped.cue in {Cue.HOLD, Cue.STOP}
    stepped.until(lambda: stepped.stored)
    assert (stepped.cue, verdicts(stepped.engine)) == (Cue.PAUSED, ["accepted"])
    stepped.session.press()
    assert stepped.cue is Cue.REST


@pytest.mark.parametrize("cue", [Cue.SET, Cue.GO])
def test_word_that_is_taken_back_asks_for_the_limb_again(stepped, cue):
    stepped.session.press()
    stepped.until(lambda: stepped.cue is cue)
    stepped.session.halt()
    stepped.go(3.0)
    assert (stepped.cue, stepped.stored) == (Cue.PLACE, ())


@pytest.mark.parametrize("cue", [Cue.BUILD, Cue.HOLD, Cue.STOP])
def test_effort_ended_at_any_cue_is_kept_and_not_counted(stepped, cue):
    begin(stepped)
    for newtons in np.linspace(0.0, 200.0, 30):
        if stepped.cue is not cue:
            stepped.step(newtons)
    stepped.until(lambda: stepped.cue is cue, force=200.0)
    stepped.go(0.2, 200.0)
    stepped.session.halt()
    stepped.go(1.0, 200.0)
    assert stepped.cue is Cue.HALTED
    stepped.until(lambda: stepped.stored)
    assert (stepped.cue, verdicts(stepped.engine), aside(stepped)) == (Cue.REST, [], [ProgramReason.HALTED])


@pytest.mark.slow
def test_trial_set_aside_by_mistake_counts_again(stepped):
    stepped.trial(190.0)
    stepped.trial(200.0)
    stepped.session.set_aside(1, decision())
    stepped.session.undo("X1")
    assert (verdicts(stepped.engine), aside(stepped)) == (["accepted", "accepted"], [None, None])
    assert [made.aside for made in stepped.stored[1].set_aside] == [True, False]
    assert stepped.session.to_set_aside == 1
    assert verdicts(gone_on_with(stepped)) == ["accepted", "accepted"]


def test_effort_ended_by_mistake_counts_after_all(stepped):
    begin(stepped)
    stepped.ramp(200.0)
    stepped.go(5.5, 200.0)
    stepped.session.halt()
    stepped.until(lambda: stepped.stored)
    stepped.session.undo("X1")
    assert (verdicts(stepped.engine), aside(stepped)) == (["accepted"], [None])


def test_item_left_out_by_mistake_is_next_again(tmp_path):
    stepped = Stepped(tmp_path, LEFT, RIGHT)
    stepped.session.skip()
    assert stepped.engine.item.context == RIGHT
    stepped.session.undo()
    assert (stepped.engine.item.context, stepped.cue) == (LEFT, Cue.PLACE)
    stepped.session.close()
    assert read_session(stepped.path).context.skipped == ()


def test_nothing_is_undone_while_a_trial_is_under_way(stepped):
    stepped.trial()
    stepped.session.set_aside(0, decision())
    stepped.until(lambda: stepped.cue is Cue.GO)
    stepped.session.undo()
    assert aside(stepped) == ["the pad slipped"]
