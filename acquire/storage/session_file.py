r"""One session, one file: written whole, never changed in place, an ordinary HDF5 file to any program.

Version 1, by custom ``*.h5``::

    offset 0      ramphold-session 1\n
                  {"block":B,"index_bytes":..,"index_crc32":..,"body_bytes":..,"body_crc32":..}\n
                  {"context":{..},"trials":[{..},..]}\n          the index
                  zero bytes up to offset B, a power of two, at least 512
    offset B      an ordinary HDF5 file (the head is what HDF5 calls a user block)

    /                        format = "ramphold-session", format_version = 1, about = a line for the reader,
                             context = JSON of SessionContext
    /trials/0001, 0002, ..   context = JSON of TrialRecord
    /trials/0001/time_s      float64 (n,), seconds on the session's clock, strictly increasing; a jump is a gap
    /trials/0001/counts      int32 or float64 (n,), what the sensor sent
    /contacts/0001, ..       as the trials; there only when something pressed the pad and was no effort

Checksums are CRC-32 as in zlib: `index_crc32` over the index without its line feed, `body_crc32` over all bytes from B
to the end. The JSON of a trial has the keys `context` (action, side, method, examiner, ...), `calibration`,
`zero_counts`, `resting_n`, `damage`, `verdict`, `set_aside`, `notes`; a contact has the same keys and no verdict. With
contacts, the index has a list of that name behind the trials. The index repeats the JSON of the attributes: Ramphold
reads the index, other programs the attributes. Times are ISO 8601 with their offset from UTC. Unknown keys are errors;
a higher version is refused as made by a newer program.

Force in N is ``(counts - zero_counts) * calibration.newtons_per_count``, both from the JSON of the trial. In Python::

    import h5py, json
    with h5py.File("session.h5") as file:
        trial = file["trials/0001"]
        about = json.loads(trial.attrs["context"])
        force_n = (trial["counts"][:] - about["zero_counts"]) * about["calibration"]["newtons_per_count"]

Why a head: an archive is walked by the first kilobytes of each file (0.1 to 0.4 ms), and damage is found before HDF5
meets it, which a flipped bit can crash or hang. A file changed by other programs is therefore refused; read it and
write a new one. One JSON text a trial, because reading fifteen attributes takes 25 times as long. Samples are not
compressed: gzip saves 45 % of the size, and writing takes 2.5 times as long.

A new trial means a new file in place of the old (`acquire.files.atomic`): writers that were killed with a file open for
appending lost trials they had flushed long before. A crash leaves the old file, and perhaps a hidden
``.NAME.xxxxxxxx.part`` that may be deleted.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np

from acquire.errors import ArchiveError
from acquire.files.atomic import replace_file
from acquire.storage import seal
from acquire.values.calibration import Calibration
from acquire.values.outside_text import MAY_BE_OBEYED, all_visible
from acquire.values.records import Note, Session, SessionContext, SetAside, Trial, TrialContext

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from numpy.typing import NDArray

    from acquire.storage import hdf5
    from acquire.values.arrays import FloatArray

    Counts = NDArray[np.int32] | FloatArray

ABOUT = (
    "Strength session by Ramphold. Each group of /trials has time_s in seconds, counts as the sensor sent them,"
    " and the JSON attribute context. Force in newtons = (counts - zero_counts) * calibration.newtons_per_count."
)


MOST_LOST = 20_000_000
"""A trial that would span more samples, lost ones counted, is damage: six minutes of the fastest sensor there is."""


YEARS = (1990, 2199)
SENSITIVITIES = (1e-12, 1e6)
"""Newtons a count, of either sign."""
MOST_COUNTS = 1e15
"""Whole numbers up to here are exact, and newtons of them finite."""
FASTEST_S = 1e-6
"""Between two samples; the sensors of this program send a thousandth of it."""


class TrialRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All of a trial but its samples."""

    context: TrialContext
    calibration: Calibration
    zero_counts: float
    resting_n: float = 0.0
    damage: tuple[str, ...] = ()
    verdict: dict[str, Any] | None = None
    set_aside: tuple[SetAside, ...] = ()
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        _check_zones(started=self.context.started)
        if not SENSITIVITIES[0] <= abs(self.calibration.newtons_per_count) <= SENSITIVITIES[1]:
            raise ValueError(f"a count must be {SENSITIVITIES[0]:g} to {SENSITIVITIES[1]:g} N of any sensor there is")
        if abs(self.zero_counts) > MOST_COUNTS:
            raise ValueError(f"the zero must be {MOST_COUNTS:g} counts at most, got {self.zero_counts:g}")
        for at in (*(decision.at for decision in self.set_aside), *(note.at for note in self.notes)):
            _check_zones(at=at)


