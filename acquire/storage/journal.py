r"""An append-only file of what a sensor sent, kept while it is sent, so that a crash loses next to nothing.

::

    "ramphold-journal 1\n"                               what it is, and its version
    length u32 | kind u8 | payload | CRC-32 u32          little endian, again and again

``length`` is that of the payload; the CRC-32 (that of zlib and PNG) is over all of the record before it.

==== ====== ==================================================================
kind        payload
==== ====== ==================================================================
72   header JSON object, once, first
67   chunk  arrival in seconds (float64, the clock of the recorder), then raw bytes
69   event  JSON object: what the recorder did, such as saving a trial
==== ====== ==================================================================

The kinds are the letters H, C and E; a payload is at most 16 MiB. An event says what the next trials are (`plan`), that
the link was lost or is back (`link`), or, in a journal that ``sensors --new --keep`` wrote, what a person was asked to
do and when (`asked`).

A record goes to the system in one write, so a killed program loses only the one it was writing; `sync` brings it to the
disk every 0.1 s, which is what a power cut leaves. Reading stops at the first record that is cut, fails its checksum or
is of no known kind: where the next one would begin can't be known, and the number of bytes not read is reported. A
write that fails, on a full disk say, takes back its half record, so that later ones can be read. A journal is never
overwritten or taken up again; one that was broken off before its header was whole holds nothing and is put aside as
``.journal.empty``. It is removed only when the session file holds every trial. It is about as large as what the sensor
sent: 14 MB an hour at 1 kHz in packets of ten. `acquire.stream.recovery` makes trials of one.
"""

from __future__ import annotations

import enum
import os
import re
import struct
import zlib
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, NamedTuple, Self

import msgspec

from acquire.errors import ArchiveError
from acquire.files.atomic import sync_folder
from acquire.files.file_lock import RecordingLock
from acquire.files.limits import check_ordinary

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from io import FileIO

VERSION = 1
MAGIC = b"ramphold-journal %d\n" % VERSION
SYNC_EVERY_S = 0.1
"""At most so much is lost when the power goes."""
MAX_PAYLOAD = 1 << 24
"""16 MiB, far above a read from any link: a longer record is damage."""

_HEAD = struct.Struct("<IB")
_ARRIVAL = struct.Struct("<d")
_CRC = struct.Struct("<I")
_to_disk = getattr(os, "fdatasync", os.fsync)  # not on every system


class RecordKind(enum.IntEnum):
    """What a record holds."""

    HEADER = ord("H")
    CHUNK = ord("C")
    EVENT = ord("E")


class ChunkRecord(NamedTuple):
    """Bytes as a sensor sent them."""

    arrival: float
    """Seconds on the recorder's clock."""
    data: bytes


class EventRecord(NamedTuple):
    """Something the recorder did."""

    content: dict[str, Any]
    """Plain JSON values."""


JournalRecord = ChunkRecord | EventRecord


class JournalWriter:
    r"""Keeps chunks and events as they come; for one thread.

    Parameters
    ----------
    path : str or Path
        A new file: a journal is never overwritten, nor taken up again. It is locked (`acquire.files.file_lock`) until
        it is closed, so that nobody takes what is being written for what a crash left.
    header : mapping or msgspec.Struct
        What a reader needs to know first: the session, the sensor; stored as JSON.

    Raises
    ------
    ArchiveError
        If the file exists already, another program is recording into it, or it cannot be written. A failed write
        leaves the journal as it was before, so that later ones are not lost behind half a record.
    ValueError
        If a payload is longer than 16 MiB.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "today.journal"
    ...     with JournalWriter(path, {"sensor": "demo"}) as journal:
    ...         journal.chunk(12.5, b"1000\n")
    ...         journal.event({"saved": 1})
    ...         journal.sync_if_due(now=12.5)
    ...     with JournalReader(path) as reader:
    ...         tuple(reader)
    True
    (ChunkRecord(arrival=12.5, data=b'1000\n'), EventRecord(content={'saved': 1}))
    """

    def __init__(self, path: str | Path, header: Mapping[str, Any] | msgspec.Struct) -> None:
        self.path = Path(path)
        first = MAGIC + _record(RecordKind.HEADER, msgspec.json.encode(header))
        self._lock = RecordingLock(self.path)
        try:
            self._file = self._created()
        except BaseException:
            self._lock.release()
            raise
        self._whole = 0
        self._unsynced = False
        self._synced_at: float | None = None
        try:
            self._append(first)
            self.sync()
            sync_folder(self.path.resolve().parent)
        except BaseException:  # a journal without its header would only stand in the way of the next one
            self._file.close()
            self.path.unlink(missing_ok=True)
            self._lock.release()
            raise

    def chunk(self, arrival: float, data: bytes) -> None:
        """Keep bytes that arrived at a time, in seconds."""
        self._append(_record(RecordKind.CHUNK, _ARRIVAL.pack(arrival) + data))

    def event(self, content: Mapping[str, Any]) -> None:
        """Keep something that happened, as a JSON object; a `msgspec.Struct` inside becomes one too."""
        self._append(_record(RecordKind.EVENT, msgspec.json.encode(content)))

    def sync_if_due(self, now: float) -> bool:
        """Bring to the disk what is not there if the last time was 0.1 s ago or more; say if it was done.

        Parameters
        ----------
        now : float
            Seconds on a clock that only goes forward.
        """
        due = self._synced_at is None or now - self._synced_at >= SYNC_EVERY_S
        if not (due and self._unsynced):
            return False
        self.sync()
        self._synced_at = now
        return True

    def sync(self) -> None:
        """Bring to the disk what is not there.

        Raises
        ------
        ArchiveError
            If the disk does not take it.
        """
        if not self._unsynced:
            return
        try:
            _to_disk(self._file.fileno())
        except OSError as error:
            raise self._failed(error) from error
        self._unsynced = False

    def close(self) -> None:
        """Sync and close; a second time does nothing."""
        if self._file.closed:
            return
        try:
            self.sync()
        finally:
            self._file.close()
            self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _created(self) -> FileIO:
        try:
            return self.path.open("xb", buffering=0)
        except FileExistsError:
            raise ArchiveError(f"{self.path}: is there already, recover or move it first") from None
        except OSError as error:
            raise self._failed(error) from error

    def _append(self, record: bytes) -> None:
        rest = memoryview(record)
        try:
            while rest:
                rest = rest[self._file.write(rest) :]
        except OSError as error:
            with suppress(OSError):  # the first trouble is the one to tell
                self._file.truncate(self._whole)
                self._file.seek(self._whole)
            raise self._failed(error) from error
        self._whole += len(record)
        self._unsynced = True

    def _failed(self, error: OSError) -> ArchiveError:
        return ArchiveError(f"{self.path}: cannot be written: {error.strerror or error}")


