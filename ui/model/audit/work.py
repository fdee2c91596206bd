"""Do an audit: measure what is new in an archive, and say how far it has come."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

from acquire.errors import AcquireError
from acquire.storage.measured_store import DamagedStoreError, MeasuredStore, drop_store
from acquire.storage.session_file import read_session
from acquire.storage.walk import archive_folder
from analysis.audit.archive import Mapper, Progress, measure_archive, measured_sessions
from analysis.audit.archive_audit import Audit, audit_of
from analysis.trial.judged_trial import JudgedTrial, judge_trial
from analysis.trial.protocol import Protocol
from ui.model.audit.workers import Cluster, ClusterKeys, Processes
from ui.progress import say
from ui.words.words import Words

STORE = ".ramphold-audit.sqlite"
EVERY_S = 1.0


def audit_archive(
    folder: Path,
    protocol: Protocol,
    *,
    store: Path | None = None,
    mapper: Mapper | None = None,
    blind: bool = False,
    progress: Progress | None = None,
) -> Audit:
    """Measure what is new or changed in an archive, and return the audit of all of it.

    Parameters
    ----------
    folder : Path
        The archive.
    protocol : Protocol
        What every trial is judged by.
    store : Path, optional
        Where measured results are kept; beside the sessions when not given.
    mapper : callable, optional
        Where the work is done; in as many processes as there are cores when not given.
    blind : bool
        Whether codes are replaced by numbers.
    progress : callable, optional
        Is told how many files are done.

    Raises
    ------
    ArchiveError
        If there is no such folder, or results cannot be kept.
    """
    archive_folder(folder)
    where = store or folder / STORE

    def audited() -> Audit:
        with MeasuredStore(where) as kept:
            measure_archive(folder, protocol, kept, mapper=mapper or Processes(os.cpu_count() or 1), progress=progress)
            return audit_of(measured_sessions(kept, protocol), protocol, blind=blind)

    try:
        return audited()
    except DamagedStoreError:
        if store is not None:  # who knows what the user has named
            raise
        say(f"{where}: is damaged and is made anew; it only saves time")
        drop_store(where)
        return audited()


def mapper_for(processes: int | None, cluster: str | None, keys: ClusterKeys | None = None) -> Mapper:
    """Return where the work is done."""
    if cluster:
        return Cluster(cluster, keys)
    return map if processes == 1 else Processes(processes or os.cpu_count() or 1)


class TimeLeft:
    """How long the rest of some work will take, by how long what is done took.

    Parameters
    ----------
    began : float
        When the work began, s by any clock.

    Examples
    --------
    >>> left = TimeLeft(0.0)
    >>> left(100, 400, now=0.1), left(200, 400, now=5.0)
    (None, 10.0)
    """

    def __init__(self, began: float) -> None:
        self._began = began
        self._first: int | None = None

    def __call__(self, done: int, total: int, *, now: float) -> float | None:
        """Return seconds; None while nothing was done yet. What was done before the first call took no time."""
        if self._first is None:
            self._first = done
        if done == self._first:
            return None
        return (total - done) * (now - self._began) / (done - self._first)


class TerminalProgress:
    """Says on standard error, each second, how many files are done and how long the rest will take."""

    def __init__(self, words: Words, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._words, self._clock = words, clock
        self._said = clock()
        self._left = TimeLeft(self._said)

    def __call__(self, done: int, total: int) -> None:
        """Take the numbers; say nothing in the first second."""
        now = self._clock()
        left = self._left(done, total, now=now)
        if now - self._said < EVERY_S or left is None:
            return
        self._said = now
        line = self._words("audit.progress_left", done=done, total=total, left=rough_time(left))
        print(line, file=sys.stderr, flush=True)


def rough_time(seconds: float) -> str:
    """Return a time as one tells it.

    Examples
    --------
    >>> rough_time(41.2), rough_time(200.0)
    ('41 s', '3 min')
    """
    return f"{seconds:.0f} s" if seconds < 90.0 else f"{seconds / 60.0:.0f} min"


def read_trials(folder: Path, wanted: tuple[tuple[str, int], ...], protocol: Protocol) -> list[JudgedTrial]:
    """Read single trials of an archive again, by file and number, and judge them; what cannot be read is left out."""
    found: list[JudgedTrial] = []
    for file in dict.fromkeys(file for file, _ in wanted):
        try:
            session = read_session(folder / file)
        except AcquireError:
            continue
        numbers = [number for name, number in wanted if name == file and number <= len(session.trials)]
        found += [
            judge_trial(session.trials[number - 1], protocol, number=number, name=f"{file} trial {number}")
            for number in numbers
        ]
    return found
