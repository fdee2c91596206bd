"""The body of a session file: texts and arrays in HDF5, and nothing of what they mean.

What repeats for each trial goes through h5py's low-level calls: the cost is per object, not per byte, and they
halve it, writing and reading (``tests/bench/bench_session_save.py``). Contiguous and uncompressed: gzip saves
45 % of the size, and writing takes 2.5 times as long.

Reading takes only what writing makes: groups and datasets of this very file, contiguous, without filters, as large as
they say. A dataset may else be stored in any other file that the reader can read, and a link lead to one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import h5py
import numpy as np
from h5py import h5a, h5d, h5g, h5l, h5p, h5s, h5t

from acquire.errors import ArchiveError
from acquire.storage.seal import damaged

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

MAX_SAMPLES = 100_000_000
"""More than a day at 1 kHz: a longer trial is damage, not a recording."""

TRIALS, CONTACTS = "trials", "contacts"
_TEXT = h5t.py_create(h5py.string_dtype(), logical=True)
_SCALAR = h5s.create(h5s.SCALAR)
# Without times in it, the same session gives the same bytes.
_UNTIMED = h5p.create(h5p.DATASET_CREATE)
_UNTIMED.set_obj_track_times(False)


class Samples(NamedTuple):
    """The arrays of one trial."""

    time: NDArray[np.float64]
    counts: NDArray[Any]


class Stretch(NamedTuple):
    """One trial or contact: the text that describes it, and its arrays."""

    context: str
    samples: Samples


def write_body(
    path: Path, block: int, attributes: Mapping[str, str | int], groups: Mapping[str, Sequence[Stretch]]
) -> None:
    """Write a new file, its first `block` bytes left free; a data file is never opened for writing twice."""
    with h5py.File(path, "x", userblock_size=block) as file:
        for name, value in attributes.items():
            _put_attribute(file.id, name.encode(), value)
        for name, stretches in groups.items():
            _put_group(file.create_group(name).id, stretches)


def _put_group(owner: h5g.GroupID, stretches: Sequence[Stretch]) -> None:
    for number, (context, (time, counts)) in enumerate(stretches, start=1):
        group = h5g.create(owner, b"%04d" % number)
        _put_attribute(group, b"context", context)
        _put_array(group, b"time_s", time)
        _put_array(group, b"counts", counts)


def _put_attribute(owner: h5g.GroupID, name: bytes, value: str | int) -> None:
    stored_as, kind = (_TEXT, object) if isinstance(value, str) else (h5t.STD_I64LE, np.int64)
    h5a.create(owner, name, stored_as, _SCALAR).write(np.array(value, dtype=kind))


def _put_array(group: h5g.GroupID, name: bytes, values: NDArray[Any]) -> None:
    stored_as = h5t.STD_I32LE if values.dtype == np.int32 else h5t.IEEE_F64LE
    dataset = h5d.create(group, name, stored_as, h5s.create_simple(values.shape), dcpl=_UNTIMED)
    dataset.write(h5s.ALL, h5s.ALL, np.ascontiguousarray(values))


def read_samples(path: Path, *names: str) -> list[list[Samples]]:
    """Return the arrays of all trials, and of all contacts, in order, as the groups are named.

    Raises
    ------
    ArchiveError
        If something is missing or of another kind; the message names the file and the piece.
    """
    try:
        # No lock: a file is never changed, and some shared folders have no locks.
        with h5py.File(path, "r", locking=False) as file:
            room = _Room(path.stat().st_size)
            return [_group(path, file, name, room) for name in names]
    except (OSError, RuntimeError, KeyError, ValueError, TypeError) as error:
        # What HDF5 raises is whatever a broken piece leads to; the file is all there is to name.
        raise damaged(path) from error


class _Room:
    """How many bytes of a file can still be samples: one dataset may have many names."""

    def __init__(self, bytes_: int) -> None:
        self._left = bytes_

    def take(self, bytes_: int, where: str) -> None:
        self._left -= bytes_
        if self._left < 0:
            raise ArchiveError(f"{where} would make more samples than the file has bytes for")


def _group(path: Path, file: h5py.File, name: str, room: _Room) -> list[Samples]:
    owner = h5g.open(_own(file.id, name.encode(), str(path)), name.encode())
    where = f"{path}: is damaged: {name}"
    return [_samples(f"{where}/{each.decode()}", owner, each, room) for each in sorted(owner, key=int)]


def _samples(where: str, owner: h5g.GroupID, name: bytes, room: _Room) -> Samples:
    group = h5g.open(_own(owner, name, where), name)
    return Samples(
        _array(where, group, b"time_s", (np.float64,), room),
        _array(where, group, b"counts", (np.int32, np.float64), room),
    )


def _array(where: str, group: h5g.GroupID, name: bytes, kinds: Sequence[type], room: _Room) -> NDArray[Any]:
    if name not in group:
        raise ArchiveError(f"{where} has no dataset {name.decode()}")
    dataset = h5d.open(_own(group, name, where), name)
    kind, shape = dataset.dtype, dataset.shape
    if kind not in kinds or len(shape) != 1 or shape[0] > MAX_SAMPLES:
        wanted = " or ".join(kind.__name__ for kind in kinds)
        raise ArchiveError(f"{where}/{name.decode()} must be one column of {wanted}, got {kind} of shape {shape}")
    made = dataset.get_create_plist()
    plain = made.get_layout() == h5d.CONTIGUOUS and not made.get_external_count() and not made.get_nfilters()
    if not plain or dataset.get_storage_size() != shape[0] * kind.itemsize:
        raise ArchiveError(
            f"{where}/{name.decode()} is not stored as this program stores it: as one piece of this file"
        )
    room.take(dataset.get_storage_size(), f"{where}/{name.decode()}")
    values = np.empty(shape, kind)
    dataset.read(h5s.ALL, h5s.ALL, values)
    return values


def _own(group: h5g.GroupID, name: bytes, where: str) -> h5g.GroupID:
    """Return a group whose piece of that name lies in the same file; a link that leads elsewhere is no piece of it."""
    if name in group and group.links.get_info(name).type != h5l.TYPE_HARD:
        raise ArchiveError(f"{where}: {name.decode()} is a link: a session file holds its samples itself")
    return group
