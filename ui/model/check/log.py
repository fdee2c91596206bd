"""The checks of each sensor, kept from day to day: a folder a sensor, a file a check.

A sensor is known by the name of its profile and by its serial number, where somebody gave one. Files appear whole or
not at all, and are never changed. One that cannot be read is passed over and named.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterator, Mapping
from pathlib import Path

import msgspec

from acquire.errors import AcquireError
from acquire.files.atomic import replace_file
from acquire.files.limits import KEPT_BYTES, read_whole
from analysis.sensor_check import SensorCheck
from ui.model.plan.remembered import PRIVATE, state_file

FOLDER = "checks"
ZERO = "last-session.zero"
"""Beside the checks of a sensor: the zero of its last session."""


class CheckLogError(AcquireError):
    """A check that cannot be kept."""


class SessionZero(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The zero of a sensor in a session."""

    at: dt.datetime
    counts: float


def log_folder(environment: Mapping[str, str]) -> Path:
    """Return where checks are stored: beside what else the program remembers between starts.

    Examples
    --------
    >>> log_folder({"XDG_STATE_HOME": "/state"}).as_posix()
    '/state/ramphold/checks'
    """
    return state_file(environment).parent / FOLDER


class CheckLog:
    """The checks of all sensors.

    Parameters
    ----------
    folder : Path
        It need not exist.

    Attributes
    ----------
    unread : list of Path
        Files that were passed over because they cannot be read.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.unread: list[Path] = []

    def keep(self, check: SensorCheck) -> Path:
        """Write a check, and return where it is.

        Raises
        ------
        CheckLogError
            If it cannot be written; says where and why.
        """
        folder = self._folder_of(check.sensor, check.serial)
        stem = check.made.astimezone(dt.UTC).strftime("%Y-%m-%dT%H%M%S.%fZ")
        names = (f"{stem}{'' if number == 1 else f'-{number}'}.json" for number in itertools.count(1))
        path = next(folder / name for name in names if not (folder / name).exists())
        try:
            _write(path, check)
        except OSError as error:
            raise CheckLogError(f"{path}: the check cannot be kept: {error.strerror or error}") from error
        return path

    def all(self, sensor: str, serial: str = "") -> list[SensorCheck]:
        """Return the checks of a sensor, the oldest first."""
        return sorted(self._read(sensor, serial), key=lambda check: check.made)

    def last(self, sensor: str, serial: str = "") -> SensorCheck | None:
        """Return the last check of a sensor; None when there is none."""
        return next(iter(self._read(sensor, serial)), None)

    def serials(self, sensor: str) -> tuple[str, ...]:
        """Return the serial numbers of this kind of sensor that have been checked, in order."""
        folders = self.folder.glob(f"{_safe(sensor)}--*") if self.folder.is_dir() else ()
        found = {check.serial for folder in folders for check in self._in(folder) if check.sensor == sensor}
        return tuple(sorted(found))

    def note_zero(self, sensor: str, serial: str, zero: SessionZero) -> None:
        """Keep the zero of a session; a place that cannot be written costs only that."""
        try:
            _write(self._folder_of(sensor, serial) / ZERO, zero)
        except OSError:
            return

    def session_zero(self, sensor: str, serial: str = "") -> SessionZero | None:
        """Return the zero of the last session; None when there was none, or it cannot be read."""
        try:
            content = read_whole(self._folder_of(sensor, serial) / ZERO, most=KEPT_BYTES)
            return msgspec.json.decode(content, type=SessionZero)
        except (OSError, msgspec.DecodeError):
            return None

    def _folder_of(self, sensor: str, serial: str) -> Path:
        name = _safe(sensor)
        return self.folder / (f"{name}--{_safe(serial)}" if serial else name)

    def _read(self, sensor: str, serial: str) -> Iterator[SensorCheck]:
        """Yield the checks of a sensor, the newest first."""
        for check in self._in(self._folder_of(sensor, serial)):
            # two serial numbers may differ in what no file name can hold
            if (check.sensor, check.serial) == (sensor, serial):
                yield check

    def _in(self, folder: Path) -> Iterator[SensorCheck]:
        for path in sorted(folder.glob("*.json"), reverse=True):
            try:
                yield msgspec.json.decode(read_whole(path, most=KEPT_BYTES), type=SensorCheck)
            except (OSError, msgspec.DecodeError):
                self.unread.append(path)


def _write(path: Path, value: msgspec.Struct) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)

    def write(aside: Path) -> None:
        aside.touch(PRIVATE)
        aside.write_bytes(msgspec.json.format(msgspec.json.encode(value), indent=1))

    replace_file(path, write)


def _safe(name: str) -> str:
    """Return a name as a part of a file name.

    Examples
    --------
    >>> _safe("LC/42 b"), _safe("..")
    ('LC-42-b', '--')
    """
    return "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in name)
