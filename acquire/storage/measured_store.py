"""Results kept beside an archive, so that a file is measured once: one SQLite file, of which nothing is lost but time.

The key of a result is its file and a recipe, a text that says what measured it. Beside the result stands the file's
fingerprint (its head, with the checksums of all of it). Another fingerprint means to measure anew. The results of the
last `RECIPES_KEPT` recipes stay, so that nothing is measured again after a second protocol was tried.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterable, Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

from acquire.errors import ArchiveError

SCHEMA = """
CREATE TABLE IF NOT EXISTS measured (
    recipe TEXT NOT NULL, file TEXT NOT NULL, fingerprint TEXT NOT NULL, result BLOB NOT NULL,
    PRIMARY KEY (recipe, file)
) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS used (number INTEGER PRIMARY KEY, recipe TEXT NOT NULL UNIQUE);
"""
KEYED_BY_RECIPE = {"recipe": 1, "file": 2, "fingerprint": 0, "result": 0}
KEYED_BY_FILE = {"file": 1, "fingerprint": 0, "recipe": 0, "result": 0}
"""The columns of a store, and of one that an earlier program made, each with its place in the key."""

RECIPES_KEPT = 4
"""Results of as many recipes stay, those used last; an archive of 10,000 sessions takes some 50 MB for each."""
HEAD_BYTES = 256
"""The first two lines of a session file, which hold the checksums of all of it, are shorter."""
WAIT_S = 5.0
"""An audit keeps a batch in milliseconds; another one waits this long for it."""

IN_USE = frozenset({sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED})
DAMAGED = frozenset({sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_ERROR})
"""SQLite's codes for a file that is something else, is damaged, or has other tables."""
ELSEWHERE = "keep the results in another file with --store"


class DamagedStoreError(ArchiveError):
    """A file that is no store, or is not any more; a store only saves time, and can be made anew."""


class MeasuredStore:
    """Results of the files of one archive; a with block keeps what was put, whatever ends it.

    Two programs may share a store: each keeps a batch of results in one go.

    Parameters
    ----------
    path : str or Path
        The SQLite file; made if it is not there.
    wait_s : float
        How long to wait for another program that is writing to it, s.

    Raises
    ------
    ArchiveError
        Here and from every method: if the file cannot be made, read or written, is something else, or another program
        holds it for longer than `wait_s`; says what to do.
    """

    def __init__(self, path: str | Path, *, wait_s: float = WAIT_S) -> None:
        self.path = Path(path)
        with self._translated():
            self._base = sqlite3.connect(self.path, timeout=wait_s)
            try:
                self._make_tables()
            except (sqlite3.Error, ArchiveError):
                self._base.close()
                raise

    def use(self, recipe: str) -> None:
        """Say by which recipe is measured now; of all others but the last few the results are dropped."""
        with self._translated(), self._base:
            self._base.execute("DELETE FROM used WHERE recipe = ?", (recipe,))
            self._base.execute("INSERT INTO used SELECT coalesce(max(number), 0) + 1, ? FROM used", (recipe,))
            self._base.execute(
                "DELETE FROM used WHERE number NOT IN (SELECT number FROM used ORDER BY number DESC LIMIT ?)",
                (RECIPES_KEPT,),
            )
            self._base.execute("DELETE FROM measured WHERE recipe NOT IN (SELECT recipe FROM used)")

    def fingerprints(self, recipe: str) -> dict[str, str]:
        """Return the fingerprint of each file that was measured by a recipe."""
        with self._translated():
            rows = self._base.execute("SELECT file, fingerprint FROM measured WHERE recipe = ?", (recipe,))
            return dict(rows.fetchall())

    def files(self) -> set[str]:
        """Return the files that there are results of, by whatever recipe."""
        with self._translated():
            return {file for (file,) in self._base.execute("SELECT DISTINCT file FROM measured")}

    def put(self, results: Iterable[tuple[str, str, bytes]], recipe: str) -> None:
        """Keep results, each with its file and fingerprint; they are on disk when this returns."""
        rows = [(recipe, file, fingerprint, result) for file, fingerprint, result in results]
        with self._translated(), self._base:
            self._base.executemany("INSERT OR REPLACE INTO measured VALUES (?, ?, ?, ?)", rows)

    def forget(self, files: Iterable[str]) -> None:
        """Drop files that are gone, by whatever recipe they were measured."""
        with self._translated(), self._base:
            self._base.executemany("DELETE FROM measured WHERE file = ?", [(file,) for file in files])

    def results(self, recipe: str) -> Iterator[tuple[str, bytes]]:
        """Yield file and result of all that was measured by a recipe, by the names of the files; one at a time."""
        with self._translated():
            yield from self._base.execute("SELECT file, result FROM measured WHERE recipe = ? ORDER BY file", (recipe,))

    def close(self) -> None:
        """Let go of the file."""
        self._base.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _make_tables(self) -> None:
        columns = {name: key for _, name, _, _, _, key in self._base.execute("PRAGMA table_info(measured)")}
        if columns == KEYED_BY_FILE:  # another program's hash is in each of its recipes, so nothing in it is of use
            self._base.execute("DROP TABLE measured")
        elif columns not in ({}, KEYED_BY_RECIPE):
            raise DamagedStoreError(f"{self.path}: {_no_store('its tables are of another program')}")
        self._base.executescript(SCHEMA)

    @contextlib.contextmanager
    def _translated(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            kind = DamagedStoreError if _code(error) in DAMAGED else ArchiveError
            raise kind(f"{self.path}: {_what_to_do(error)}") from error


def drop_store(path: Path) -> None:
    """Remove a store, and what SQLite keeps beside it; the next audit makes it anew.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     MeasuredStore(Path(folder) / "kept.sqlite").close()
    ...     drop_store(Path(folder) / "kept.sqlite")
    ...     list(Path(folder).iterdir())
    []
    """
    for end in ("", "-journal", "-wal", "-shm"):
        with contextlib.suppress(OSError):  # what is wrong shows when it is made
            path.with_name(path.name + end).unlink(missing_ok=True)


def _code(error: Exception) -> int:
    """Return SQLite's code, without what it is refined by; text that is no text has none, and is damage."""
    return getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF


def _what_to_do(error: sqlite3.Error) -> str:
    code = _code(error)
    if code in IN_USE:
        return (
            "another audit is running and keeps its results there: wait until it has ended, then audit again, or "
            f"{ELSEWHERE}"
        )
    if code in DAMAGED:
        return _no_store(str(error))
    if code == sqlite3.SQLITE_FULL:
        return f"the disk is full, and results cannot be kept: make room and audit again, or {ELSEWHERE}"
    return f"cannot be used to keep results ({error}): make sure it can be written, or {ELSEWHERE}"


def _no_store(why: str) -> str:
    return f"cannot be used to keep results ({why}): audit again, or {ELSEWHERE}"


def fingerprint(path: Path) -> str:
    """Return what changes when a session file does: size and head; the error's name where it cannot be read.

    Examples
    --------
    >>> fingerprint(Path("no-such-file.h5"))
    'unreadable: No such file or directory'
    """
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES).split(b"\n", 2)
            return f"{path.stat().st_size} {head[1].decode('ascii', 'replace') if len(head) > 2 else ''}"
    except OSError as error:
        return f"unreadable: {error.strerror}"
