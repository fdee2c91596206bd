"""A file is put in place whole or not at all, with nothing left beside it."""

import os
import stat

import pytest

from acquire.files.atomic import replace_file


def test_new_content_takes_the_place_of_the_old(tmp_path):
    path = tmp_path / "a.txt"
    for content in (b"first", b"second"):
        replace_file(path, lambda aside, content=content: aside.write_bytes(content))
        assert path.read_bytes() == content
    assert [each.name for each in tmp_path.iterdir()] == ["a.txt"]


def test_it_is_written_aside_in_the_same_folder_as_a_hidden_part(tmp_path):
    seen = []

    def write(aside):
        seen.append(aside)
        assert not aside.exists()
        aside.write_bytes(b"")

    replace_file(tmp_path / "a.txt", write)
    (aside,) = seen
    assert aside.parent == tmp_path.resolve()
    assert aside.name.startswith(".a.txt.")
    assert aside.suffix == ".part"
    assert len(aside.suffixes[1][1:]) == 8  # four random bytes, so that two programs do not meet


@pytest.mark.parametrize("wrong", [OSError("disk full"), KeyboardInterrupt()])
def test_what_fails_half_way_leaves_the_old_file_and_nothing_else(tmp_path, wrong):
    path = tmp_path / "a.txt"
    path.write_bytes(b"old")

    def write(aside):
        aside.write_bytes(b"ne")
        raise wrong

    with pytest.raises(type(wrong)):
        replace_file(path, write)
    assert path.read_bytes() == b"old"
    assert [each.name for each in tmp_path.iterdir()] == ["a.txt"]


def test_writer_that_writes_nothing_is_an_error_and_leaves_the_old(tmp_path):
    path = tmp_path / "a.txt"
    path.write_bytes(b"old")
    with pytest.raises(FileNotFoundError):
        replace_file(path, lambda aside: None)  # noqa: ARG005
    assert path.read_bytes() == b"old"


def test_permission_bits_and_links_are_kept(tmp_path):
    path, link = tmp_path / "a.txt", tmp_path / "link.txt"
    path.write_bytes(b"old")
    path.chmod(0o640)
    link.symlink_to(path)
    replace_file(link, lambda aside: aside.write_bytes(b"new"))
    assert link.is_symlink()
    assert path.read_bytes() == b"new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_file_and_folder_are_synced_in_this_order(tmp_path, monkeypatch):
    synced = []
    real = os.fsync

    def fsync(handle):
        synced.append(stat.S_ISDIR(os.fstat(handle).st_mode))
        real(handle)

    monkeypatch.setattr(os, "fsync", fsync)
    replace_file(tmp_path / "a.txt", lambda aside: aside.write_bytes(b"x"))
    assert synced == [False, True]