def _record(kind: RecordKind, payload: bytes) -> bytes:
    if len(payload) > MAX_PAYLOAD:
        raise ValueError(f"a record must be {MAX_PAYLOAD} bytes at most, got {len(payload)} bytes")
    body = _HEAD.pack(len(payload), kind) + payload
    return body + _CRC.pack(zlib.crc32(body))


class JournalReader:
    """Yields the records of a journal one by one, so that its length does not matter.

    Parameters
    ----------
    path : str or Path
        A file of `JournalWriter`, also one that a killed program left.

    Raises
    ------
    ArchiveError
        If there is no such file, it is not a journal, was made by a newer program, or its header is lost.
    """

    header: dict[str, Any]
    torn: int
    """Bytes at the end that were not read: known once all records were yielded, 0 before."""

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self.torn = 0
        try:
            check_ordinary(self.path)
            self._file: BinaryIO = self.path.open("rb")
        except FileNotFoundError:
            raise ArchiveError(f"{path}: there is no such file") from None
        except OSError as error:
            raise self._unreadable(error) from error
        try:
            self.header = self._first()
        except BaseException:
            self.close()
            raise

    def __iter__(self) -> Iterator[JournalRecord]:
        while (record := self._next()) is not None:
            yield record

    def close(self) -> None:
        """Close the file."""
        self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _first(self) -> dict[str, Any]:
        match = re.fullmatch(rb"ramphold-journal (\d)\n", self._read(len(MAGIC)))
        if match is None:
            raise ArchiveError(f"{self.path}: is not a journal")
        if int(match[1]) > VERSION:
            raise ArchiveError(
                f"{self.path}: was made by a newer program, update this one"
                f" (the file has journal version {int(match[1])}, this program reads {VERSION})"
            )
        raw = self._raw()
        header = _object(raw[1]) if raw and raw[0] == RecordKind.HEADER else None
        if header is None:
            raise ArchiveError(f"{self.path}: its header is damaged, so nothing in it can be understood")
        return header

    def _next(self) -> JournalRecord | None:
        start = self._file.tell()
        raw = self._raw()
        record = _understood(*raw) if raw else None
        if record is None:
            # Back to where the last whole record ended: a journal still being written can be followed.
            self._file.seek(start)
            self.torn = os.fstat(self._file.fileno()).st_size - start
        return record

    def _raw(self) -> tuple[int, bytes] | None:
        """Return kind and payload of the next record; None when it is not whole and true."""
        head = self._read(_HEAD.size)
        if len(head) < _HEAD.size:
            return None
        length, kind = _HEAD.unpack(head)
        if length > MAX_PAYLOAD:
            return None
        rest = self._read(length + _CRC.size)
        payload, check = rest[:length], rest[length:]
        if len(check) < _CRC.size or _CRC.unpack(check)[0] != zlib.crc32(payload, zlib.crc32(head)):
            return None
        return kind, payload

    def _read(self, size: int) -> bytes:
        try:
            return self._file.read(size)
        except OSError as error:
            raise self._unreadable(error) from error

    def _unreadable(self, error: OSError) -> ArchiveError:
        return ArchiveError(f"{self.path}: cannot be read: {error.strerror or error}")


def holds_nothing(path: str | Path) -> bool:
    """Tell whether a journal was broken off before its header was whole, so that nothing was kept in it.

    Raises
    ------
    ArchiveError
        If the file cannot be read.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "broken-off.journal"
    ...     _ = path.write_bytes(MAGIC[:3])
    ...     holds_nothing(path)
    True
    """
    try:
        check_ordinary(Path(path))
        with Path(path).open("rb") as file:
            magic, head = file.read(len(MAGIC)), file.read(_HEAD.size)
            size = os.fstat(file.fileno()).st_size
    except OSError as error:
        raise ArchiveError(f"{path}: cannot be read: {error.strerror or error}") from error
    if len(head) < _HEAD.size:
        return MAGIC.startswith(magic)
    length = _HEAD.unpack(head)[0]
    return magic == MAGIC and length <= MAX_PAYLOAD and size < len(MAGIC) + _HEAD.size + length + _CRC.size


def _understood(kind: int, payload: bytes) -> JournalRecord | None:
    if kind == RecordKind.CHUNK and len(payload) >= _ARRIVAL.size:
        return ChunkRecord(_ARRIVAL.unpack_from(payload)[0], payload[_ARRIVAL.size :])
    if kind == RecordKind.EVENT and (content := _object(payload)) is not None:
        return EventRecord(content)
    return None


def _object(payload: bytes) -> dict[str, Any] | None:
    try:
        return msgspec.json.decode(payload, type=dict[str, Any])
    except (msgspec.DecodeError, UnicodeDecodeError):
        return None
