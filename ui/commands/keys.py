"""Keys of the terminal while a command is at work, read on a thread of their own so that nothing waits for them.

`EnterKey` takes lines, from a terminal or a pipe. `TerminalKeys` takes single keys, and lets the terminal be as it was
when it is left; Ctrl-C stays what it is. The bytes are read past Python's own buffer: a thread that waits in it would
hold up the end of the program.
"""

from __future__ import annotations

import codecs
import os
import queue
import re
import sys
import threading
from collections.abc import Callable
from types import TracebackType
from typing import Self

CHUNK = 4096
ESCAPE = "\x1b"
ARROW = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]|O.)")
"""What an arrow or a function key sends (ECMA-48, control sequences, and SS3 with its letter)."""


def keys_in(text: str) -> str:
    r"""Return the keys of what a terminal sent, a character each; arrows and function keys are left out.

    Escape ends an effort, so it counts wherever it stands, also where other keys came with it.

    Examples
    --------
    >>> keys_in("p\x1b"), keys_in("\x1b[A\x1b[15~s"), keys_in("\x1bn")
    ('p\x1b', 's', '\x1bn')
    """
    return ARROW.sub("", text)


class EnterKey:
    """Whether Enter was pressed: a line of standard input; without one, or at its end, nobody presses."""

    def __init__(self) -> None:
        self._lines = 0
        try:
            self._handle = sys.stdin.fileno()
        except (AttributeError, OSError, ValueError):  # none, not a file, or closed
            return
        threading.Thread(target=self._read, name="enter", daemon=True).start()

    def pressed(self) -> bool:
        """Tell whether it was pressed since the last call."""
        pressed, self._lines = self._lines > 0, 0
        return pressed

    def _read(self) -> None:
        try:
            while data := os.read(self._handle, CHUNK):
                self._lines += data.count(b"\n")
        except OSError:  # it was closed
            return


class TerminalKeys:
    """Single keys of the terminal on standard input; a with block lets the terminal be as it was."""

    def __init__(self) -> None:
        self._keys: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._restore = _take_single_keys()
        threading.Thread(target=self._read, name="keys", daemon=True).start()

    def pressed(self) -> list[str]:
        """Return the keys that were pressed since the last call, a character each."""
        return [self._keys.get() for _ in range(self._keys.qsize())]

    def _read(self) -> None:
        try:
            decoder = codecs.getincrementaldecoder("utf-8")(errors="ignore")
            while data := os.read(sys.stdin.fileno(), CHUNK):
                for key in keys_in(decoder.decode(data)):
                    self._keys.put(key)
        except (OSError, ValueError):  # it was closed
            return

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._restore()


def _take_single_keys() -> Callable[[], None]:
    """Let the terminal hand over each key at once and show none; return what undoes that."""
    try:
        import termios  # noqa: PLC0415 (not on Windows)
        import tty  # noqa: PLC0415
    except ImportError:  # there a line is a key, as the console gives it
        return lambda: None
    handle = sys.stdin.fileno()
    before = termios.tcgetattr(handle)
    tty.setcbreak(handle)
    return lambda: termios.tcsetattr(handle, termios.TCSADRAIN, before)
