"""How large an input of each kind may be; looked at before a byte of it is parsed.

=================  ===========  =====================================================================
what               limit        why
=================  ===========  =====================================================================
settings (TOML)    256 KiB      twenty times the largest that comes with the program; 64 parts a key
table (CSV)        16 MiB       references and published changes: some hundred thousand rows
kept values (JSON) 16 MiB       plans, checks and zeros that the program keeps for itself
trace (CSV)        128 MiB      an hour at 1 kHz with all digits; 1,000 characters a line
session file       by its head  samples: 100 million a trial, and what the file itself can hold
journal            by record    16 MiB a record; it is read piece by piece
=================  ===========  =====================================================================

What is no ordinary file (a pipe, a device) is never opened: it could wait, or go on, for ever.
"""

from __future__ import annotations

import errno
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

SETTINGS_BYTES = 1 << 18
TABLE_BYTES = 1 << 24
KEPT_BYTES = 1 << 24
TRACE_BYTES = 1 << 27

KIB, MIB = 1 << 10, 1 << 20


def read_whole(path: Traversable, *, most: int) -> bytes:
    """Return the bytes of an ordinary file, if they are no more than `most`.

    Raises
    ------
    OSError
        If the file cannot be read, is no ordinary file, or is larger: its `strerror` names the limit.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "large.toml"
    ...     _ = path.write_bytes(bytes(2000))
    ...     try:
    ...         read_whole(path, most=1024)
    ...     except OSError as error:
    ...         print(error.strerror)
    it is larger than 1 KiB, which is the most that is read of such a file
    """
    if not isinstance(path, Path):  # inside a package
        return path.read_bytes()
    check_ordinary(path)
    with path.open("rb") as file:
        content = file.read(most + 1)
    if len(content) > most:
        raise OSError(errno.EFBIG, f"it is larger than {size(most)}, which is the most that is read of such a file")
    return content


def check_ordinary(path: Path) -> None:
    """Refuse what is there and is neither a file nor a folder; opening a folder says what it is.

    Raises
    ------
    OSError
        If it is a pipe, a device or the like.

    Examples
    --------
    >>> check_ordinary(Path("no-such-file.csv"))
    """
    if path.exists() and not (path.is_file() or path.is_dir()):
        raise OSError(errno.EINVAL, "it is no ordinary file, but a pipe, a device or the like")


def size(bytes_: int) -> str:
    """Return a size as one says it.

    Examples
    --------
    >>> size(262_144), size(16_777_216)
    ('256 KiB', '16 MiB')
    """
    return f"{bytes_ // MIB} MiB" if bytes_ >= MIB else f"{bytes_ // KIB} KiB"
