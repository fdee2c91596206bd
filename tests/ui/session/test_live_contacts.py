"""What is no trial: contacts of a session, and efforts that the program cut off."""

from dataclasses import replace
from shutil import copyfile

import pytest
from stepped import LEFT, RIGHT, STEP_S, Stepped
from told import aside, begin, gone_on_with, verdicts

from acquire.storage.session_file import read_session, write_session
from acquire.values.remarks import TrialEnd
from ui.session.crash import journal_path, recover_store
from ui.session.cues import Cue
from ui.session.engine import Engine
from ui.session.events import ContactNoticed


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
