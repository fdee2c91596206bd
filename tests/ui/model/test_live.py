"""A session as the window drives it: what is saved, what counts, and what is told."""

from contextlib import suppress

import pytest
from stepped import Stepped

from acquire.archive.session_file import read_session
from acquire.errors import ArchiveError
from ui.model.cues import Cue
from ui.model.live import SAVE_AGAIN_S, Ailing, Trouble
from ui.recording import journal_path, recover_store


@pytest.fixture
def stepped(tmp_path):
    made = Stepped(tmp_path)
    yield made
    with suppress(ArchiveError):
        made.session.close()


def troubles(stepped, of):
    return [h.error for h in stepped.happened if isinstance(h, Trouble) and h.of is of]


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


def test_trial_that_cannot_be_saved_is_told_and_the_battery_goes_on(full):
    (error,) = troubles(full, Ailing.FILE)
    assert "cannot be written" in str(error)
    assert (full.cue, len(full.runner.item.results), full.session.settled) == (Cue.REST, 2, True)
    full.until(lambda: full.cue is Cue.GO)


def test_saving_is_tried_again_until_there_is_room(full):
    full.go(2 * SAVE_AGAIN_S)
    assert all(troubles(full, Ailing.FILE))
    make_room(full)
    full.go(SAVE_AGAIN_S + 0.1)
    assert troubles(full, Ailing.FILE)[-1] is None
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
