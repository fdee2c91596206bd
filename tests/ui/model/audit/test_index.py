"""The index of an audit only saves time: damaged, it is made anew; what the user has named is never removed."""

import contextlib
import shutil
import sqlite3
from pathlib import Path

import pytest

from acquire.errors import ArchiveError
from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from analysis.trial.protocol import load_protocol
from ui.model.audit.work import STORE, audit_archive

PLAN = ArchivePlan(examiners=(Examiner(code="EX-1"),), sessions_each=3, trials_each=2, rate_hz=100.0)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("made")
    write_archive(folder, PLAN, seed=7)
    facts(folder)
    return folder


@pytest.fixture
def archive(made, tmp_path):
    return Path(shutil.copytree(made, tmp_path / "archive"))


def facts(folder):
    audit = audit_archive(folder, load_protocol(), mapper=map)
    return audit.files, audit.unreadable, audit.table.plateau_n.tolist()


def garbled(path, where):
    content = path.read_bytes()
    path.write_bytes(content[:where] + bytes([255]) * 3000 + content[where + 3000 :])


def changed(path, what):
    with contextlib.closing(sqlite3.connect(path)) as base, base:
        base.execute(f"UPDATE measured SET {what} WHERE file = (SELECT min(file) FROM measured)")


@pytest.mark.parametrize(
    "damage",
    [
        lambda path: garbled(path, 0),
        lambda path: garbled(path, 4200),
        lambda path: changed(path, "result = x'7b22ff'"),
        lambda path: changed(path, "fingerprint = cast(x'ff' AS TEXT)"),
    ],
    ids=["head", "second page", "result", "text"],
)
def test_damaged_index_is_made_anew(made, archive, capsys, damage):
    damage(archive / STORE)
    assert facts(archive) == facts(made)
    assert f"{archive / STORE}: is damaged and is made anew; it only saves time" in capsys.readouterr().err


def test_damaged_file_that_the_user_named_is_left_alone(archive, tmp_path):
    notes = tmp_path / "notes"
    notes.write_bytes(b"no index of an audit, whatever its name says")
    with pytest.raises(ArchiveError, match="or keep the results in another file with --store"):
        audit_archive(archive, load_protocol(), mapper=map, store=notes)
    assert notes.read_bytes().startswith(b"no index")
