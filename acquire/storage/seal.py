"""The head of a session file: an index to walk archives by, and checksums over all of the file.

::

    ramphold-session 1
    {"block":2048,"index_bytes":1391,"index_crc32":2768625435,"body_bytes":79872,"body_crc32":4063541912}
    {"context":{...},"trials":[...]}

then zero bytes up to `block`, a power of two from 512 on, where an ordinary HDF5 file begins. HDF5 calls this
the user block, and its readers pass over it. Two things are won. To know what a session holds, its first few
kilobytes are enough, without HDF5. And damage is found before HDF5 meets it: a flipped bit can change a sample
unseen, and has been seen to crash the library, or to make it run for ever.
"""

from __future__ import annotations

import os
import re
import zlib
from contextlib import contextmanager
from typing import TYPE_CHECKING, BinaryIO

import msgspec

from acquire.errors import ArchiveError
from acquire.files.limits import check_ordinary

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

FORMAT = "ramphold-session"
FORMAT_VERSION = 1

SMALLEST_BLOCK = 512
"""HDF5 File Format Specification, section II.A: where a file may begin."""
LARGEST_BLOCK = 1 << 26
"""64 MiB: a longer index is damage."""
_FIRST_LINE = f"{FORMAT} {FORMAT_VERSION}\n".encode()
_ROOM = 256
"""More than the first line and the seal take."""
_PIECE = 1 << 20


class _Seal(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    block: int
    index_bytes: int
    index_crc32: int
    body_bytes: int
    body_crc32: int


def block_for(index: bytes) -> int:
    """Return how many bytes to leave free in front of HDF5 for the head with this index.

    Examples
    --------
    >>> block_for(b"x" * 100), block_for(b"x" * 5000)
    (512, 8192)
    """
    return max(SMALLEST_BLOCK, 1 << (len(index) + _ROOM - 1).bit_length())


def seal_file(path: Path, index: bytes) -> None:
    """Write the head into the free block in front of an HDF5 file that is otherwise ready.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "s.h5"
    ...     _ = path.write_bytes(bytes(block_for(b"{}")) + b"samples")
    ...     seal_file(path, b"{}")
    ...     path.read_bytes().startswith(b"ramphold-session 1")
    True
    """
    block = block_for(index)
    with path.open("rb+") as file:
        size, crc = _measured(file, block)
        seal = _Seal(
            block=block,
            index_bytes=len(index),
            index_crc32=zlib.crc32(index),
            body_bytes=size,
            body_crc32=crc,
        )
        file.seek(0)
        file.write(_FIRST_LINE + msgspec.json.encode(seal) + b"\n" + index + b"\n")


def read_index(path: Path) -> bytes:
    """Return the index, checked, without a look at the rest of the file.

    Raises
    ------
    ArchiveError
        If the file cannot be read, is no session file, was made by a newer program, or the head is damaged.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "s.h5"
    ...     _ = path.write_bytes(bytes(block_for(b"{}")) + b"samples")
    ...     seal_file(path, b"{}")
    ...     read_index(path)
    b'{}'
    """
    with _opened(path) as file:
        return _head(path, file)[1]


def check_all(path: Path) -> bytes:
    """Return the index after all of the file was checked.

    Raises
    ------
    ArchiveError
        As `read_index`, and if any other byte is not as it was written.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "s.h5"
    ...     _ = path.write_bytes(bytes(block_for(b"{}")) + b"samples")
    ...     seal_file(path, b"{}")
    ...     check_all(path)
    b'{}'
    """
    with _opened(path) as file:
        seal, index = _head(path, file)
        if _measured(file, seal.block) != (seal.body_bytes, seal.body_crc32):
            raise damaged(path)
        return index


def is_sealed(path: Path) -> bool:
    """Return whether a file begins like a session file, of whatever version; False when it cannot be read.

    Examples
    --------
    >>> from pathlib import Path
    >>> is_sealed(Path("sample_traces/good.csv")), is_sealed(Path("no-such-file.h5"))
    (False, False)
    """
    try:
        check_ordinary(path)
        with path.open("rb") as file:
            return _version(file.readline(_ROOM)) is not None
    except OSError:
        return False


def damaged(path: Path) -> ArchiveError:
    """Return the error for a file that is not as it was written.

    Examples
    --------
    >>> from pathlib import Path
    >>> print(damaged(Path("p014.h5")))
    p014.h5: is damaged or cut short, restore it from a copy
    """
    return ArchiveError(f"{path}: is damaged or cut short, restore it from a copy")


@contextmanager
def _opened(path: Path) -> Iterator[BinaryIO]:
    try:
        check_ordinary(path)
        with path.open("rb") as file:
            yield file
    except FileNotFoundError:
        raise ArchiveError(f"{path}: there is no such file") from None
    except OSError as error:
        raise ArchiveError(f"{path}: cannot be read: {error.strerror}") from error


def _version(first_line: bytes) -> int | None:
    match = re.fullmatch(FORMAT.encode() + rb" (\d{1,9})\n", first_line)
    return int(match[1]) if match else None


def _head(path: Path, file: BinaryIO) -> tuple[_Seal, bytes]:
    version = _version(file.readline(_ROOM))
    if version is None:
        raise ArchiveError(f"{path}: is not a session file")
    if version > FORMAT_VERSION:
        raise ArchiveError(
            f"{path}: was made by a newer program, update this one"
            f" (the file has session format {version}, this program reads {FORMAT_VERSION})"
        )
    try:
        seal = msgspec.json.decode(file.readline(_ROOM), type=_Seal)
    except (msgspec.DecodeError, UnicodeDecodeError):
        raise damaged(path) from None
    if not 0 <= seal.index_bytes <= seal.block <= LARGEST_BLOCK:
        raise damaged(path)
    index = file.read(seal.index_bytes)
    if zlib.crc32(index) != seal.index_crc32:
        raise damaged(path)
    return seal, index


def _measured(file: BinaryIO, start: int) -> tuple[int, int]:
    """Return how many bytes there are from `start` on, and their CRC-32."""
    size, crc = os.fstat(file.fileno()).st_size - start, 0
    file.seek(start)
    while piece := file.read(_PIECE):
        crc = zlib.crc32(piece, crc)
    return size, crc
