"""Put a file in place whole, or not at all.

The new content is written aside in the same folder, synced, and renamed over the old one; then the folder is
synced, so that the name too survives a power cut. A reader sees the old file or the new one, never a part.
What a killed process leaves behind is a hidden file ending in ``.part``, which the next run of the same file
clears (`clear_left_behind`). Files that belong together appear all, or none (`replace_together`).
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import stat
import time
from collections.abc import Callable, Iterable
from pathlib import Path

ASIDE_SUFFIX = ".part"
PRIVATE = 0o600
"""The permission bits of a new file: what is recorded of people is for the account that recorded it."""
LEFT_BEHIND_S = 3600.0
"""Nothing is written for so long: an older part is of a program that was killed."""

Write = Callable[[Path], object]
"""Given a path where nothing is yet, writes and closes a file there; what it returns is ignored."""


def replace_file(path: str | Path, write: Write) -> None:
    """Let `write` make a file, then put it in place of `path` in one step.

    Parameters
    ----------
    path : str or Path
        The file to make or replace; permission bits of an existing one are kept, a new one is for its owner alone,
        and a symbolic link stays a link.
    write : callable
        Given a path in the same folder, where nothing is yet, writes and closes a file there.

    Raises
    ------
    OSError
        If the file cannot be written, or there is something at `path` that is no ordinary file; `path` is then as it
        was, and nothing is left beside it. What `write` raises is passed on likewise.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     note = Path(folder) / "note.txt"
    ...     replace_file(note, lambda aside: aside.write_bytes(b"whole"))
    ...     note.read_text()
    'whole'
    """
    replace_together([(path, write)])


def replace_together(files: Iterable[tuple[str | Path, Write]]) -> None:
    """Put several files in place that belong together: all of them, or none where one cannot be written.

    Parameters
    ----------
    files : iterable of (path, callable)
        As `replace_file`, in the order in which they are written.

    Raises
    ------
    OSError
        As `replace_file`; all that was there is then as it was. Only a power cut in the moment of the renames can
        leave some of the files new and some old.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     one, other = Path(folder) / "one.txt", Path(folder) / "missing" / "other.txt"
    ...     try:
    ...         replace_together((each, lambda aside: aside.write_bytes(b"whole")) for each in (one, other))
    ...     except FileNotFoundError:
    ...         list(Path(folder).iterdir())
    []
    """
    ready: list[tuple[Path, Path]] = []
    try:
        for path, write in files:
            target = Path(path).resolve()
            _check_ordinary(target)
            aside = target.with_name(f".{target.name}.{secrets.token_hex(4)}{ASIDE_SUFFIX}")
            ready.append((aside, target))
            write(aside)
            _settle(aside, like=target)
        for aside, target in ready:
            aside.replace(target)
    except BaseException:
        for aside, _ in ready:
            aside.unlink(missing_ok=True)
        raise
    for folder in dict.fromkeys(target.parent for _, target in ready):
        sync_folder(folder)


def clear_left_behind(path: str | Path, *, older_than_s: float = LEFT_BEHIND_S) -> list[Path]:
    """Remove what killed programs left half written beside a file, and return it.

    Parameters
    ----------
    path : str or Path
        The file that was to be made; all files of a folder where it is one.
    older_than_s : float
        Younger ones stay: another program may be writing them. 0 where a lock says that none is.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     for name in (".p7.h5.0a1b2c3d.part", ".p8.h5.0a1b2c3d.part", "p7.h5"):
    ...         (Path(folder) / name).touch()
    ...     [part.name for part in clear_left_behind(Path(folder) / "p7.h5", older_than_s=0.0)]
    ['.p7.h5.0a1b2c3d.part']
    """
    target = Path(path).resolve()
    folder, name = (target, ".+") if target.is_dir() else (target.parent, re.escape(target.name))
    left = re.compile(rf"\.{name}\.[0-9a-f]{{8}}{re.escape(ASIDE_SUFFIX)}")
    cleared = []
    with contextlib.suppress(OSError):  # what is wrong with the folder shows when the file is written
        for part in sorted(folder.iterdir()):
            if left.fullmatch(part.name) and time.time() - part.stat().st_mtime >= older_than_s:
                part.unlink()
                cleared.append(part)
    return cleared


def _check_ordinary(target: Path) -> None:
    """Refuse to put a file in place of a device, a pipe or a folder."""
    if target.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(target))
    if target.exists() and not target.is_file():
        raise OSError(errno.EINVAL, "is no ordinary file", str(target))


def sync_folder(folder: Path) -> None:
    """Make the names in a folder survive a power cut, where the system can.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = Path(folder, "new").write_text("")
    ...     sync_folder(Path(folder))
    """
    if not hasattr(os, "O_DIRECTORY"):  # Windows opens no folders
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _settle(aside: Path, *, like: Path) -> None:
    with aside.open("rb+") as file:
        aside.chmod(stat.S_IMODE(like.stat().st_mode) if like.exists() else PRIVATE)
        os.fsync(file.fileno())
