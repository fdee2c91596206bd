"""A recording that only one program at a time may write or recover.

The lock is a file of its own beside the recording, held by the operating system, on Windows too (`filelock`). It ends
with the program, however that ends; the next one takes over the lock file that a crash left. Everybody can still read
the recording.
"""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, Self

from filelock import FileLock, Timeout

from acquire.errors import ArchiveError

if TYPE_CHECKING:
    from types import TracebackType

SUFFIX = ".lock"
"""Added to the name of what is locked."""


class RecordingLock:
    """Locks a file until `release`, the end of a with block, or the end of the program.

    Where the file system has no locks, everybody gets one: a recording is worth more than its lock.

    Parameters
    ----------
    path : str or Path
        What is locked; it need not exist. Where its folder does not, nothing is locked or made.

    Raises
    ------
    ArchiveError
        If another program, or another lock of this one, holds it.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "today.h5.journal"
    ...     with RecordingLock(path):
    ...         print([file.name for file in path.parent.iterdir()])
    ...     print(list(path.parent.iterdir()))
    ['today.h5.journal.lock']
    []
    """

    def __init__(self, path: str | Path) -> None:
        place = Path(path)
        # released by whichever thread ends the recording
        self._lock = FileLock(place.with_name(place.name + SUFFIX), timeout=0, thread_local=False)
        if not place.parent.is_dir():  # the library would make it
            return
        try:
            self._lock.acquire()
        except Timeout:
            raise ArchiveError(
                f"{path}: another program is recording into it right now; end that recording first, or choose"
                " another session file"
            ) from None
        except (OSError, NotImplementedError):  # what is wrong with the folder shows when the file is written
            return

    def release(self) -> None:
        """Give the lock back and remove its file; a second time does nothing."""
        if not self._lock.is_locked:
            return
        # While it is still held: a lock file removed later could be that of the next program. Windows lets nobody
        # remove an open file, and the library does it there.
        with contextlib.suppress(OSError):
            Path(self._lock.lock_file).unlink(missing_ok=True)
        self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()
