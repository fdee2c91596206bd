"""An audit under way, in a thread: it reports its progress and can be stopped without losing results."""

from __future__ import annotations

import hashlib
import os
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from acquire.errors import ArchiveError
from analysis.audit.archive import Mapper
from analysis.audit.archive_audit import Audit
from analysis.errors import AnalysisError
from analysis.trial.protocol import load_protocol
from ui.model.audit.work import TimeLeft, audit_archive
from ui.model.plan.remembered import AuditChoice

ELSEWHERE = "audits"
"""Folder beside what is remembered, for results of archives that cannot be written to."""


class AuditStoppedError(AnalysisError):
    """The user stopped it."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far an audit has come, in sessions."""

    done: int
    total: int
    left_s: float | None
    """How long the rest will take, about; None while that is not known."""

    @property
    def measured(self) -> bool:
        """Whether all sessions are measured, and only the comparison is to come."""
        return self.done == self.total


class AuditRun:
    """One audit; `__call__` is for the thread that does it, everything else for the one that shows it.

    Parameters
    ----------
    choice : AuditChoice
        What is audited, and how.
    store : Path, optional
        Where measured results are kept; beside the sessions when not given.
    mapper : callable, optional
        Where the work is done; in as many processes as there are cores when not given.
    clock : callable
        Seconds, for the time that is left.
    """

    def __init__(
        self,
        choice: AuditChoice,
        *,
        store: Path | None = None,
        mapper: Mapper | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.choice = choice
        self._store, self._mapper = store, mapper
        self._clock, self._left = clock, TimeLeft(clock())
        self._stopping = threading.Event()
        self._progress: Progress | None = None

    @property
    def progress(self) -> Progress | None:
        """How far it has come; None until the sessions are counted."""
        return self._progress

    @property
    def stopping(self) -> bool:
        """Whether it was told to stop."""
        return self._stopping.is_set()

    def stop(self) -> None:
        """Let it end after the batch that is being measured."""
        self._stopping.set()

    def __call__(self) -> Audit:
        """Do it.

        Raises
        ------
        AuditStoppedError
            If it was stopped.
        AcquireError, AnalysisError
            With one plain sentence.
        """
        audit = audit_archive(
            Path(self.choice.folder),
            load_protocol(self.choice.protocol),
            store=self._store,
            mapper=self._mapper,
            blind=self.choice.blind,
            progress=self._tell,
        )
        self._check()
        return audit

    def _tell(self, done: int, total: int) -> None:
        """Take the numbers, each time after results were kept."""
        self._progress = Progress(done, total, self._left(done, total, now=self._clock()))
        self._check()

    def _check(self) -> None:
        if self._stopping.is_set():
            raise AuditStoppedError


def store_for(folder: Path, state: Path) -> Path | None:
    """Return where results of an archive are kept: None for beside its sessions, else a file of the user's own.

    Parameters
    ----------
    folder : Path
        The archive; one that is not there gets nothing, the audit says so.
    state : Path
        A folder of the user's own, which is made when it is needed.

    Raises
    ------
    ArchiveError
        If neither can be written.
    """
    if not folder.is_dir() or os.access(folder, os.W_OK):
        return None
    aside = state / ELSEWHERE
    try:
        aside.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ArchiveError(f"{aside}: cannot be made to keep results in: {error.strerror or error}") from error
    name = hashlib.sha256(os.fsencode(folder.resolve())).hexdigest()[:16]
    return aside / f"{name}.sqlite"
