"""A simulated sensor as a link: the device program `acquire.simulation`, in a process of its own."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
import numpy as np

import acquire
from acquire.links.device_program import DeviceProgramLink
from acquire.sensor.profile_text import profile_text
from acquire.simulation.cell import Cell

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from acquire.sensor.profile import Profile


class SimulatedLink(DeviceProgramLink):
    """A simulated sensor as a `Link`; it is `finished` when all it had to say was handed over.

    Parameters
    ----------
    profile : Profile
        The sensor to be.
    counts : ndarray of int, shape (n,), or Cell
        What it measures, at the profile's rate, once; or a load cell, on which loads are hung by `load_command`.
    speed : float
        Times real time.
    samples_per_packet : int
        For profiles with packets.
    options : sequence of str
        More options of the device program, such as its faults: ``("--corrupt-every", "50")``.

    Raises
    ------
    LinkError
        FAILED, if the device program does not start; else as `SerialLink`.
    """

    def __init__(
        self,
        profile: Profile,
        counts: NDArray[np.integer] | Cell,
        *,
        speed: float = 1.0,
        samples_per_packet: int = 10,
        options: Sequence[str] = (),
    ) -> None:
        self._profile, self._counts = profile, counts
        self._options = ("--speed", str(speed), "--samples-per-packet", str(samples_per_packet), *options)
        super().__init__(profile, speed=speed, called="the simulated sensor")

    def _command(self, folder: Path) -> Sequence[str]:
        measured = _write(folder, self._counts)
        (folder / "sensor.toml").write_text(profile_text(self._profile), encoding="utf-8")
        return [
            *(sys.executable, "-m", "acquire.simulation", "--held"),
            *("--profile", str(folder / "sensor.toml"), *measured),
            *self._options,
        ]

    def _environment(self) -> Mapping[str, str]:
        # Our very own package, wherever this program has it from.
        root = Path(acquire.__path__[0]).parent
        return {**os.environ, "PYTHONPATH": os.pathsep.join([str(root), *sys.path])}


def _write(folder: Path, counts: NDArray[np.integer] | Cell) -> tuple[str, str]:
    """Write what is measured as a file for the device program, and return how it is told."""
    if isinstance(counts, Cell):
        path = folder / "cell.json"
        path.write_bytes(msgspec.json.encode(counts))
        return "--cell", str(path)
    np.save(folder / "counts.npy", counts)
    return "--counts", str(folder / "counts.npy")
