"""A device that is a program of its own, on a pseudo-terminal, read by `SerialLink`.

Nothing of the serial code is left out: the bytes go through a real pseudo-terminal. The program's interface:

- on standard output, a line each: the path of its port, then, when all was played and written,
  ``done BYTES LOST``;
- on standard input, one line lets a held device go; it exits when its standard input ends, so it never outlives
  the program that started it.

The link's seconds are the *device's* seconds (host seconds times the speed, where that is finite), so that rates and
pauses come out the same at any speed. Only silence is judged in host seconds when the device is fast: half a
second of device time at a hundred times its speed is five milliseconds, which a busy computer may sleep through.
"""

from __future__ import annotations

import contextlib
import math
import select
import subprocess
import tempfile
import time
from abc import ABC, abstractmethod
from pathlib import Path
from typing import TYPE_CHECKING, Self

from acquire.errors import LinkDetail, LinkError, LinkFailure
from acquire.links.serial import SerialLink

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from types import TracebackType

    from acquire.links.base import BluetoothState, Chunk
    from acquire.sensor.profile import Profile

START_LIMIT_S = 20.0
"""Seconds for a new process to import numpy and load the counts, on a slow and busy machine."""
STOP_LIMIT_S = 5.0
POLL_S = 0.02
"""How late the end of the counts may be noticed."""


class DeviceProgramLink(ABC):
    """A device program as a `Link`; it is `finished` when all it had to say was handed over.

    A subclass says which program, with the files it needs in a folder that lives as long as the link.

    Parameters
    ----------
    profile : Profile
        How the device is spoken with.
    speed : float
        Times real time.
    called : str
        The device in a sentence, such as "the simulated sensor".

    Attributes
    ----------
    port : str
        The pseudo-terminal.
    clock : callable
        The seconds that chunks are stamped with.

    Raises
    ------
    LinkError
        FAILED, if the program does not start; else as `SerialLink`.
    """

    def __init__(self, profile: Profile, *, speed: float, called: str) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="ramphold-device-")
        self._called = called
        self._taken = 0
        self._total: int | None = None
        self._closed = False
        scale = speed if math.isfinite(speed) else 1.0
        self.clock: Callable[[], float] = lambda: time.monotonic() * scale
        self._process = self._started(Path(self._folder.name))
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
    def bluetooth(self) -> BluetoothState | None:
        """None: there is no Bluetooth here."""
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

    @abstractmethod
    def _command(self, folder: Path) -> Sequence[str]:
        """Return the command line of the program, with its files put into a folder."""

    def _environment(self) -> Mapping[str, str] | None:
        """Return the environment of the program; None for this program's own."""
        return None

    def _started(self, folder: Path) -> subprocess.Popen[bytes]:
        with (folder / "errors").open("wb") as errors:
            return subprocess.Popen(  # noqa: S603 - our own program, no shell
                self._command(folder),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=errors,
                bufsize=0,
                env=self._environment(),
                # Ctrl-C is for the program that reads; the device ends with it.
                start_new_session=True,
            )

    def _told_port(self) -> str:
        line = self._line(START_LIMIT_S)
        if line:
            return line
        said = self._errors().splitlines()
        why = said[-1] if said else f"no answer within {START_LIMIT_S:g} s"
        raise LinkError(
            f"{self._called} did not start ({why}): check the profile and the counts",
            port="simulated",
            reason=LinkFailure.FAILED,
            detail=LinkDetail.NOT_STARTED,
            error=why,
        )

    def _errors(self) -> str:
        return (Path(self._folder.name) / "errors").read_text(errors="replace").strip()

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
