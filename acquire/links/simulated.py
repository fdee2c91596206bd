"""A simulated sensor as a link: the device program in a process of its own, read by `SerialLink`.

Nothing of the serial code is left out: the bytes go through a real pseudo-terminal. The link's seconds
are the *device's* seconds (host seconds times the speed, where that is finite), so that rates and
pauses come out the same at any speed. Only silence is judged in host seconds when the device is fast: half a
second of device time at a hundred times its speed is five milliseconds, which a busy computer may sleep through.
"""

from __future__ import annotations

import contextlib
import json
import math
import os
import select
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Self

import msgspec
import numpy as np

import acquire
from acquire.errors import LinkError, LinkFailure
from acquire.links.serial import SerialLink
from acquire.simulation.cell import Cell

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from types import TracebackType

    from numpy.typing import NDArray

    from acquire.links.base import Chunk, RadioState
    from acquire.profile import Profile

START_LIMIT_S = 20.0
"""Seconds for a new process to import numpy and load the counts, on a slow and busy machine."""
STOP_LIMIT_S = 5.0
POLL_S = 0.02
"""How late the end of the counts may be noticed."""


class SimulatedLink:
    """A simulated sensor as a `Link`; it is `finished` when all it had to say was handed over.

    Parameters
    ----------
    profile : Profile
        The sensor to be.
    counts : ndarray of int, shape (n,), or Cell
        What it measures, at the profile's rate, once; or a load cell, on which loads are hung by `load_command`.
    speed : float
        Times as fast as life.
    samples_per_packet : int
        For profiles with packets.
    options : sequence of str
        More options of the device program, such as its faults: ``("--corrupt-every", "50")``.

    Attributes
    ----------
    port : str
        The pseudo-terminal.
    clock : callable
        The seconds that chunks are stamped with.

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
        self._folder = tempfile.TemporaryDirectory(prefix="ramphold-simulated-")
        self._taken = 0
        self._total: int | None = None
        self._closed = False
        scale = speed if math.isfinite(speed) else 1.0
        self.clock: Callable[[], float] = lambda: time.monotonic() * scale
        self._process = self._start_device(
            profile,
            counts,
            ("--speed", str(speed), "--samples-per-packet", str(samples_per_packet), *options),
        )
        try:
            self.port = self._told_port()
            self._serial = SerialLink.for_profile(self.port, profile, patience=max(1.0, scale), clock=self.clock)
        except LinkError:
            self._stop_device()
            raise
        self._release()

    @property
    def finished(self) -> bool:
        """All that the device had to send was handed over."""
        if self._total is None and not self._closed:
            self._total = self._told_total()
        return self._total is not None and self._taken >= self._total

    @property
    def ended(self) -> bool:
        """No more will come, and everything that came was handed over."""
        return self.finished or self._serial.ended

    @property
    def trouble(self) -> LinkError | None:
        """What is wrong now, as of `SerialLink`; nothing once it has finished."""
        return None if self.finished else self._serial.trouble

    @property
    def radio(self) -> RadioState | None:
        """None: there is no radio."""
        return None

    def chunks(self) -> list[Chunk]:
        """Return what has arrived since the last call; see `Link.chunks`."""
        arrived = [] if self.finished else self._serial.chunks()
        self._taken += sum(len(chunk.data) for chunk in arrived)
        return arrived

    def wait(self, timeout: float) -> bool:
        """Block until something arrives, the link ends, or `timeout` seconds are over."""
        until = time.monotonic() + timeout
        while not self.finished and not self._serial.wait(min(POLL_S, max(0.0, until - time.monotonic()))):
            if time.monotonic() >= until:
                return False
        return True

    def send(self, data: bytes) -> None:
        """Send bytes to the device; see `Link.send`."""
        self._serial.send(data)

    def close(self) -> None:
        """Close the port and end the device; a second time does nothing."""
        if self._closed:
            return
        self._closed = True
        self._serial.close()
        self._stop_device()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _start_device(
        self, profile: Profile, counts: NDArray[np.integer] | Cell, options: Sequence[str]
    ) -> subprocess.Popen[bytes]:
        folder = Path(self._folder.name)
        measured = _write(folder, counts)
        (folder / "sensor.toml").write_text(_as_toml(profile), encoding="utf-8")
        root = Path(acquire.__path__[0]).parent
        with (folder / "errors").open("wb") as errors:
            return subprocess.Popen(  # noqa: S603 - our own program, no shell
                [
                    *(sys.executable, "-m", "acquire.simulation", "--held"),
                    *("--profile", str(folder / "sensor.toml"), *measured),
                    *options,
                ],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=errors,
                bufsize=0,
                # Our very own package, wherever this program has it from.
                env={**os.environ, "PYTHONPATH": os.pathsep.join([str(root), *sys.path])},
                # Ctrl-C is for the program that reads; the device ends with it.
                start_new_session=True,
            )

    def _told_port(self) -> str:
        line = self._line(START_LIMIT_S)
        if line:
            return line
        said = (Path(self._folder.name) / "errors").read_text(errors="replace").strip().splitlines()
        why = said[-1] if said else f"no answer within {START_LIMIT_S:g} s"
        raise LinkError(
            f"the simulated sensor did not start ({why}): check the profile and the counts",
            port="simulated",
            reason=LinkFailure.FAILED,
        )

    def _told_total(self) -> int | None:
        """Return how many bytes the device has sent in all, once it says that it is done."""
        word, *numbers = self._line(0.0).split() or [""]
        return int(numbers[0]) if word == "done" else None

    def _line(self, timeout: float) -> str:
        """Return the next line of the device's report, or nothing if there is none in time."""
        report = self._process.stdout
        assert report is not None  # noqa: S101 - it was opened as a pipe
        ready, _, _ = select.select([report], [], [], timeout)
        return report.readline().decode().strip() if ready else ""

    def _release(self) -> None:
        assert self._process.stdin is not None  # noqa: S101 - it was opened as a pipe
        with contextlib.suppress(BrokenPipeError):  # its plug may be pulled already
            self._process.stdin.write(b"\n")

    def _stop_device(self) -> None:
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                pipe.close()
        try:
            self._process.wait(STOP_LIMIT_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._folder.cleanup()


def _write(folder: Path, counts: NDArray[np.integer] | Cell) -> tuple[str, str]:
    """Write what is measured as a file for the device program, and return how it is told."""
    if isinstance(counts, Cell):
        path = folder / "cell.json"
        path.write_bytes(msgspec.json.encode(counts))
        return "--cell", str(path)
    np.save(folder / "counts.npy", counts)
    return "--counts", str(folder / "counts.npy")


def _as_toml(profile: Profile) -> str:
    """Write a profile as a file for `load_profile`; the strings and lists of JSON are those of TOML."""
    fields = msgspec.to_builtins(profile)
    return "".join(f"{key} = {json.dumps(value, ensure_ascii=False)}\n" for key, value in fields.items())
