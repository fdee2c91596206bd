"""A file is put in place whole or not at all, with nothing left beside it."""

import os
import stat

import pytest

from acquire.files.atomic import clear_left_behind, replace_file, replace_together


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


def test_replaced_file_keeps_its_permission_bits(tmp_path):
    path = tmp_path / "f"
    path.write_text("old")
    for bits in (0o640, 0o400):
        path.chmod(bits)
        replace_file(path, lambda aside, bits=bits: aside.write_text(oct(bits)))
        assert (path.read_text(), stat.S_IMODE(path.stat().st_mode)) == (oct(bits), bits)


def test_new_file_is_for_its_owner_alone(tmp_path):
    replace_file(tmp_path / "f", lambda aside: aside.write_text("new"))
    assert stat.S_IMODE((tmp_path / "f").stat().st_mode) == 0o600


def test_pipe_and_folder_are_left_as_they_are(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    for name, why in {"pipe": "is no ordinary file", "folder": "Is a directory"}.items():
        with pytest.raises(OSError, match=why):
            replace_file(tmp_path / name, lambda aside: aside.write_text("new"))
    assert stat.S_ISFIFO((tmp_path / "pipe").stat().st_mode)
    assert sorted(each.name for each in tmp_path.iterdir()) == ["folder", "pipe"]


def test_of_files_that_belong_together_none_is_new_where_one_fails(tmp_path):
    def fail(aside):
        aside.write_text("ha")
        raise OSError(28, "No space left on device")

    (tmp_path / "a").write_text("old")
    with pytest.raises(OSError, match="No space left"):
        replace_together([(tmp_path / "a", lambda aside: aside.write_text("new")), (tmp_path / "b", fail)])
    assert [(each.name, each.read_text()) for each in tmp_path.iterdir()] == [("a", "old")]
    both = [(tmp_path / name, lambda aside: aside.write_text("new")) for name in "ab"]
    replace_together(both)
    assert sorted((each.name, each.read_text()) for each in tmp_path.iterdir()) == [("a", "new"), ("b", "new")]


def test_only_old_parts_of_the_same_file_are_cleared(tmp_path):
    old, young = tmp_path / ".a.h5.00000000.part", tmp_path / ".a.h5.00000001.part"
    others = [tmp_path / name for name in (".b.h5.00000000.part", ".a.h5.part", "a.h5", ".a.h5.0000000g.part")]
    for path in (old, young, *others):
        path.touch()
    for path in (old, *others):
        os.utime(path, (1.0, 1.0))
    assert clear_left_behind(tmp_path / "a.h5") == [old]
    assert clear_left_behind(tmp_path / "a.h5", older_than_s=0.0) == [young]
    assert sorted(tmp_path.iterdir()) == sorted(others)
    assert clear_left_behind(tmp_path) == [tmp_path / ".b.h5.00000000.part"]
    assert clear_left_behind(tmp_path / "none" / "a.h5") == []


def test_link_stays_a_link_to_the_new_content(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "f").write_text("old")
    (tmp_path / "link").symlink_to("real/f")
    replace_file(tmp_path / "link", lambda aside: aside.write_text("new"))
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real" / "f").read_text() == "new"


def test_content_is_synced_before_the_rename_and_the_folder_after(tmp_path, monkeypatch):
    steps = []
    sync, rename = os.fsync, os.replace

    def synced(handle):
        steps.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file")
        sync(handle)

    def renamed(*paths, **options):
        steps.append("rename")
        rename(*paths, **options)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(os, "replace", renamed)
    replace_file(tmp_path / "f", lambda aside: aside.write_text("new"))
    assert steps == ["file", "rename", "folder"]

    steps.clear()
    monkeypatch.delattr(os, "O_DIRECTORY")
    replace_file(tmp_path / "f", lambda aside: aside.write_text("new"))
    assert steps == ["file", "rename"]  # as on Windows, which opens no folders
