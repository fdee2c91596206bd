"""What in a folder tree counts as a session file."""

import pytest

from acquire.errors import ArchiveError
from acquire.storage.walk import archive_folder, session_paths


def test_session_files_are_found_in_the_order_of_their_names_and_hidden_ones_passed_over(tmp_path):
    for name in ("b/2.h5", "a/10.h5", "a/9.h5", "z.h5", ".hidden/1.h5", "a/.part.h5", "a/.b/c.h5", "notes.txt"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).touch()
    (tmp_path / "folder.h5").mkdir()
    found = [path.relative_to(tmp_path).as_posix() for path in session_paths(tmp_path)]
    assert found == ["a/10.h5", "a/9.h5", "b/2.h5", "z.h5"]


def test_hidden_folder_above_the_archive_hides_nothing(tmp_path):
    folder = tmp_path / ".mine" / "archive"
    folder.mkdir(parents=True)
    (folder / "a.h5").touch()
    assert [path.name for path in session_paths(folder)] == ["a.h5"]


def test_folder_that_is_none_is_told(tmp_path):
    with pytest.raises(ArchiveError, match="there is no such folder"):
        archive_folder(tmp_path / "none")
    (tmp_path / "a.h5").touch()
    with pytest.raises(ArchiveError, match="is a file"):
        archive_folder(tmp_path / "a.h5")
    assert archive_folder(tmp_path) == tmp_path


def test_missing_archive_is_named(tmp_path):
    with pytest.raises(ArchiveError, match="none: there is no such folder"):
        list(session_paths(tmp_path / "none"))
