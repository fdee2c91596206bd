"""Results kept beside an archive: found again, forgotten, never taken for another file's."""

import contextlib
import sqlite3

import pytest

from acquire.errors import ArchiveError
from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from acquire.storage.measured_store import RECIPES_KEPT, MeasuredStore, fingerprint


@pytest.fixture
def store(tmp_path):
    with MeasuredStore(tmp_path / "kept.sqlite") as opened:
        yield opened


def test_results_come_back_in_the_order_of_files(store):
    store.put([("b.h5", "2", b"two"), ("a.h5", "1", b"one")], "recipe")
    assert list(store.results("recipe")) == [("a.h5", b"one"), ("b.h5", b"two")]
    assert store.fingerprints("recipe") == {"a.h5": "1", "b.h5": "2"}


def test_another_recipe_knows_nothing(store):
    store.put([("a.h5", "1", b"one")], "recipe")
    assert store.fingerprints("other") == {}
    assert list(store.results("other")) == []


def test_results_by_two_recipes_stand_beside_one_another(store):
    store.put([("a.h5", "1", b"one")], "recipe")
    store.put([("a.h5", "1", b"uno")], "other")
    assert list(store.results("recipe")) == [("a.h5", b"one")]
    assert list(store.results("other")) == [("a.h5", b"uno")]


def test_only_the_recipes_used_last_are_kept(store):
    for number in range(RECIPES_KEPT):
        store.use(str(number))
        store.put([("a.h5", "1", b"one")], str(number))
    store.use("0")
    store.use("new")
    assert {str(number): len(store.fingerprints(str(number))) for number in range(RECIPES_KEPT)} == {
        "0": 1,
        "1": 0,
        "2": 1,
        "3": 1,
    }


def test_second_result_of_a_file_takes_the_place_of_the_first(store):
    store.put([("a.h5", "1", b"one")], "recipe")
    store.put([("a.h5", "2", b"two")], "recipe")
    assert list(store.results("recipe")) == [("a.h5", b"two")]


def test_forgotten_files_are_gone(store):
    store.put([("a.h5", "1", b"one"), ("b.h5", "2", b"two")], "recipe")
    store.put([("a.h5", "1", b"uno")], "other")
    assert store.files() == {"a.h5", "b.h5"}
    store.forget(["a.h5", "never there"])
    assert list(store.results("recipe")) == [("b.h5", b"two")]
    assert store.files() == {"b.h5"}


def test_results_are_there_after_the_store_was_closed(tmp_path):
    for _ in range(2):
        with MeasuredStore(tmp_path / "kept.sqlite") as opened:
            opened.put([("a.h5", "1", b"one")], "recipe")
    with MeasuredStore(tmp_path / "kept.sqlite") as opened:
        assert list(opened.results("recipe")) == [("a.h5", b"one")]


@pytest.mark.parametrize(
    "content", [b"not a database at all, but text that is long enough", b"SQLite format 3\x00" * 90]
)
def test_something_else_is_refused_with_what_to_do(tmp_path, content):
    path = tmp_path / "kept.sqlite"
    path.write_bytes(content)
    with pytest.raises(ArchiveError, match=r"cannot be used to keep results .*, or keep .* with --store"):
        MeasuredStore(path)
    assert path.read_bytes() == content


def test_folder_that_cannot_be_written_to_is_told(tmp_path):
    with pytest.raises(ArchiveError, match="cannot be used to keep results"):
        MeasuredStore(tmp_path / "none" / "kept.sqlite")


@contextlib.contextmanager
def another_audit(path):
    """A program that is in the midst of writing."""
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        yield


RUNNING = r"kept\.sqlite: another audit is running and keeps its results there: wait until it has ended"


def test_store_that_another_audit_writes_to_is_never_to_be_deleted(tmp_path):
    path = tmp_path / "kept.sqlite"
    MeasuredStore(path).close()
    with another_audit(path), pytest.raises(ArchiveError, match=RUNNING) as caught:
        MeasuredStore(path, wait_s=0.0)
    assert "delete" not in str(caught.value)


