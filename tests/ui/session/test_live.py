"""A session as the window drives it: what is saved, what counts, and what is told."""

import errno
import shutil
import tempfile
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from shutil import copyfile

import numpy as np
import pytest
from stepped import LEFT, RIGHT, STEP_S, Stepped

from acquire.errors import ArchiveError, LinkFailure
from acquire.storage.session_file import read_session, write_session
from acquire.values.records import SetAside
from acquire.values.remarks import ProgramReason, TrialEnd
from ui.session.crash import journal_path, recover_store
from ui.session.cues import Cue
from ui.session.engine import Engine
from ui.session.live import SAVE_AGAIN_S, ContactNoticed, Trouble, TroubleSource, Verdict
from ui.session.store import PROGRAM


@pytest.fixture
def stepped(tmp_path):
    made = Stepped(tmp_path)
    yield made
    with suppress(ArchiveError):
        made.session.close()


def troubles(stepped, of):
    return [h.error for h in stepped.happened if isinstance(h, Trouble) and h.of is of]


def verdicts(engine):
    return [result.verdict for result in engine.item.results]


def aside(stepped):
    return [trial.set_aside[-1].reason if trial.is_aside else None for trial in stepped.stored]


def gone_on_with(stepped):
    """Another engine for the same battery, from what is in the file."""
    stepped.session.close()
    engine = Engine([item.context for item in stepped.engine.items], stepped.protocol)
    engine.resume(read_session(stepped.path).trials)
    return engine


def begin(stepped):
    stepped.session.press()
    stepped.until(lambda: stepped.cue is Cue.GO)


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


# the last trial set aside


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
    time, force = stepped.session.recent(4000.0)
    assert len(time) < 200.0 * (stepped.seconds + 1.0)
    assert np.isnan(force).sum() == 1
    assert (np.diff(time) > 0.0).all()
    time, force = stepped.session.recent(9.0)
    assert time[0] >= -9.0
    assert not np.isnan(force).any()


# a session file that cannot be written


@pytest.fixture
def full(stepped):
    """Two trials, of which only the first could be saved: a folder is where the file belongs."""
    stepped.trial()
    stepped.saved = stepped.path.read_bytes()
    stepped.path.unlink()
    stepped.path.mkdir()
    stepped.trial()
    return stepped


def make_room(stepped):
    stepped.path.rmdir()
    stepped.path.write_bytes(stepped.saved)


@pytest.mark.slow
def test_trial_that_cannot_be_saved_is_told_and_the_battery_goes_on(full):
    (error,) = troubles(full, TroubleSource.FILE)
    assert "cannot be written" in str(error)
    assert (full.cue, len(full.engine.item.results), full.session.settled) == (Cue.REST, 2, True)
    full.until(lambda: full.cue is Cue.GO)


def test_saving_is_tried_again_until_there_is_room(full):
    full.go(2 * SAVE_AGAIN_S)
    assert all(troubles(full, TroubleSource.FILE))
    make_room(full)
    full.go(SAVE_AGAIN_S + 0.1)
    assert troubles(full, TroubleSource.FILE)[-1] is None
    assert len(read_session(full.path).trials) == 2
    full.session.close()
    assert not journal_path(full.path).exists()


def test_close_without_room_keeps_the_journal_from_which_the_next_start_saves(full):
    for _ in range(2):
        with pytest.raises(ArchiveError, match=r"session\.h5: cannot be written: Is a directory"):
            full.session.close()
    assert journal_path(full.path).exists()
    make_room(full)
    store, missing = recover_store(full.path, full.protocol)
    assert (missing, len(store.session.trials)) == (1, 2)


def test_close_that_failed_saves_when_there_is_room(full):
    with pytest.raises(ArchiveError, match="cannot be written"):
        full.session.close()
    make_room(full)
    full.session.close()
    assert len(read_session(full.path).trials) == 2
    assert not journal_path(full.path).exists()


@pytest.fixture
def no_journal(stepped, monkeypatch):
    """A disk that is full from now on."""
    kept = stepped.recorder._journal._journal._file
    monkeypatch.setattr(stepped.recorder._journal._journal, "_file", FullFile(kept))
    return stepped


class FullFile:
    """An open file on a full disk."""

    def __init__(self, file):
        self._file = file

    def write(self, _):
        raise OSError(errno.ENOSPC, "No space left on device")

    def __getattr__(self, name):
        return getattr(self._file, name)


def test_where_neither_file_nor_journal_can_be_written_the_session_is_kept_elsewhere(no_journal, monkeypatch):
    stepped = no_journal
    elsewhere = stepped.path.parent / "tmp"
    elsewhere.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(elsewhere))
    stepped.path.mkdir()
    stepped.trial()
    with pytest.raises(ArchiveError, match=r"the whole session is in .*tmp/ramphold-\w+\.h5: make room, then move it"):
        stepped.session.close()
    (rescued,) = elsewhere.iterdir()
    assert len(read_session(rescued).trials) == 1


def test_file_that_another_program_changed_is_left_alone(stepped):
    stepped.trial()
    other = b"what another program has to say"
    stepped.path.write_bytes(other)
    stepped.trial()
    (changed,) = troubles(stepped, TroubleSource.CHANGED)
    assert "was changed by another program and stays as it is; the session goes into" in str(changed)
    stepped.session.close()
    assert stepped.path.read_bytes() == other
    assert len(read_session(stepped.path.with_name("session-2.h5")).trials) == 2
    assert sorted(each.name for each in stepped.path.parent.iterdir()) == ["session-2.h5", "session.h5"]


def test_removed_folder_costs_no_trial(tmp_path):
    (tmp_path / "away").mkdir()
    stepped = Stepped(tmp_path / "away")
    stepped.trial()
    shutil.rmtree(tmp_path / "away")
    stepped.trial()
    stepped.session.close()
    assert len(read_session(stepped.path).trials) == 2


