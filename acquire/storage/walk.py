"""Find the session files of an archive, which is a folder tree."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from acquire.errors import ArchiveError

if TYPE_CHECKING:
    from collections.abc import Iterator

SESSION_SUFFIX = ".h5"


def session_paths(folder: str | Path) -> Iterator[Path]:
    """Yield what is named like a session file, in the order of the names.

    Hidden files and folders are passed over: among them is what a crash left half written. Whether a file is
    whole is for `read_session` or `read_index` to say, so that an audit can name the damaged ones.

    Parameters
    ----------
    folder : str or Path
        The archive.

    Raises
    ------
    ArchiveError
        If there is no such folder.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     for name in ("b.h5", "a.h5", ".c.h5", "notes.txt"):
    ...         (Path(folder) / name).touch()
    ...     [path.name for path in session_paths(folder)]
    ['a.h5', 'b.h5']
    """
    root = archive_folder(folder)
    for path in sorted(root.rglob(f"*{SESSION_SUFFIX}")):
        if path.is_file() and not any(part.startswith(".") for part in path.relative_to(root).parts):
            yield path


def shown_name(path: str | Path) -> str:
    r"""Return a name that can be written down: bytes of it that are no UTF-8 become ``\xfc`` and the like.

    Examples
    --------
    >>> import os
    >>> print(shown_name(os.fsdecode(b"Pr\xfcfung.h5")))
    Pr\xfcfung.h5
    """
    return os.fsencode(path).decode(errors="backslashreplace")


def archive_folder(folder: str | Path) -> Path:
    """Return the folder of an archive.

    Raises
    ------
    ArchiveError
        If there is none.

    Examples
    --------
    >>> archive_folder(".") == Path(".")
    True
    """
    root = Path(folder)
    if root.is_file():
        raise ArchiveError(f"{root}: is a file: give the folder that it lies in")
    if not root.is_dir():
        raise ArchiveError(f"{root}: there is no such folder")
    return root
