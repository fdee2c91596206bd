"""The journals of a session, and what a crash left in them: it is saved before anything new is recorded."""

from __future__ import annotations

import contextlib
import tempfile
from datetime import UTC, date, datetime
from pathlib import Path

from acquire.errors import ArchiveError
from acquire.files.file_lock import RecordingLock
from acquire.storage.journal import holds_nothing
from acquire.storage.session_file import read_index, read_session, write_session
from acquire.stream.recovery import Recovery, recover
from acquire.values.records import Session, Trial
from analysis.trial.protocol import Protocol
from ui.session.store import SessionStore, cut_off, free_beside, set_aside_by_program

EMPTY_SUFFIX = ".empty"
"""A journal that holds nothing is put aside under its name with this."""
UNFINISHED_SUFFIX = ".unfinished"
"""Beside a session file: its last recording was not ended in good order, and all that it left is in the file."""


def journal_path(session_path: Path) -> Path:
    """Return where the journal of a session file lies."""
    return session_path.with_name(session_path.name + ".journal")


def second_journal_path(session_path: Path) -> Path:
    """Return where the journal of a session's second sensor lies."""
    return session_path.with_name(session_path.name + ".second.journal")


def unfinished_mark(session_path: Path) -> Path:
    """Return where the mark of a session lies that was not ended in good order."""
    return session_path.with_name(session_path.name + UNFINISHED_SUFFIX)


def goes_on(path: Path, *, person: str, sensor: str, today: date) -> bool:
    """Tell whether a session file is of the run that is begun: the same person and sensor, unfinished or of this day.

    Parameters
    ----------
    path : Path
        The session file; False where there is none, or it cannot be read.
    person, sensor : str
        Whom and what the run is of. A person without a code is the same only where the session is unfinished.
    today : date
        The day here and now.
    """
    try:
        context = read_index(path).context
    except ArchiveError:
        return False
    if context.person.code != person or context.sensor != sensor:
        return False
    return unfinished_mark(path).exists() or (bool(person) and context.started.astimezone().date() == today)


def tidy_up(path: Path) -> None:
    """Remove what stands beside a session file only until it holds everything: journals, and the mark."""
    for each in (journal_path(path), second_journal_path(path), unfinished_mark(path)):
        each.unlink(missing_ok=True)


def what_is_safe(error: ArchiveError, store: SessionStore, *, journals: bool) -> ArchiveError:
    """Return the error of a session that could not be saved at its end, with where its trials are and what to do.

    Parameters
    ----------
    error : ArchiveError
        Why it could not be saved.
    store : SessionStore
        The session. Where its journals do not hold it, it is written to the folder for temporary files.
    journals : bool
        Whether everything that came could be written to the journals.
    """
    journal = journal_path(store.journals_of)
    if journals and journal.exists():
        return ArchiveError(
            f"{error}; all that was recorded is in {journal}: make room, then begin the same session again"
        )
    rescued = Path(tempfile.gettempdir()) / f"ramphold-{store.session.context.session}.h5"
    try:
        write_session(rescued, store.session)
    except ArchiveError as other:
        return ArchiveError(f"{error}; nor could it be kept elsewhere ({other}): what was not saved before is lost")
    return ArchiveError(f"{error}; the whole session is in {rescued}: make room, then move it to where it belongs")


def put_empty_aside(path: Path) -> list[Path]:
    """Put the journals of a session aside that hold nothing, and return their new names.

    A program that was killed in the moment in which it began a journal leaves such a one.
    """
    moved = []
    for journal in _journals(path):
        if holds_nothing(journal):
            with RecordingLock(journal):
                moved.append(journal.replace(journal.with_name(journal.name + EMPTY_SUFFIX)))
    return moved


def _journals(path: Path) -> list[Path]:
    return [journal for journal in (journal_path(path), second_journal_path(path)) if journal.exists()]


def recover_store(path: Path, protocol: Protocol) -> tuple[SessionStore, int] | None:
    """Save the trials that a crash left in its journals; return the store and how many, or None without a journal.

    Raises
    ------
    ArchiveError
        If another program is recording this session, a journal or the session file cannot be read, or the file cannot
        be written. The journals then stay as they are.

    Notes
    -----
    A mark stays beside the file until a recording into it ends in good order: where the sensor cannot be opened after
    this, the same command shall go on all the same.
    """
    journals = _journals(path)
    if not journals:
        return None
    with contextlib.ExitStack() as ours:
        for journal in journals:
            ours.enter_context(RecordingLock(journal))
        store, number = _recovered(path, journals, protocol)
        if path.exists():
            unfinished_mark(path).touch()
        for journal in journals:
            journal.unlink()
    return store, number


def _recovered(path: Path, journals: list[Path], protocol: Protocol) -> tuple[SessionStore, int]:
    found = [_read(journal) for journal in journals]
    session = read_session(path) if path.exists() else Session(context=found[0].session)
    if session.context.session != found[0].session.session:  # another program put its own file there
        path, session = free_beside(path), Session(context=found[0].session)
    store = SessionStore(path, session, protocol)
    missing = [trial for each in found for trial in each.trials if not store.has(trial)]
    before = len(session.trials)
    for trial in sorted(missing, key=_began):
        if store.is_contact(trial):
            store.take_contact(trial)
        else:
            store.take(set_aside_by_program(trial, cut_off(trial, protocol)))
    store.save()
    return store, len(store.session.trials) - before


def _read(journal: Path) -> Recovery:
    try:
        return recover(journal)
    except ArchiveError as error:
        raise ArchiveError(f"{error}; move it away to begin anew, or choose another session file") from error


def _began(trial: Trial) -> datetime:
    return trial.context.started or datetime.min.replace(tzinfo=UTC)
