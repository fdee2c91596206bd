"""Results kept beside an archive, so that a file is measured once: one SQLite file, of which nothing is lost but time.

A result is kept with the file's fingerprint (its head, with the checksums of all of it) and with a recipe: a text that
says by what it was measured. Another fingerprint or another recipe means to measure anew.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

from acquire.errors import ArchiveError

SCHEMA = """
CREATE TABLE IF NOT EXISTS measured (
    file TEXT PRIMARY KEY, fingerprint TEXT NOT NULL, recipe TEXT NOT NULL, result BLOB NOT NULL
) WITHOUT ROWID
"""
HEAD_BYTES = 256
"""The first two lines of a session file, which hold the checksums of all of it, are shorter."""


class MeasuredStore:
    """Results of the files of one archive; a with block keeps what was put, whatever ends it.

    Parameters
    ----------
    path : str or Path
        The SQLite file; made if it is not there.

    Raises
    ------
    ArchiveError
        If it cannot be made or is something else; says what to do.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        try:
            self._base = sqlite3.connect(self.path)
            self._base.execute(SCHEMA)
            self._base.execute("SELECT file, fingerprint, recipe, result FROM measured LIMIT 1")
        except sqlite3.Error as error:
            raise ArchiveError(
                f"{self.path}: cannot be used to keep results ({error}): delete it, or name another file"
            ) from error

    def fingerprints(self, recipe: str) -> dict[str, str]:
        """Return the fingerprint of each file that was measured by a recipe."""
        rows = self._base.execute("SELECT file, fingerprint FROM measured WHERE recipe = ?", (recipe,))
        return dict(rows.fetchall())

    def put(self, results: Iterable[tuple[str, str, bytes]], recipe: str) -> None:
        """Keep results, each with its file and fingerprint; they are on disk when this returns."""
        rows = [(file, fingerprint, recipe, result) for file, fingerprint, result in results]
        with self._base:
            self._base.executemany("INSERT OR REPLACE INTO measured VALUES (?, ?, ?, ?)", rows)

    def forget(self, files: Iterable[str]) -> None:
        """Drop files that are gone."""
        with self._base:
            self._base.executemany("DELETE FROM measured WHERE file = ?", [(file,) for file in files])

    def results(self, recipe: str) -> Iterator[tuple[str, bytes]]:
        """Yield file and result of all that was measured by a recipe, by the names of the files; one at a time."""
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


def fingerprint(path: Path) -> str:
    """Return what changes when a session file does: size and head; the error's name where it cannot be read."""
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES).split(b"\n", 2)
            return f"{path.stat().st_size} {head[1].decode('ascii', 'replace') if len(head) > 2 else ''}"
    except OSError as error:
        return f"unreadable: {error.strerror}"
