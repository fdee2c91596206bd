"""Presses of Enter while a command is at work: a line of standard input is one press."""

from __future__ import annotations

import os
import sys
import threading

CHUNK = 4096


class Presses:
    """Counts lines of standard input, on a thread of its own; without one, or at its end, nobody presses.

    The bytes are read past Python's own buffer: a thread that waits in it would hold up the end of the program.
    """

    def __init__(self) -> None:
        self._lines = 0
        try:
            self._handle = sys.stdin.fileno()
        except (AttributeError, OSError, ValueError):  # none, not a file, or closed
            return
        threading.Thread(target=self._read, name="presses", daemon=True).start()

    def taken(self) -> bool:
        """Tell whether there was a press that was not told before."""
        pressed, self._lines = self._lines > 0, 0
        return pressed

    def _read(self) -> None:
        try:
            while data := os.read(self._handle, CHUNK):
                self._lines += data.count(b"\n")
        except OSError:  # it was closed
            return