@pytest.mark.parametrize(
    "act",
    [
        lambda store: store.use("recipe"),
        lambda store: store.fingerprints("recipe"),
        lambda store: store.files(),
        lambda store: store.put([("a.h5", "1", b"one")], "recipe"),
        lambda store: store.forget(["a.h5"]),
        lambda store: list(store.results("recipe")),
    ],
    ids=["use", "fingerprints", "files", "put", "forget", "results"],
)
def test_whatever_another_audit_stops_is_told_in_one_sentence(tmp_path, act):
    path = tmp_path / "kept.sqlite"
    with MeasuredStore(path, wait_s=0.0) as store:
        with another_audit(path), pytest.raises(ArchiveError, match=RUNNING):
            act(store)
        act(store)


def test_store_that_is_full_says_what_to_do(tmp_path):
    with MeasuredStore(tmp_path / "kept.sqlite") as store:
        store._base.execute("PRAGMA max_page_count = 5")
        with pytest.raises(ArchiveError, match=r"the disk is full, and results cannot be kept: make room .* --store"):
            store.put([(f"{number}.h5", "1", bytes(4000)) for number in range(50)], "recipe")
        assert list(store.results("recipe")) == []


def test_store_damaged_while_it_is_open_says_what_to_do(tmp_path):
    path = tmp_path / "kept.sqlite"
    with MeasuredStore(path) as store:
        store.put([("a.h5", "1", b"one")], "recipe")
        path.write_bytes(b"x" * path.stat().st_size)
        with pytest.raises(ArchiveError, match=r"cannot be used to keep results .*, or keep .* with --store"):
            store.put([("b.h5", "1", b"two")], "recipe")


def test_store_of_the_first_version_is_taken_over(tmp_path):
    path = tmp_path / "kept.sqlite"
    with contextlib.closing(sqlite3.connect(path)) as old, old:
        old.execute(
            "CREATE TABLE measured (file TEXT PRIMARY KEY, fingerprint TEXT NOT NULL, recipe TEXT NOT NULL,"
            " result BLOB NOT NULL) WITHOUT ROWID"
        )
        old.execute("INSERT INTO measured VALUES ('a.h5', '1', 'old program', x'00')")
    with MeasuredStore(path) as store:
        assert store.files() == set()
        store.put([("a.h5", "1", b"one")], "recipe")
        assert list(store.results("recipe")) == [("a.h5", b"one")]


def test_database_of_another_program_is_refused_and_stays_as_it_is(tmp_path):
    path = tmp_path / "kept.sqlite"
    with contextlib.closing(sqlite3.connect(path)) as old, old:
        old.execute("CREATE TABLE measured (what TEXT)")
        old.execute("INSERT INTO measured VALUES ('mine')")
    with pytest.raises(ArchiveError, match=r"keep results \(its tables are of another program\): audit again, or keep"):
        MeasuredStore(path)
    with contextlib.closing(sqlite3.connect(path)) as old:
        assert old.execute("SELECT what FROM measured").fetchall() == [("mine",)]
        assert old.execute("SELECT name FROM sqlite_master").fetchall() == [("measured",)]


def test_fingerprint_changes_with_one_sample(tmp_path):
    plan = ArchivePlan(examiners=(Examiner(code="EX-1"),), sessions_each=1, trials_each=1, rate_hz=50.0)
    for name, seed in (("one", 1), ("same", 1), ("other", 2)):
        write_archive(tmp_path / name, plan, seed=seed)
    one, same, other = (fingerprint(tmp_path / name / "EX-1" / "00000.h5") for name in ("one", "same", "other"))
    assert one == same != other


def test_fingerprint_of_what_cannot_be_read_says_so(tmp_path):
    assert fingerprint(tmp_path / "none.h5").startswith("unreadable: No such file")
    (tmp_path / "short.h5").write_bytes(b"x")
    assert fingerprint(tmp_path / "short.h5") == "1 "
