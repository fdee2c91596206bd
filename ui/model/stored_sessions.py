"""The sessions that are stored in a folder, newest first, and the one that a person had before.

A file that cannot be read is passed over here; it is named where it is opened.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path

from acquire.errors import AcquireError
from acquire.storage.session_file import read_index
from acquire.storage.walk import session_paths, shown_name
from acquire.values.records import SessionContext
from ui.words.words import NOTHING, Words

KNOWN = 10_000
"""So many heads of files are kept, so that a folder that is looked at again is read in an instant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredSession:
    """What a list says of a session."""

    path: Path
    context: SessionContext
    trials: int

    @property
    def person(self) -> str:
        """The code of the person; empty when not known."""
        return self.context.person.code

    @property
    def started(self) -> datetime:
        """When it began."""
        return self.context.started


def stored_sessions(folder: Path) -> tuple[StoredSession, ...]:
    """Return the sessions below a folder, the newest first; none where there is no such folder."""
    if not folder.is_dir():
        return ()
    found = []
    for path in session_paths(folder):
        try:
            about = path.stat()
            session = _read(path, about.st_mtime_ns, about.st_size)
        except OSError:  # gone since it was listed
            continue
        if session is not None:
            found.append(session)
    return tuple(sorted(found, key=lambda each: each.started, reverse=True))


@lru_cache(maxsize=KNOWN)
def _read(path: Path, changed_ns: int, size: int) -> StoredSession | None:  # noqa: ARG001 (another file, another entry)
    try:
        index = read_index(path)
    except AcquireError:
        return None
    return StoredSession(path=path, context=index.context, trials=len(index.trials))


def matching(sessions: Sequence[StoredSession], typed: str) -> tuple[StoredSession, ...]:
    """Return the sessions whose person begins with what is typed, or whose file has it in its name."""
    wanted = typed.strip().casefold()
    return tuple(
        each for each in sessions if each.person.casefold().startswith(wanted) or wanted in each.path.stem.casefold()
    )


def session_before(sessions: Sequence[StoredSession], context: SessionContext) -> StoredSession | None:
    """Return the last session that a person had before one; None without one, and for a person without a code."""
    before = [
        each
        for each in sessions
        if context.person.code
        and each.trials
        and each.person == context.person.code
        and each.context.invented == context.invented
        and each.started < context.started
    ]
    return max(before, key=lambda each: each.started, default=None)


def session_lines(session: StoredSession, words: Words) -> tuple[str, str]:
    """Return a session in two lines: who and when, then how many trials, by whom, in which file."""
    context = session.context
    parts = [
        words("review.sessions.trials", count=session.trials),
        context.examiner or "",
        shown_name(session.path.name),
        words("review.invented") if context.invented else "",
    ]
    return f"{session.person or NOTHING}   {words.moment(session.started)}", ", ".join(filter(None, parts))
