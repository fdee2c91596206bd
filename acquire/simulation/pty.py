"""The device's end of a pseudo-terminal: a serial port without a wire.

The other end, `PseudoTerminal.port`, is opened like any serial port. POSIX only.
"""

from __future__ import annotations

import os
import re
import termios
import tty
from pathlib import Path
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from types import TracebackType


BAUD = {getattr(termios, name): int(name[1:]) for name in dir(termios) if re.fullmatch(r"B\d+", name)}
"""Bits per second of what the system calls them."""
OUTPUT_SPEED = 5
"""Where `termios.tcgetattr` tells it."""


class PseudoTerminal:
    """A port that this program plays the device of.

    Parameters
    ----------
    link : path, optional
        A symbolic link to make to the port, so that a device that comes back has the same name.

    Raises
    ------
    FileExistsError
        If there is something else than a symbolic link at `link`.

    Examples
    --------
    >>> with PseudoTerminal() as terminal:
    ...     terminal.write(b"hello")
    5
    """

    def __init__(self, link: str | Path | None = None) -> None:
        self._device, self._host = os.openpty()
        # Before anything is written: a terminal that is not raw sends the device's own bytes back to it.
        # This end of the host's side stays open, or reading fails while no host is there.
        tty.setraw(self._host)
        os.set_blocking(self._device, False)
        self._link = None if link is None else Path(link)
        self.port = os.ttyname(self._host)
        if self._link is not None:
            self._make_link(self._link)
        self._closed = False

    @property
    def baud(self) -> int | None:
        """The rate that the host has chosen, bits per second; None for an unusual one.

        The terminal itself does not care: bytes go through unharmed at any rate.
        """
        return BAUD.get(termios.tcgetattr(self._device)[OUTPUT_SPEED])

    def fileno(self) -> int:
        """Return what `select` waits for."""
        return self._device

    def write(self, data: bytes | bytearray) -> int:
        """Send bytes to the host, as many as fit now; return how many did."""
        try:
            return os.write(self._device, data)
        except BlockingIOError:
            return 0

    def read(self) -> bytes:
        """Return what the host has sent since the last call; nothing is b""."""
        try:
            return os.read(self._device, 4096)
        except BlockingIOError:
            return b""

    def close(self) -> None:
        """Hang up, as by pulling the plug; a second time does nothing."""
        if self._closed:
            return
        self._closed = True
        if self._link is not None:
            self._link.unlink(missing_ok=True)
        os.close(self._host)
        os.close(self._device)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _make_link(self, link: Path) -> None:
        try:
            if link.is_symlink():
                link.unlink()
            link.symlink_to(self.port)
        except OSError:
            os.close(self._host)
            os.close(self._device)
            raise
        self.port = str(link)
