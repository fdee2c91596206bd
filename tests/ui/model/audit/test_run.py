"""An audit in a thread: how far it is, that it stops where it is told to, and that nothing measured is lost."""

import os
import shutil
from pathlib import Path

import pytest

from acquire.errors import ArchiveError
from acquire.storage.measured_store import MeasuredStore
from analysis.audit.recipe import recipe_of
from analysis.trial.protocol import load_protocol
from ui.model.audit.run import AuditRun, AuditStoppedError, Progress, store_for
from ui.model.audit.work import STORE
from ui.model.plan.remembered import AuditChoice


@pytest.fixture
def fresh(archive, tmp_path):
    """A copy of the archive with nothing measured."""
    return Path(shutil.copytree(archive, tmp_path / "fresh", ignore=shutil.ignore_patterns(f"{STORE}*")))


def kept(folder):
    with MeasuredStore(folder / STORE) as store:
        return len(store.fingerprints(recipe_of(load_protocol())))


def test_stopped_run_keeps_what_was_measured_and_the_next_goes_on(fresh):
    batches = []

    def one_then_stop(work, todo):
        for batch in todo:
            batches.append(batch)
            yield work(batch)
            run.stop()

    run = AuditRun(AuditChoice(folder=str(fresh)), mapper=one_then_stop)
    # the second batch is measured and kept before it ends
    with pytest.raises(AuditStoppedError):
        run()
    assert run.stopping
    assert kept(fresh) == sum(len(batch) for batch in batches) == 16
    todo = []

    def count(work, batches):
        for batch in batches:
            todo.extend(batch)
            yield work(batch)

    audit = AuditRun(AuditChoice(folder=str(fresh)), mapper=count)()
    assert len(todo) == 35 - 16
    assert audit.files == 34


def test_progress_tells_the_time_left(archive):
    now = iter([0.0, 0.0, 4.0])
    run = AuditRun(AuditChoice(folder=str(archive)), clock=lambda: next(now))
    assert run.progress is None
    run._tell(10, 40)
    assert run.progress == Progress(10, 40, None)
    run._tell(20, 40)
    assert run.progress == Progress(20, 40, 8.0)
    assert not run.progress.measured


def test_run_that_is_done_has_measured_all(archive):
    run = AuditRun(AuditChoice(folder=str(archive)), mapper=map)
    assert run().files == 34
    assert run.progress.measured


def test_folder_that_is_gone_is_told(tmp_path):
    with pytest.raises(ArchiveError, match="there is no such folder"):
        AuditRun(AuditChoice(folder=str(tmp_path / "gone")), mapper=map)()


def test_results_are_kept_beside_the_sessions(tmp_path):
    assert store_for(tmp_path, tmp_path / "state") is None
    assert not (tmp_path / "state").exists()


def test_results_of_an_archive_that_cannot_be_written_are_kept_with_the_user(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "access", lambda *_: False)
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    one, other = store_for(tmp_path / "a", tmp_path / "state"), store_for(tmp_path / "b", tmp_path / "state")
    assert one.parent == tmp_path / "state" / "audits"
    assert one.parent.is_dir()
    assert one != other
    assert one == store_for(tmp_path / "a", tmp_path / "state")


def test_nowhere_to_keep_results_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "access", lambda *_: False)
    (tmp_path / "state").write_text("a file")
    with pytest.raises(ArchiveError, match="cannot be made to keep results in"):
        store_for(tmp_path, tmp_path / "state")
