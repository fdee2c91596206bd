"""A journal that a full disk does not stop: what cannot be written waits in memory, and is tried again in order.

Recording is worth more than its journal. While writing fails, `trouble` says why; once there is room, what waited is
written before anything newer, so that the journal reads as if nothing had happened. Memory has an end: after
`MOST_WAITING` bytes the journal stays as it is, cut where the disk was full, and is not `complete` any more.
"""

from __future__ import annotations

from collections import deque
from functools import partial
from typing import TYPE_CHECKING, Any

from acquire.errors import ArchiveError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from acquire.storage.journal import JournalWriter

MOST_WAITING = 1 << 26
"""64 MiB of what a sensor sent: more than four hours at 1 kHz."""
EVENT_BYTES = 1000
"""What an event takes, about."""
AGAIN_S = 1.0


class PatientJournal:
    """As `acquire.storage.journal.JournalWriter`, for one thread at a time; none of its methods raises ArchiveError.

    Parameters
    ----------
    journal : JournalWriter
        Where it goes; closed by `close`.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from acquire.storage.journal import JournalWriter
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     journal = PatientJournal(JournalWriter(Path(folder) / "today.journal", {"sensor": "demo"}))
    ...     journal.chunk(12.5, b"1000")
    ...     journal.close()
    ...     journal.trouble, journal.complete
    (None, True)
    """

    def __init__(self, journal: JournalWriter) -> None:
        self._journal = journal
        self._waiting: deque[tuple[Callable[[], None], int]] = deque()
        self._waiting_bytes = 0
        self._given_up = False
        self._again_at = 0.0
        self.trouble: ArchiveError | None = None
        """Why it cannot be written now; None while it can."""

    @property
    def complete(self) -> bool:
        """Whether the file holds everything."""
        return self.trouble is None and not self._given_up

    def chunk(self, arrival: float, data: bytes) -> None:
        """Keep bytes that arrived at a time, in seconds."""
        self._keep(partial(self._journal.chunk, arrival, data), len(data))

    def event(self, content: Mapping[str, Any]) -> None:
        """Keep something that happened."""
        self._keep(partial(self._journal.event, content), EVENT_BYTES)

    def sync_if_due(self, now: float) -> None:
        """Bring to the disk what is not there, if it is time; try again what failed."""
        if self.trouble is not None:
            if now < self._again_at:
                return
            self._again_at = now + AGAIN_S
            self._write_waiting()
        if self.trouble is None:
            self._try(lambda: self._journal.sync_if_due(now))

    def sync(self) -> None:
        """Bring to the disk what is not there."""
        self._write_waiting()
        if self.trouble is None:
            self._try(self._journal.sync)

    def close(self) -> None:
        """Write what waits, sync and close; a second time does nothing."""
        self._write_waiting()
        self._try(self._journal.close)

    def _keep(self, write: Callable[[], None], size: int) -> None:
        if self.trouble is None and not self._given_up and self._try(write):
            return
        if self._given_up or self._waiting_bytes + size > MOST_WAITING:
            self._given_up = True  # nothing newer may follow a hole
            return
        self._waiting.append((write, size))
        self._waiting_bytes += size

    def _write_waiting(self) -> None:
        while self._waiting:
            write, size = self._waiting[0]
            if not self._try(write):
                return
            self._waiting.popleft()
            self._waiting_bytes -= size
        self.trouble = None

    def _try(self, write: Callable[[], object]) -> bool:
        try:
            write()
        except ArchiveError as error:
            self.trouble = error
            return False
        return True
