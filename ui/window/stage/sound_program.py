"""The process that makes one kind of sound: ``python -m ui.window.stage.sound_program tones en 0.7``.

Orders come as lines on standard input, and the program says ``ready`` or ``silent`` on standard output whenever
that changes. It ends when its input does, and also when a sound system does not come back: nothing it does is
worth waiting for.

=======  ==================================================
order    what it does
=======  ==================================================
play X   the tone X of `ui.model.stage.tones` (of ``tones``)
say X    says X (of ``voice``)
in X     says what follows in the language X (of ``voice``)
=======  ==================================================
"""

from __future__ import annotations

import faulthandler
import importlib
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import TextIO

from PyQt6.QtCore import QCoreApplication, QObject, pyqtSignal

from ui.window.stage.speakers import TonePlayer, Voice

HUNG_S = 30.0
"""A call to a sound system that takes longer never returns."""


class Orders(QObject):
    """Brings the lines of the input from the thread that reads them to the one that obeys."""

    came = pyqtSignal(str)
    ended = pyqtSignal()

    def read(self, lines: Iterable[str]) -> None:
        """Pass each line on until there are no more."""
        for line in lines:
            self.came.emit(line)
        self.ended.emit()


class Desk:
    """Gives orders to what makes the sound.

    Parameters
    ----------
    part : {"tones", "voice"}
        Which kind of sound.
    language : str
        Of the voice.
    volume : float
        0 to 1.
    load : callable
        Imports a module by its name.
    report : callable
        Told ``ready`` or ``silent``.
    """

    def __init__(
        self,
        part: str,
        language: str,
        volume: float,
        *,
        load: Callable[[str], ModuleType] = importlib.import_module,
        report: Callable[[str], None],
    ) -> None:
        self._report = report
        self._said = ""
        self._tones: TonePlayer | None = None
        self._voice: Voice | None = None
        if part == "tones":
            self._tones = TonePlayer(load("PyQt6.QtMultimedia"), volume=volume, changed=self.tell)
        else:
            speech = load("PyQt6.QtTextToSpeech")
            self._voice = Voice(speech, language=language, volume=volume, changed=self.tell)

    def tell(self) -> None:
        """Report whether there is sound, where that has changed."""
        maker = self._tones or self._voice
        now = "ready" if maker is not None and maker.ready else "silent"
        if now != self._said:
            self._said = now
            self._report(now)

    def obey(self, line: str) -> None:
        """Carry out one order; what is no order is left alone."""
        order, _, about = line.strip().partition(" ")
        if self._tones is not None and order == "play":
            self._tones.play(about)
        elif self._voice is not None and order == "say":
            self._voice.say(about)
        elif self._voice is not None and order == "in":
            self._voice.speak_in(about)
            self.tell()


def main(arguments: list[str], lines: TextIO) -> int:
    """Serve until the orders end."""
    part, language, volume = arguments
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the window, which then ends the input
    app = QCoreApplication(sys.argv[:1])
    orders = Orders()
    with _limited():
        desk = Desk(part, language, float(volume), report=lambda word: print(word, flush=True))

    def obey(line: str) -> None:
        with _limited():
            desk.obey(line)

    orders.came.connect(obey)
    orders.ended.connect(app.quit)
    threading.Thread(target=orders.read, args=(lines,), daemon=True).start()
    desk.tell()
    return app.exec()


@contextmanager
def _limited() -> Iterator[None]:
    """End the whole program when what is inside hangs; no thread of Python's could, for Qt keeps the lock."""
    with open(os.devnull, "w") as nowhere:  # noqa: PTH123 (no path, a device)
        faulthandler.dump_traceback_later(HUNG_S, exit=True, file=nowhere)
        try:
            yield
        finally:
            faulthandler.cancel_dump_traceback_later()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:], sys.stdin))
