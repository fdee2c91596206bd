"""Results kept beside an archive: found again, forgotten, never taken for another file's."""

import pytest

from acquire.errors import ArchiveError
from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from acquire.storage.measured_store import MeasuredStore, fingerprint


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


def test_second_result_of_a_file_takes_the_place_of_the_first(store):
    store.put([("a.h5", "1", b"one")], "recipe")
    store.put([("a.h5", "2", b"two")], "recipe")
    assert list(store.results("recipe")) == [("a.h5", b"two")]


def test_forgotten_files_are_gone(store):
    store.put([("a.h5", "1", b"one"), ("b.h5", "2", b"two")], "recipe")
    store.forget(["a.h5", "never there"])
    assert list(store.results("recipe")) == [("b.h5", b"two")]


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
    with pytest.raises(ArchiveError, match=r"cannot be used to keep results .*: delete it, or name another file"):
        MeasuredStore(path)
    assert path.read_bytes() == content


def test_folder_that_cannot_be_written_to_is_told(tmp_path):
    with pytest.raises(ArchiveError, match="cannot be used to keep results"):
        MeasuredStore(tmp_path / "none" / "kept.sqlite")


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
