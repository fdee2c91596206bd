"""Captures as files: a journal, which knows when bytes came and what was asked, or a file of nothing but bytes.

A journal of a recording serves as well as one that discovery kept. Of a long one the beginning is read.
"""

from __future__ import annotations

from itertools import takewhile
from pathlib import Path

import msgspec

from acquire.discovery.capture import Asked, Capture
from acquire.errors import ArchiveError, TraceFileError
from acquire.files.limits import check_ordinary
from acquire.links.base import Chunk
from acquire.storage.journal import ChunkRecord, EventRecord, JournalReader, JournalWriter

MOST_BYTES = 4_000_000
MOST_S = 120.0
BEGINS = b"ramphold-journal "


class _Header(msgspec.Struct, frozen=True):
    """What discovery needs to know of a journal; those of recordings say nothing of it."""

    datagrams: bool = False
    service: str = ""
    characteristic: str = ""


def read_capture(path: str | Path) -> Capture:
    """Return the capture in a file.

    Raises
    ------
    TraceFileError
        If it cannot be read.
    ArchiveError
        If it is a journal and damaged, or of a newer program.
    """
    try:
        check_ordinary(Path(path))
        with Path(path).open("rb") as file:
            data = file.read(MOST_BYTES)
    except FileNotFoundError:
        raise TraceFileError(f"{path}: there is no such file") from None
    except OSError as error:
        raise TraceFileError(f"{path}: cannot be read: {error.strerror or error}") from error
    if data.startswith(BEGINS):
        return _journal(path)
    return Capture(chunks=(Chunk(0.0, data),), timed=False)


def write_capture(path: str | Path, capture: Capture) -> None:
    """Keep a capture as a journal.

    Raises
    ------
    ArchiveError
        If the file exists already or cannot be written.
    """
    header = _Header(datagrams=capture.datagrams, service=capture.service, characteristic=capture.characteristic)
    with JournalWriter(path, header) as journal:
        for chunk in capture.chunks:
            journal.chunk(*chunk)
        for asked in capture.asked:
            journal.event({"asked": list(asked)})


def _journal(path: str | Path) -> Capture:
    with JournalReader(path) as journal:
        records = list(takewhile(_Beginning(), journal))
        events = [record.content for record in records if isinstance(record, EventRecord)]
        told = [content["asked"] for content in events if "asked" in content]
        try:
            header, asked = msgspec.convert(journal.header, _Header), msgspec.convert(told, tuple[Asked, ...])
        except msgspec.ValidationError as error:
            raise ArchiveError(f"{path}: what was asked of the person cannot be understood: {error}") from error
    return Capture(
        chunks=tuple(Chunk(*record) for record in records if isinstance(record, ChunkRecord)),
        datagrams=header.datagrams,
        asked=asked,
        service=header.service,
        characteristic=header.characteristic,
    )


class _Beginning:
    """Says of each record whether it still belongs to the part that is read."""

    def __init__(self) -> None:
        self._bytes = 0
        self._first: float | None = None

    def __call__(self, record: ChunkRecord | EventRecord) -> bool:
        if isinstance(record, EventRecord):
            return True
        self._bytes += len(record.data)
        self._first = record.arrival if self._first is None else self._first
        return self._bytes <= MOST_BYTES and record.arrival - self._first <= MOST_S