class SessionIndex(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All of a session but its samples."""

    context: SessionContext
    trials: tuple[TrialRecord, ...]
    contacts: tuple[TrialRecord, ...] = ()

    def __post_init__(self) -> None:
        _check_zones(started=self.context.started, cautions_acknowledged=self.context.cautions_acknowledged)
        for item in self.context.skipped:
            _check_zones(started=item.started)


def _check_zones(**times: datetime | None) -> None:
    for key, time in times.items():
        if time is not None and time.utcoffset() is None:
            raise ValueError(f"{key} must carry its zone, got {time.isoformat()}")
        if time is not None and not YEARS[0] <= time.year <= YEARS[1]:
            raise ValueError(f"{key} must be from {YEARS[0]} to {YEARS[1]}, got {time.isoformat()}")


def write_session(path: str | Path, session: Session) -> None:
    """Write a session whole, in place of what was there.

    Parameters
    ----------
    path : str or Path
        The file, by custom named ``*.h5``, in a folder that exists.
    session : Session
        A NaN inside a verdict is stored as null.

    Raises
    ------
    ArchiveError
        If the file cannot be written; what was there before is then untouched.
    ValueError
        If the session holds what could not be read back: an array of the wrong shape, kind or order, a time
        without its zone, a NaN where a number must be. Nothing is written then.

    Examples
    --------
    >>> import datetime as dt, tempfile
    >>> from acquire.values.records import SessionContext
    >>> began = dt.datetime(2026, 3, 2, 9, 30, tzinfo=dt.UTC)
    >>> session = Session(context=SessionContext(session="s-1", started=began))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "p014.h5"
    ...     write_session(path, session)
    ...     path.read_bytes()[:8]
    b'ramphold'
    """
    from acquire.storage import hdf5  # noqa: PLC0415 - h5py takes 0.1 s, and a start-up needs none

    context = _json("the session", session.context)
    groups = {hdf5.TRIALS: _stretches("trial", session.trials)}
    if session.contacts:
        groups[hdf5.CONTACTS] = _stretches("contact", session.contacts)
    lists = [f'"{name}":[{",".join(each.context for each in group)}]' for name, group in groups.items()]
    index = f'{{"context":{context},{",".join(lists)}}}'.encode()
    msgspec.json.decode(index, type=SessionIndex)  # checks its times
    attributes: dict[str, str | int] = {
        "format": seal.FORMAT,
        "format_version": seal.FORMAT_VERSION,
        "about": ABOUT,
        "context": context,
    }

    def write(aside: Path) -> None:
        hdf5.write_body(aside, seal.block_for(index), attributes, groups)
        seal.seal_file(aside, index)

    try:
        replace_file(path, write)
    except (OSError, RuntimeError) as error:  # HDF5 meets a full disk in either way
        raise ArchiveError(f"{path}: cannot be written: {_reason(error)}") from error


def _reason(error: OSError | RuntimeError) -> str:
    """Return why a file could not be written; of HDF5's many words those of the system."""
    system = re.search(r"error message = '([^']+)'", str(error))
    if system is not None:
        return system[1]
    return getattr(error, "strerror", None) or " ".join(str(error).split())


def _stretches(what: str, trials: Sequence[Trial]) -> list[hdf5.Stretch]:
    """Return trials or contacts as they are written."""
    from acquire.storage import hdf5  # noqa: PLC0415 - as above

    found = []
    for number, trial in enumerate(trials, start=1):
        text = _json(f"{what} {number}", _record(f"{what} {number}", trial))
        found.append(hdf5.Stretch(text, hdf5.Samples(trial.time, trial.counts)))
    return found


def _record(where: str, trial: Trial) -> TrialRecord:
    if fault := _samples_fault(trial.time, trial.counts):
        raise ValueError(f"{where}: {fault}")
    return TrialRecord(
        context=trial.context,
        calibration=trial.calibration,
        zero_counts=trial.zero_counts,
        resting_n=trial.resting_n,
        damage=trial.damage,
        verdict=None if trial.verdict is None else dict(trial.verdict),
        set_aside=trial.set_aside,
        notes=trial.notes,
    )


def _json(where: str, record: msgspec.Struct) -> str:
    """Return the record as JSON that was proven to read back."""
    try:
        text = msgspec.json.encode(record).decode()
        back = msgspec.json.decode(text, type=type(record))
    except (TypeError, msgspec.ValidationError) as error:
        raise ValueError(f"{where} cannot be stored: {error}") from error
    # Compared as plain values: in the hour that a clock put back repeats, a time equals none of another zone.
    meant, kept = msgspec.to_builtins(record), msgspec.to_builtins(back)
    for key in meant:
        if key != "verdict" and meant[key] != kept[key]:
            raise ValueError(f"{where} cannot be stored: {key} holds a NaN or infinite number")
    return text


def read_session(path: str | Path) -> Session:
    """Read a session whole.

    Parameters
    ----------
    path : str or Path
        A file of `write_session`.

    Returns
    -------
    Session
        Equal to what was written, but that times keep their offset and not the name of their zone.

    Raises
    ------
    ArchiveError
        If there is no such file, it is not a session file, is damaged or changed, holds an unknown key, or was
        made by a newer program; one sentence that names the file, and the piece or key.

    Examples
    --------
    >>> import datetime as dt, tempfile
    >>> from acquire.values.records import SessionContext
    >>> began = dt.datetime(2026, 3, 2, 9, 30, tzinfo=dt.UTC)
    >>> session = Session(context=SessionContext(session="s-1", started=began))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "p014.h5"
    ...     write_session(path, session)
    ...     read_session(path).context == session.context
    True
    """
    from acquire.storage import hdf5  # noqa: PLC0415 - h5py takes 0.1 s, and a start-up needs none

    path = Path(path)
    index = _decoded(path, seal.check_all(path))
    records = {hdf5.TRIALS: index.trials} | ({hdf5.CONTACTS: index.contacts} if index.contacts else {})
    stored = dict(zip(records, hdf5.read_samples(path, *records), strict=True))
    return Session(
        context=index.context,
        trials=_trials(path, hdf5.TRIALS, index.trials, stored[hdf5.TRIALS]),
        contacts=_trials(path, hdf5.CONTACTS, index.contacts, stored.get(hdf5.CONTACTS, [])),
    )


def read_index(path: str | Path) -> SessionIndex:
    """Read all of a session but its samples, from the head of the file alone.

    Raises
    ------
    ArchiveError
        As `read_session`; damage to the samples is not looked for.

    Examples
    --------
    >>> import datetime as dt, tempfile
    >>> from acquire.values.records import SessionContext
    >>> began = dt.datetime(2026, 3, 2, 9, 30, tzinfo=dt.UTC)
    >>> session = Session(context=SessionContext(session="s-1", started=began))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "p014.h5"
    ...     write_session(path, session)
    ...     index = read_index(path)
    >>> index.context.session, index.trials
    ('s-1', ())
    """
    path = Path(path)
    return _decoded(path, seal.read_index(path))


def is_session_file(path: str | Path) -> bool:
    """Return whether a file begins like a session file, of whatever version; False when it cannot be read.

    Examples
    --------
    >>> import datetime as dt, tempfile
    >>> from acquire.values.records import SessionContext
    >>> began = dt.datetime(2026, 3, 2, 9, 30, tzinfo=dt.UTC)
    >>> session = Session(context=SessionContext(session="s-1", started=began))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "p014.h5"
    ...     write_session(path, session)
    ...     is_session_file(path), is_session_file(Path(folder) / "none.h5")
    (True, False)
    """
    return seal.is_sealed(Path(path))


def _decoded(path: Path, index: bytes) -> SessionIndex:
    try:
        if MAY_BE_OBEYED.search(index):
            index = msgspec.json.encode(all_visible(msgspec.json.decode(index)))
        return msgspec.json.decode(index, type=SessionIndex)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise ArchiveError(f"{path}: cannot be understood: {error}") from error
    except RecursionError as error:
        raise ArchiveError(f"{path}: cannot be understood: its index is nested too deeply") from error


def _trials(
    path: Path, name: str, records: Sequence[TrialRecord], samples: Sequence[hdf5.Samples]
) -> tuple[Trial, ...]:
    if len(samples) != len(records):
        raise ArchiveError(f"{path}: is damaged: {len(records)} {name} in the index, {len(samples)} stored")
    pairs = zip(records, samples, strict=True)
    return tuple(
        _trial(f"{path}: is damaged: {name}/{number:04d}", record, *each)
        for number, (record, each) in enumerate(pairs, start=1)
    )


def _trial(where: str, record: TrialRecord, time: FloatArray, counts: Counts) -> Trial:
    if fault := _samples_fault(time, counts):
        raise ArchiveError(f"{where}: {fault}")
    return Trial(
        time=time,
        counts=counts,
        calibration=record.calibration,
        zero_counts=record.zero_counts,
        resting_n=record.resting_n,
        context=record.context,
        damage=record.damage,
        verdict=record.verdict,
        set_aside=record.set_aside,
        notes=record.notes,
    )


def _samples_fault(time: FloatArray, counts: Counts) -> str | None:
    if time.ndim != 1 or time.shape != counts.shape:
        return f"time_s and counts must be 1-D and alike, got {time.shape} and {counts.shape}"
    if time.dtype != np.float64 or counts.dtype not in (np.int32, np.float64):
        return f"time_s must be float64 and counts int32 or float64, got {time.dtype} and {counts.dtype}"
    return _time_fault(time) or _counts_fault(counts)


def _counts_fault(counts: Counts) -> str | None:
    if np.isinf(counts).any():
        return "counts must be finite, or NaN where a sample was lost"
    if (np.abs(counts.astype(np.float64)) > MOST_COUNTS).any():  # a NaN compares false
        return f"counts must be {MOST_COUNTS:g} at most"
    return None


def _time_fault(time: FloatArray) -> str | None:
    # A NaN compares false, so that between finite ends all is finite.
    rising = (time[1:] > time[:-1]).all() and np.isfinite(time[:1]).all() and np.isfinite(time[-1:]).all()
    if not rising:
        return "time_s must be finite and increase"
    if len(time) < 2:
        return None
    step, span = float(np.median(np.diff(time))), float(time[-1] - time[0])
    if step < FASTEST_S:
        return f"time_s has steps of less than {FASTEST_S:g} s: no sensor is so fast"
    if span > MOST_LOST * step:
        return f"time_s spans {span:.3g} s for {len(time)} samples: no trial lasts so long"
    return None