def test_close_in_mid_trial_without_room_loses_nothing(stepped):
    stepped.session.press()
    stepped.until(lambda: stepped.cue is Cue.GO)
    stepped.ramp(200.0)
    stepped.path.mkdir()
    with pytest.raises(ArchiveError, match="cannot be written"):
        stepped.session.close()
    stepped.path.rmdir()
    _, missing = recover_store(stepped.path, stepped.protocol)
    assert missing == 1


# contacts


def noticed(stepped):
    return [h for h in stepped.happened if isinstance(h, ContactNoticed)]


def knock(stepped, newtons, seconds):
    """Press the pad and let go, within the seconds."""
    stepped.ramp(newtons, seconds / 3)
    stepped.go(seconds / 3, newtons)
    stepped.ramp(0.0, STEP_S)


def contacts_in_file(stepped):
    return [(contact.verdict, contact.is_aside) for contact in read_session(stepped.path).contacts]


def test_contact_at_the_word_to_go_is_told_kept_and_the_word_stands(stepped):
    begin(stepped)
    knock(stepped, 22.0, 0.6)
    assert stepped.cue is Cue.GO
    stepped.go(2.0)  # it is told when it has been cut
    assert [round(each.peak_n) for each in noticed(stepped)] == [22]
    assert (stepped.cue, stepped.session.contact_n is not None) == (Cue.GO, True)
    stepped.trial()
    assert (verdicts(stepped.engine), aside(stepped), len(noticed(stepped))) == (["accepted"], [None], 1)
    assert contacts_in_file(stepped) == [(None, False)]
    assert stepped.session.contact_n is None
    assert verdicts(gone_on_with(stepped)) == ["accepted"]


def test_short_push_of_full_strength_is_a_trial_and_no_contact(stepped):
    begin(stepped)
    stepped.push(200.0, hold_s=0.5)
    stepped.until(lambda: stepped.stored)
    assert (verdicts(stepped.engine), noticed(stepped)) == (["rejected"], [])


@pytest.mark.parametrize(("newtons", "is_contact"), [(90.0, True), (110.0, False)])
def test_what_is_small_is_told_by_what_the_same_limb_gave_before(stepped, newtons, is_contact):
    stepped.trial(200.0)
    stepped.until(lambda: stepped.cue is Cue.GO)
    knock(stepped, newtons, 0.9)
    stepped.go(3.0)
    assert (len(noticed(stepped)), len(stepped.stored)) == ((1, 1) if is_contact else (0, 2))


def test_what_the_other_side_gave_says_nothing_of_this_one(tmp_path):
    stepped = Stepped(tmp_path, RIGHT, LEFT)
    stepped.trial(200.0)
    stepped.until(lambda: stepped.cue is Cue.PLACE)
    assert stepped.engine.item.context == LEFT
    stepped.session.press()
    stepped.until(lambda: stepped.cue is Cue.GO)
    knock(stepped, 90.0, 0.9)
    stepped.go(3.0)
    stepped.session.close()
    assert (noticed(stepped), len(stepped.stored)) == ([], 2)


def test_contact_in_a_rest_is_kept_and_no_trial(stepped):
    stepped.trial(200.0)
    assert stepped.cue is Cue.REST
    knock(stepped, 30.0, 0.6)
    stepped.go(3.0)
    assert (aside(stepped), contacts_in_file(stepped)) == ([None], [(None, False)])
    assert stepped.cue is Cue.REST


def test_contacts_of_a_crash_are_recovered_once_as_what_they_were(stepped, tmp_path):
    stepped.trial(200.0)
    knock(stepped, 30.0, 0.6)
    stepped.go(3.0)
    stepped.recorder._journal.sync()
    saved = read_session(stepped.path)
    for kept in (saved, replace(saved, contacts=())):
        crashed = tmp_path / f"crashed-{len(kept.contacts)}.h5"
        write_session(crashed, kept)
        copyfile(journal_path(stepped.path), journal_path(crashed))
        store, number = recover_store(crashed, stepped.protocol)
        assert (number, len(store.session.trials), len(store.session.contacts)) == (0, 1, 1)
        assert len(read_session(crashed).contacts) == 1


# what the program cut off


def hands_free(tmp_path):
    stepped = Stepped(tmp_path)
    stepped.engine = Engine((LEFT,), stepped.protocol, hands_free=True)
    stepped.session.engine = stepped.engine
    return stepped


@pytest.mark.parametrize(("held", "reason"), [(1.0, TrialEnd.STOPPED), (4.0, None)])
def test_recording_stopped_in_mid_effort_accuses_nobody(tmp_path, held, reason):
    stepped = hands_free(tmp_path)
    stepped.ramp(200.0)
    stepped.go(held, 200.0)
    stepped.session.close()
    assert aside(stepped) == [reason]
    (trial,) = read_session(stepped.path).trials
    assert trial.broken_off is TrialEnd.STOPPED
    assert (trial.verdict["verdict"] == "accepted") is (reason is None)


@pytest.mark.parametrize(("held", "reason"), [(1.0, TrialEnd.CRASHED), (4.0, None)])
def test_effort_that_a_crash_cut_off_is_set_aside_when_recovered(stepped, tmp_path, held, reason):
    begin(stepped)
    stepped.ramp(200.0)
    stepped.go(held, 200.0)
    stepped.recorder._journal.sync()
    crashed = tmp_path / "crashed.h5"
    copyfile(journal_path(stepped.path), journal_path(crashed))
    store, number = recover_store(crashed, stepped.protocol)
    (trial,) = store.session.trials
    assert number == 1
    assert (trial.set_aside[-1].reason if trial.is_aside else None) == reason
