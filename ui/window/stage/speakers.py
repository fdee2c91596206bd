"""What makes the sound, in the process of `ui.window.stage.sound_program`: tones through a device, words by a voice.

Both take Qt's module as an argument: it is imported late, for it may be missing, and it starts slowly. Nothing
here raises because a device or a voice is missing: `ready` says so.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from types import ModuleType
from typing import TYPE_CHECKING

from PyQt6.QtCore import QBuffer, QByteArray, QIODevice, QLocale

from ui.model.stage.tones import RATES_HZ, TONES, as_bytes, tone

if TYPE_CHECKING:
    from PyQt6.QtMultimedia import QAudioDevice, QAudioFormat, QAudioSink
    from PyQt6.QtTextToSpeech import QTextToSpeech

NOT_A_VOICE = {"mock", "none"}
"""Engines of Qt that say nothing."""


class TonePlayer:
    """Plays tones on the system's sound device, each cutting off the last.

    Parameters
    ----------
    multimedia : module
        ``PyQt6.QtMultimedia``.
    volume : float
        0 to 1.
    changed : callable
        Called when a device came or went.
    """

    def __init__(self, multimedia: ModuleType, *, volume: float, changed: Callable[[], None]) -> None:
        self._multimedia = multimedia
        self._volume = volume
        self._changed = changed
        self._buffer = QBuffer()
        self._out: tuple[QAudioSink, QAudioFormat] | None = None
        self._devices = multimedia.QMediaDevices()
        self._devices.audioOutputsChanged.connect(self._look_again)
        self._open()

    @property
    def ready(self) -> bool:
        """Whether there is a device that takes the tones."""
        return self._out is not None

    def play(self, name: str) -> None:
        """Play a tone; a name that is none is silence."""
        if self._out is None or name not in TONES:
            return
        sink, taken = self._out
        sink.stop()
        self._buffer.close()
        self._buffer.setData(QByteArray(self._bytes(name, taken)))
        self._buffer.open(QIODevice.OpenModeFlag.ReadOnly)
        sink.start(self._buffer)
        errors = self._multimedia.QAudio.Error
        if sink.error() in {errors.OpenError, errors.IOError, errors.FatalError}:
            self._out = None
            self._changed()

    def _bytes(self, name: str, taken: QAudioFormat) -> bytes:
        whole = taken.sampleFormat() == self._multimedia.QAudioFormat.SampleFormat.Int16
        return as_bytes(tone(name, taken.sampleRate()), channels=taken.channelCount(), whole=whole)

    def _look_again(self) -> None:
        self._open()
        self._changed()

    def _open(self) -> None:
        device = self._multimedia.QMediaDevices.defaultAudioOutput()
        taken = None if device.isNull() else self._taken_by(device)
        self._out = None
        if taken is not None:
            self._out = self._multimedia.QAudioSink(device, taken), taken
            self._out[0].setVolume(self._volume)

    def _taken_by(self, device: QAudioDevice) -> QAudioFormat | None:
        """Return a format that the device takes, its own rate and one channel first; None when there is none."""
        own = device.preferredFormat()
        samples = self._multimedia.QAudioFormat.SampleFormat
        rates = sorted(RATES_HZ, key=lambda rate: rate != own.sampleRate())
        for rate, channels, sample in product(rates, (1, 2, own.channelCount()), (samples.Float, samples.Int16)):
            wanted: QAudioFormat = self._multimedia.QAudioFormat()
            wanted.setSampleRate(rate)
            wanted.setChannelCount(channels)
            wanted.setSampleFormat(sample)
            if device.isFormatSupported(wanted):
                return wanted
        return None


class Voice:
    """Says words with the system's voice for a language, each saying cutting off the last.

    Parameters
    ----------
    speech : module
        ``PyQt6.QtTextToSpeech``.
    language : str
        Such as ``de``. Without a voice for it nothing is said: a wrong one is not understood.
    volume : float
        0 to 1.
    changed : callable
        Called when the voice has come or gone.
    """

    def __init__(self, speech: ModuleType, *, language: str, volume: float, changed: Callable[[], None]) -> None:
        self._states = speech.QTextToSpeech.State
        self._engine = self._first_engine(speech)
        self._knows = False
        if self._engine is not None:
            self._engine.setVolume(volume)
            self.speak_in(language)
            self._engine.stateChanged.connect(lambda _: changed())

    @property
    def ready(self) -> bool:
        """Whether there is a voice for the language."""
        return self._engine is not None and self._knows and self._engine.state() != self._states.Error

    def speak_in(self, language: str) -> None:
        """Choose the language."""
        if self._engine is None:
            return
        wanted = QLocale(language)
        found = [one for one in self._engine.availableLocales() if one.language() == wanted.language()]
        found.sort(key=lambda one: (one != QLocale.system(), one != wanted))
        self._knows = bool(found)
        if found:
            self._engine.setLocale(found[0])

    def say(self, text: str) -> None:
        """Say a text at once."""
        if self._engine is not None and self.ready:
            self._engine.say(text)

    def _first_engine(self, speech: ModuleType) -> QTextToSpeech | None:
        """Return the first engine that works; None when there is none."""
        for name in speech.QTextToSpeech.availableEngines():
            if name not in NOT_A_VOICE:
                engine: QTextToSpeech = speech.QTextToSpeech(name)
                if engine.state() != self._states.Error:
                    return engine
        return None
