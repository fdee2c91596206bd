"""A session whose file cannot be written: nothing is lost, and what was pushed is saved when there is room."""

import errno
import shutil
import tempfile

import pytest
from stepped import Stepped
from told import troubles

from acquire.errors import ArchiveError
from acquire.storage.session_file import read_session
from ui.session.crash import journal_path, recover_store
from ui.session.cues import Cue
from ui.session.events import TroubleSource
from ui.session.saving import SAVE_AGAIN_S


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
