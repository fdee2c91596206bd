"""A file that only one program at a time may work on.

A claim lasts until the file is closed or the program ends, however it ends, so that none is left over after a
crash. Other programs can still read the file; they only see that it is claimed.
"""

from __future__ import annotations

import contextlib
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from acquire.errors import ArchiveError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import IO


def claim(file: IO[bytes]) -> bool:
    """Claim an open file until it is closed; return False when somebody else has it.

    Where a file system knows no claims, every claim is granted. So it is on Windows, where the system itself keeps
    others from removing a file that is open.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.NamedTemporaryFile() as mine, open(mine.name, "rb") as other:
    ...     claim(mine), claim(other)
    (True, False)
    """
    if sys.platform == "win32":
        return True
    import fcntl  # noqa: PLC0415 - not there on Windows

    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True


@contextlib.contextmanager
def claimed(path: str | Path) -> Iterator[None]:
    """Keep a file claimed during a with block.

    Raises
    ------
    ArchiveError
        If another program has claimed it, or it cannot be opened.
    """
    with contextlib.ExitStack() as opened:
        try:
            file = opened.enter_context(Path(path).open("rb"))
        except OSError as error:
            raise ArchiveError(f"{path}: cannot be read: {error.strerror or error}") from error
        if not claim(file):
            raise ArchiveError(
                f"{path}: another program is recording into it right now; end that recording first, or choose"
                " another session file"
            )
        if sys.platform == "win32":
            file.close()  # or it could not be removed in the block
        yield
