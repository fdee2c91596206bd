"""Sound: a tone for each cue and verdict, and a spoken word where the system has a voice.

Tones and voice are each made by a process of their own (`ui.window.stage.sound_program`). Sound systems hang, print and
crash: a speech service was seen to hold up the program that opened it for seconds, and a broken one for ever,
with all its threads. Here that costs the sound and nothing else, and nothing is loaded before it is needed.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Literal

from PyQt6.QtCore import QCoreApplication, QObject, QProcess, QProcessEnvironment, pyqtSignal

import ui
from ui.words.words import Words

SoundState = Literal["on", "tones", "off"]

PROGRAM = (sys.executable, "-m", "ui.window.stage.sound_program")
VOLUME = 0.7
LATE_S = {"tones": 0.5, "voice": 3.0}
"""A sound asked for before its maker was ready is still made if it waited no longer than this."""
END_MS = 250
"""How long closing waits for a process to end by itself; one that hangs is then ended hard."""


class Sound(QObject):
    """The voice of the window. It never raises, and waits only in `close`; what cannot be heard is left out.

    Parameters
    ----------
    words : Words
        The language that is spoken.
    volume : float
        0 to 1; at 0 there is no sound, and nothing is started.
    program : sequence of str
        The program that makes the sound, and its first arguments.
    clock : callable
        Monotonic seconds.

    Attributes
    ----------
    changed : signal of str
        The new state.
    """

    changed = pyqtSignal(str)

    def __init__(
        self,
        words: Words,
        *,
        volume: float = VOLUME,
        program: Sequence[str] = PROGRAM,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__()
        self._silent = volume <= 0.0
        self._opened = False
        self._language = words.language
        self._volume = f"{volume:g}"
        self._tones = _Maker("tones", program, self._look, clock)
        self._voice = _Maker("voice", program, self._look, clock)
        self._state: SoundState = "off"
        app = QCoreApplication.instance()
        if app is not None:
            app.aboutToQuit.connect(self.close)

    @property
    def state(self) -> SoundState:
        """Whether there are tones and a voice (``on``), tones alone (``tones``), or nothing (``off``)."""
        return self._state

    def open(self) -> None:
        """Start what makes the sound, and start again what has ended; the first sound does so by itself."""
        if not self._silent:
            self._opened = True
            for maker in (self._tones, self._voice):
                maker.start(self._language, self._volume)

    def play(self, name: str) -> None:
        """Play a tone of `ui.model.stage.tones`."""
        self._send(self._tones, f"play {name}")

    def say(self, text: str) -> None:
        """Say a text; what is being said is cut off."""
        if line := " ".join(text.split()):
            self._send(self._voice, f"say {line}")

    def speak(self, words: Words) -> None:
        """Say what follows in another language."""
        self._language = words.language
        self._voice.tell(f"in {words.language}")

    def close(self) -> None:
        """Be silent and end what makes the sound; what hangs is ended hard."""
        self._opened = False
        makers = (self._tones, self._voice)
        for maker in makers:
            maker.hang_up()
        for maker in makers:
            maker.end()

    def _send(self, maker: _Maker, line: str) -> None:
        if self._silent:
            return
        if not self._opened:
            self.open()
        maker.send(line)

    def _look(self) -> None:
        now = sound_state(tones=self._tones.ready, voice=self._voice.ready)
        if now != self._state:
            self._state = now
            self.changed.emit(now)


def sound_state(*, tones: bool, voice: bool) -> SoundState:
    """Return what can be heard; a voice without a device for tones has none either.

    Examples
    --------
    >>> sound_state(tones=True, voice=False)
    'tones'
    """
    if not tones:
        return "off"
    return "on" if voice else "tones"


class _Maker:
    """One process that makes sound, seen from the window."""

    def __init__(
        self, part: str, program: Sequence[str], changed: Callable[[], None], clock: Callable[[], float]
    ) -> None:
        self.ready = False
        self._command = [*program, part]
        self._late = LATE_S[part]
        self._changed, self._clock = changed, clock
        self._waiting: tuple[float, str] | None = None
        self._process = QProcess()
        self._process.setProcessEnvironment(_environment())
        self._process.setStandardErrorFile(QProcess.nullDevice())
        self._process.readyReadStandardOutput.connect(self._listen)
        self._process.finished.connect(self._ended)
        self._process.errorOccurred.connect(self._ended)

    def start(self, *settings: str) -> None:
        if self._process.state() == QProcess.ProcessState.NotRunning:
            self._process.start(self._command[0], [*self._command[1:], *settings])

    def send(self, line: str) -> None:
        """Give an order, or keep the newest one until the process is ready."""
        if self.ready:
            self.tell(line)
        else:
            self._waiting = (self._clock(), line)

    def tell(self, line: str) -> None:
        """Give an order that cannot come too late."""
        if self._process.state() != QProcess.ProcessState.NotRunning:
            self._process.write(f"{line}\n".encode())

    def hang_up(self) -> None:
        """Let the process know that nothing more will come."""
        self._waiting = None
        self._process.closeWriteChannel()

    def end(self) -> None:
        if self._process.state() != QProcess.ProcessState.NotRunning and not self._process.waitForFinished(END_MS):
            self._process.kill()
            self._process.waitForFinished(END_MS)
        self._set(ready=False)

    def _listen(self) -> None:
        told = bytes(self._process.readAllStandardOutput().data()).decode(errors="replace").split()
        if told:
            self._set(ready=told[-1] == "ready")
        if self.ready and self._waiting is not None:
            asked, line = self._waiting
            self._waiting = None
            if self._clock() - asked <= self._late:
                self.tell(line)

    def _ended(self) -> None:
        self._set(ready=False)

    def _set(self, *, ready: bool) -> None:
        if ready != self.ready:
            self.ready = ready
            self._changed()


def _environment() -> QProcessEnvironment:
    """Return an environment in which our very own package is found, wherever this program has it from."""
    root = str(Path(ui.__path__[0]).parent)
    environment = QProcessEnvironment.systemEnvironment()
    environment.insert("PYTHONPATH", os.pathsep.join([root, *sys.path]))
    environment.insert("PYTHONIOENCODING", "utf-8")
    return environment
