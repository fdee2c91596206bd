"""What a killed recording left is put into the session file: no trial is lost, none kept twice."""

import numpy as np
import pytest
from journals import PERSON, PROTOCOL, SESSION, chunks, header, measured, profile, recorded

from acquire.errors import ArchiveError
from acquire.links import ReplayLink
from acquire.storage.journal import JournalWriter
from acquire.storage.session_file import read_session
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import (
    Recorder,
)
from ui.session.crash import journal_path, put_empty_aside, recover_store
from ui.session.events import Verdict
from ui.session.recording import every_effort
from ui.session.store import open_store


def test_followed_recording_leaves_no_journal(tmp_path):
    sensor, path = profile("packets-1k"), tmp_path / "s.h5"
    arrived = chunks(sensor, measured(sensor, PERSON, PERSON))
    store = open_store(path, SESSION, PROTOCOL, resume=False)
    recorder = Recorder(
        ReplayLink(arrived, speed=float("inf")),
        Pipeline(sensor, sensor.nominal_calibration()),
        journal=JournalWriter(journal_path(path), header(sensor)),
    )
    judged = [event for event in every_effort(recorder, store) if isinstance(event, Verdict)]
    assert len(judged) == len(read_session(path).trials) == 2
    assert recover_store(path, PROTOCOL) is None
    assert [file.name for file in tmp_path.iterdir()] == ["s.h5"]


@pytest.mark.parametrize("saved", [0, 1, 2, 3])
def test_trials_that_were_saved_are_not_saved_again(tmp_path, saved):
    """As when the program ended, or recovery itself was broken off, with some of the trials in the file."""
    sensor, path = profile("packets-1k"), tmp_path / "s.h5"
    arrived = chunks(sensor, measured(sensor, PERSON, PERSON, PERSON))
    live = recorded(journal_path(path), sensor, ReplayLink(arrived, speed=float("inf")))
    store = open_store(path, SESSION, PROTOCOL, resume=False)
    for trial in live[:saved]:
        store.add(trial)
    recovered, missing = recover_store(path, PROTOCOL)
    assert missing == 3 - saved
    trials = read_session(path).trials
    assert all(np.array_equal(one.counts, other.counts) for one, other in zip(trials, live, strict=True))
    assert all(trial.verdict["verdict"] for trial in trials)
    assert len(recovered.session.trials) == 3
    assert recover_store(path, PROTOCOL) is None


def test_journal_that_holds_nothing_is_put_aside(tmp_path):
    path = tmp_path / "s.h5"
    JournalWriter(journal_path(path), header(profile("packets-1k"))).close()
    journal_path(path).write_bytes(journal_path(path).read_bytes()[:25])
    assert put_empty_aside(path) == [tmp_path / "s.h5.journal.empty"]
    assert [file.name for file in tmp_path.iterdir()] == ["s.h5.journal.empty"]
    assert recover_store(path, PROTOCOL) is None
    assert put_empty_aside(path) == []


def test_journal_that_cannot_be_read_is_told_with_what_to_do(tmp_path):
    path = tmp_path / "s.h5"
    journal_path(path).write_bytes(b"my notes of the day, which are no journal\n")
    assert put_empty_aside(path) == []
    with pytest.raises(ArchiveError, match=r"s\.h5\.journal: is not a journal; move it away to begin anew, or choose"):
        recover_store(path, PROTOCOL)


def test_journal_without_a_trial_makes_no_file(tmp_path):
    sensor, path = profile("packets-1k"), tmp_path / "s.h5"
    rest = np.zeros(3000, dtype=np.int32)
    recorded(journal_path(path), sensor, ReplayLink(chunks(sensor, rest), speed=float("inf")))
    store, missing = recover_store(path, PROTOCOL)
    assert (missing, store.session.trials) == (0, ())
    assert list(tmp_path.iterdir()) == []


def test_journal_that_is_being_written_is_not_recovered(tmp_path):
    sensor, path = profile("packets-1k"), tmp_path / "s.h5"
    with JournalWriter(journal_path(path), header(sensor)):
        before = journal_path(path).read_bytes()
        with pytest.raises(ArchiveError, match=r"s\.h5\.journal: another program is recording into it right now; end"):
            recover_store(path, PROTOCOL)
        assert journal_path(path).read_bytes() == before
        assert not path.exists()
    assert recover_store(path, PROTOCOL) is not None
    assert list(tmp_path.iterdir()) == []
