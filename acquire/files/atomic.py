"""Put a file in place whole, or not at all.

The new content is written aside in the same folder, synced, and renamed over the old one; then the folder is
synced, so that the name too survives a power cut. A reader sees the old file or the new one, never a part.
What a killed process leaves behind is a hidden file ending in ``.part``, which may be deleted.
"""

from __future__ import annotations

import os
import secrets
import stat
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

ASIDE_SUFFIX = ".part"


def replace_file(path: str | Path, write: Callable[[Path], object]) -> None:
    """Let `write` make a file, then put it in place of `path` in one step.

    Parameters
    ----------
    path : str or Path
        The file to make or replace; permission bits of an existing one are kept, and a symbolic link stays a
        link.
    write : callable
        Given a path in the same folder, where nothing is yet, writes and closes a file there; what it
        returns is ignored.

    Raises
    ------
    OSError
        If the file cannot be written; `path` is then as it was, and nothing is left beside it. What `write`
        raises is passed on likewise.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     note = Path(folder) / "note.txt"
    ...     replace_file(note, lambda aside: aside.write_bytes(b"whole"))
    ...     note.read_text()
    'whole'
    """
    target = Path(path).resolve()
    aside = target.with_name(f".{target.name}.{secrets.token_hex(4)}{ASIDE_SUFFIX}")
    try:
        write(aside)
        _settle(aside, like=target)
        aside.replace(target)
    except BaseException:
        aside.unlink(missing_ok=True)
        raise
    sync_folder(target.parent)


def sync_folder(folder: Path) -> None:
    """Make the names in a folder survive a power cut, where the system can."""
    if not hasattr(os, "O_DIRECTORY"):  # Windows opens no folders
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _settle(aside: Path, *, like: Path) -> None:
    with aside.open("rb+") as file:
        if like.exists():
            aside.chmod(stat.S_IMODE(like.stat().st_mode))
        os.fsync(file.fileno())
