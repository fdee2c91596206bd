"""Files by name or by path: parsed once, and anew when they were edited."""

from importlib import resources

import pytest

from acquire.errors import ArchiveError
from acquire.files.named_file import read_named

FOLDER = resources.files("acquire") / "data" / "disturbances"
CALLS = []


def reader(path):
    CALLS.append(str(path))
    return path.read_text(encoding="utf-8")


def other_reader(path):
    return len(path.read_text(encoding="utf-8"))


def load(name, read=reader):
    return read_named(str(name), read, folder=FOLDER, kind="disturbance", error=ArchiveError)


@pytest.fixture(autouse=True)
def _no_calls():
    CALLS.clear()


def test_unchanged_file_is_parsed_once(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("a = 1\n", encoding="utf-8")
    assert [load(path) for _ in range(3)] == ["a = 1\n"] * 3
    assert [str(path)] == CALLS


def test_edited_file_is_read_again_though_size_and_time_are_the_same(tmp_path):
    path = tmp_path / "mine.toml"
    for text in ("a = 1\n", "a = 2\n", "a = 1\n"):
        path.write_text(text, encoding="utf-8")
        assert load(path) == text
    assert len(CALLS) == 3


def test_deleted_file_is_refused_after_it_was_read(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("a = 1\n", encoding="utf-8")
    load(path)
    path.unlink()
    with pytest.raises(ArchiveError, match=r"there is no disturbance called .* comes with: bad-bluetooth"):
        load(path)


def test_two_readers_of_one_file_do_not_mix(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("a = 1\n", encoding="utf-8")
    assert (load(path), load(path, other_reader), load(path)) == ("a = 1\n", 6, "a = 1\n")


def test_failed_reading_is_tried_again(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"\xff\xfe")
    for _ in range(2):
        with pytest.raises(UnicodeDecodeError):
            load(path)
    assert len(CALLS) == 2


def test_shipped_file_is_found_by_its_name():
    assert load("bad-bluetooth") == (FOLDER / "bad-bluetooth.toml").read_text(encoding="utf-8")
