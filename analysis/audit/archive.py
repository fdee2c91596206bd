"""Measure every session of an archive once; the only module of the analysis that walks one.

The work is cut into batches of files, and a `Mapper` says where they are done: here, in processes, on a cluster. Every
batch that comes back is kept at once (`acquire.storage.measured_store`), so that an audit that is stopped goes on where
it was, and one that is repeated opens no trace. A file that cannot be read is a result too, with the reason.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import msgspec

from acquire.errors import AcquireError
from acquire.storage.measured_store import DamagedStoreError, MeasuredStore, fingerprint
from acquire.storage.session_file import read_session
from acquire.storage.walk import session_paths, shown_name
from analysis.audit.facts import SessionFacts, facts_of
from analysis.audit.recipe import recipe_of
from analysis.trial.protocol import Protocol

BATCH = 8
"""Files a batch: some tenths of a second of work."""


class Measured(msgspec.Struct, frozen=True, kw_only=True):
    """One file of an archive: its facts, or why it could not be read."""

    file: str
    fingerprint: str
    facts: SessionFacts | None = None
    error: str = ""


Batch = tuple[str, ...]
Mapper = Callable[["BatchWork", Iterable[Batch]], Iterator[list[bytes]]]
"""Does batches of work in any order."""

Progress = Callable[[int, int], None]
"""Is told how many files are done, of how many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchWork:
    """What is done with a batch, wherever that is: files in, measured files as JSON out."""

    root: str
    protocol: Protocol

    def __call__(self, batch: Batch) -> list[bytes]:
        """Measure the files of a batch."""
        return [msgspec.json.encode(self._measured(file)) for file in batch]

    def _measured(self, file: str) -> Measured:
        path = Path(self.root) / file
        seal = fingerprint(path)
        try:
            return Measured(file=file, fingerprint=seal, facts=facts_of(file, read_session(path), self.protocol))
        except AcquireError as error:
            return Measured(file=file, fingerprint=seal, error=str(error))
        except Exception as error:  # noqa: BLE001 - whatever one file does, the others are measured
            why = f"{path}: cannot be judged: {type(error).__name__}: {error}"
            return Measured(file=file, fingerprint=seal, error=why)

    def killed(self, file: str) -> list[bytes]:
        """Return the result of a file whose measuring ended the process that did it."""
        path = Path(self.root) / file
        why = f"{path}: cannot be judged: the process that read it was killed; is it too large for the memory?"
        return [msgspec.json.encode(Measured(file=file, fingerprint=fingerprint(path), error=why))]


def measure_archive(
    folder: str | Path,
    protocol: Protocol,
    store: MeasuredStore,
    *,
    mapper: Mapper = map,
    progress: Progress | None = None,
) -> int:
    """Measure all session files of an archive that are new or changed, and return how many that were.

    Parameters
    ----------
    folder : str or Path
        The archive.
    protocol : Protocol
        What every trial is judged by.
    store : MeasuredStore
        Where results are kept; what is there already is not measured again, nor after another protocol was tried.
    mapper : callable
        Where the work is done.
    progress : callable
        Is told after each batch.

    Raises
    ------
    ArchiveError
        If there is no such folder, or results cannot be kept.
    """
    root, recipe = Path(folder), recipe_of(protocol)
    found = [str(path.relative_to(root)) for path in session_paths(root)]
    nameless = {shown_name(file) for file in found if not _is_text(file)}
    there = [file for file in found if _is_text(file)]
    store.use(recipe)
    store.forget(store.files().difference(there, nameless))
    store.put(((file, "", _without_a_name(root, file)) for file in nameless), recipe)
    known = store.fingerprints(recipe)
    todo = [file for file in there if known.get(file) != fingerprint(root / file)]
    done = len(there) - len(todo)
    tell = progress or _no_progress
    tell(done, len(there))
    work = BatchWork(root=str(root), protocol=protocol)
    for results in mapper(work, _batches(todo)):
        measured = [(msgspec.json.decode(result, type=_Keyed), result) for result in results]
        store.put(((key.file, key.fingerprint, result) for key, result in measured), recipe)
        done += len(results)
        tell(done, len(there))
    return len(todo)


def measured_sessions(store: MeasuredStore, protocol: Protocol) -> Iterator[Measured]:
    """Yield the stored result of each file, one at a time, in the order of the files' names.

    Raises
    ------
    DamagedStoreError
        If a result is not what was kept.
    """
    decoder = msgspec.json.Decoder(Measured)
    for file, result in store.results(recipe_of(protocol)):
        try:
            yield decoder.decode(result)
        except (msgspec.DecodeError, UnicodeDecodeError) as error:
            raise DamagedStoreError(f"{store.path}: the result of {file} is damaged: audit again") from error


def _is_text(file: str) -> bool:
    """Return whether a name can be written down: names of other systems may be bytes of no text."""
    try:
        file.encode()
    except UnicodeEncodeError:
        return False
    return True


def _without_a_name(root: Path, file: str) -> bytes:
    why = f"{root}/{file}: its name, or that of its folder, is not written in UTF-8: rename it"
    return msgspec.json.encode(Measured(file=file, fingerprint="", error=why))


def _no_progress(done: int, total: int) -> None:
    """Tell nobody."""


def _batches(files: list[str]) -> Iterator[Batch]:
    for start in range(0, len(files), BATCH):
        yield tuple(files[start : start + BATCH])


class _Keyed(msgspec.Struct):
    """The part of a result that makes its key in the store."""

    file: str
    fingerprint: str
