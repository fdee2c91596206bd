"""On a disk that takes no more, each command says so in one sentence and leaves nothing half written.

The limit of file sizes of the operating system stands for the full disk: a write beyond it fails in the same way, in
HDF5, SQLite and the drawing libraries too.
"""

import contextlib
import resource

import pytest

from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from analysis.trial.protocol import load_protocol
from ui.model.audit.work import STORE, audit_archive

ROOM = 2000
"""Bytes: less than any of what is written here."""


@contextlib.contextmanager
def full_disk(room=ROOM):
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def listing(folder):
    return {path: path.stat().st_size for path in sorted(folder.rglob("*"))}


def said(result):
    assert (result.code, result.out) == (1, "")
    assert "Traceback" not in result.err
    return result.err.splitlines()[-1]


@pytest.mark.parametrize("out", ["new/one", "there"])
@pytest.mark.parametrize("to", ["csv", "json", "fhir"])
def test_export_is_whole_or_absent(ramphold, session_file, tmp_path, to, out):
    (tmp_path / "there").mkdir()
    before = listing(tmp_path)
    with full_disk():
        sentence = said(ramphold("export", session_file, "--out", tmp_path / out, "--to", to))
    assert "cannot be written: File too large" in sentence
    left = listing(tmp_path)
    assert {path for path in left if path.is_file()} == {path for path in before if path.is_file()}
    assert not (tmp_path / "new" / "one").exists()


def test_export_of_tables_without_room_for_the_traces_leaves_no_table(ramphold, session_file, tmp_path):
    with full_disk(40_000):
        sentence = said(ramphold("export", session_file, "--out", tmp_path / "out", "--to", "csv"))
    assert "cannot be written" in sentence
    assert not (tmp_path / "out").exists()


def test_report_is_whole_or_absent(ramphold, session_file, tmp_path):
    before = listing(tmp_path)
    with full_disk(20_000):
        sentence = said(ramphold("report", session_file))
    assert "the report cannot be written: File too large" in sentence
    assert listing(tmp_path) == before


@pytest.fixture(scope="module")
def archive(tmp_path_factory):
    folder = tmp_path_factory.mktemp("archive")
    examiners = (Examiner(code="EX-1"), Examiner(code="EX-2"))
    write_archive(folder, ArchivePlan(examiners=examiners, sessions_each=2, trials_each=3, rate_hz=100.0), seed=7)
    audit_archive(folder, load_protocol(), mapper=map)
    return folder


@pytest.fixture
def audited(archive, monkeypatch):
    """An archive whose audit is there: the index has room."""
    audit = audit_archive(archive, load_protocol(), mapper=map)
    monkeypatch.setattr("ui.commands.audit.audit_archive", lambda *_, **__: audit)
    return archive


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (("--csv", "{}/out"), "the tables cannot be written"),
        (("--pdf", "{}/out/audit.pdf"), "the pages cannot be written"),
        (("--coach", "EX-1", "--sheet", "{}/out/sheet.pdf"), "the pages cannot be written"),
    ],
    ids=["tables", "pages", "sheet"],
)
def test_audit_says_what_cannot_be_written(ramphold, audited, tmp_path, options, sentence):
    (tmp_path / "out").mkdir()
    with full_disk(500):
        result = ramphold("audit", audited, *(each.format(tmp_path) for each in options))
    assert (result.code, result.err.count("Traceback")) == (1, 0)
    assert sentence in result.err.splitlines()[-1]
    assert list((tmp_path / "out").iterdir()) == []


def test_index_that_is_full_in_mid_run_goes_on_where_it_was(ramphold, archive, tmp_path):
    index = tmp_path / "index"
    with full_disk(20_000):
        result = ramphold("audit", archive, "--processes", "1", "--store", index)
    assert result.code == 1
    assert "--store" in result.err
    assert "delete" not in result.err
    again = ramphold("audit", archive, "--processes", "1", "--store", index, "--json")
    assert (again.code, again.json["sessions"]) == (0, 4)
    assert (archive / STORE).exists()
