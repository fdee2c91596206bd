"""The emulated board: the reference firmware, compiled for its chip and run by simavr.

What stands in hardware_notes/firmware is built once into a cache folder, named by what it was built from, and
found there the next time. Needed are a compiler for the chip, one for this computer, and simavr; where one is
missing, `build_board` says which Debian packages bring it, and so does ``python -m acquire.simulation.board``, which
prints nothing where all is there.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import acquire
from acquire.errors import LinkError, LinkFailure

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

FIRMWARE = Path(acquire.__path__[0]).parent / "hardware_notes" / "firmware"
TARGETS = {"avr": ("sensor.elf", "vectors.elf"), "emulator": ("board",)}
"""What is made of each part."""

NEEDS = {
    ("make", "--version"): ("make",),
    ("cc", "-fsyntax-only", "-include", "stdlib.h", "-x", "c", "/dev/null"): ("gcc", "libc6-dev"),
    ("cc", "-fsyntax-only", "-include", "simavr/sim_elf.h", "-x", "c", "/dev/null"): ("libsimavr-dev", "libelf-dev"),
    ("avr-gcc", "--version"): ("gcc-avr",),
    ("avr-gcc", "-mmcu=atmega328p", "-fsyntax-only", "-include", "avr/io.h", "-x", "c", "/dev/null"): ("avr-libc",),
}
"""What must run without an error, and the Debian packages that make it so."""


class Board(NamedTuple):
    """What was built."""

    program: Path
    """The emulator, for this computer."""
    firmware: Path
    """What the chip runs."""
    vectors: Path
    """Another program for the chip: it makes the frames that it is told to, for the tests."""


def cache_folder(environment: Mapping[str, str]) -> Path:
    """Return where things are kept that can be made again, by the XDG Base Directory Specification 0.8.

    Examples
    --------
    >>> cache_folder({"XDG_CACHE_HOME": "/cache"}).as_posix()
    '/cache/ramphold'
    """
    given = environment.get("XDG_CACHE_HOME", "")
    # the specification: a relative path is invalid and is to be ignored
    folder = Path(given) if given and Path(given).is_absolute() else Path.home() / ".cache"
    return folder / "ramphold"


def missing_packages() -> tuple[str, ...]:
    """Return the Debian packages without which the board cannot be built here."""
    return tuple(package for command, packages in NEEDS.items() if not _runs(command) for package in packages)


def build_board(cache: Path | None = None) -> Board:
    """Return the emulated board, built if it was not built before.

    Parameters
    ----------
    cache : Path, optional
        Where built things are kept; the user's cache folder when left out.

    Raises
    ------
    LinkError
        NOT_FOUND, if the firmware's source or something to build it with is missing; FAILED, if it cannot be
        built. One plain sentence says what to do.
    """
    if not (FIRMWARE / "avr").is_dir():
        raise _error(
            "the firmware is not beside the program, which was installed without it: run it from a checkout",
            LinkFailure.NOT_FOUND,
        )
    folder = (cache or cache_folder(os.environ)) / f"board-{_fingerprint()}"
    if not folder.is_dir():
        _build(folder)
    return Board(folder / "board", folder / "sensor.elf", folder / "vectors.elf")


def _fingerprint() -> str:
    digest = hashlib.sha256()
    for path in _sources():
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


def _sources() -> Iterator[Path]:
    for part in TARGETS:
        yield from sorted(path for path in (FIRMWARE / part).iterdir() if path.is_file())


def _build(folder: Path) -> None:
    if packages := missing_packages():
        raise _error(
            f"the board cannot be emulated without {', '.join(packages)}: have them installed "
            f"(apt-get install {' '.join(packages)})",
            LinkFailure.NOT_FOUND,
        )
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        # Aside, then put in place whole: what is there was built to its end.
        with tempfile.TemporaryDirectory(prefix="building-", dir=folder.parent) as aside:
            built = Path(aside) / "board"
            for part, targets in TARGETS.items():
                _make(part, built, targets)
            _put_in_place(built, folder)
    except OSError as error:
        raise _error(f"{folder}: cannot be written: {error.strerror}", LinkFailure.FAILED) from error


def _make(part: str, built: Path, targets: tuple[str, ...]) -> None:
    command = ["make", "-C", str(FIRMWARE / part), f"BUILD={built}", *(str(built / target) for target in targets)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 - our own files
    if done.returncode:
        said = next((line for line in done.stderr.splitlines() if "error" in line.lower()), "make failed")
        raise _error(f"the board cannot be built ({said}): look at {FIRMWARE / part}", LinkFailure.FAILED)


def _put_in_place(built: Path, folder: Path) -> None:
    try:
        built.rename(folder)
    except OSError:
        if not folder.is_dir():  # another program was faster, and built the same
            raise


def _runs(command: tuple[str, ...]) -> bool:
    if shutil.which(command[0]) is None:
        return False
    return subprocess.run(command, capture_output=True, check=False).returncode == 0  # noqa: S603 - from `NEEDS`


def _error(message: str, reason: LinkFailure) -> LinkError:
    return LinkError(message, port="board", reason=reason)


if __name__ == "__main__":
    sys.stdout.write(" ".join(missing_packages()))
