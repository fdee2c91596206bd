"""A journal read whole, to hold it to what was written; the program reads it piece by piece."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from acquire.storage.journal import JournalReader, JournalRecord


@dataclass(frozen=True, kw_only=True)
class Journal:
    """All that a reader found."""

    header: dict[str, Any]
    records: tuple[JournalRecord, ...]
    torn: int


def read_journal(path: str | Path) -> Journal:
    """Read a journal to its end, torn or not."""
    with JournalReader(path) as reader:
        records = tuple(reader)
        return Journal(header=reader.header, records=records, torn=reader.torn)
