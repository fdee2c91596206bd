"""What stands in for the sound of Qt: devices, tones, an engine that speaks."""

from collections.abc import Callable
from types import SimpleNamespace

from PyQt6.QtCore import QLocale, QObject, pyqtSignal


class FakeFormat:
    class SampleFormat:
        Float = "float"
        Int16 = "int16"

    def __init__(self, rate=0, channels=0, sample=""):
        self.rate, self.channels, self.sample = rate, channels, sample

    def setSampleRate(self, rate):  # noqa: N802
        self.rate = rate

    def setChannelCount(self, channels):  # noqa: N802
        self.channels = channels

    def setSampleFormat(self, sample):  # noqa: N802
        self.sample = sample

    def sampleRate(self):  # noqa: N802
        return self.rate

    def channelCount(self):  # noqa: N802
        return self.channels

    def sampleFormat(self):  # noqa: N802
        return self.sample


class FakeDevice:
    def __init__(self, rate=48_000, channels=2, takes: Callable[[FakeFormat], bool] = lambda _: True):
        self.own = FakeFormat(rate, channels, "float")
        self.takes = takes

    def isNull(self):  # noqa: N802
        return False

    def preferredFormat(self):  # noqa: N802
        return self.own

    def isFormatSupported(self, wanted):  # noqa: N802
        return self.takes(wanted)


NO_DEVICE = SimpleNamespace(isNull=lambda: True)


class FakeMultimedia:
    """The part of QtMultimedia that is used, with one sound device, or none."""

    QAudioFormat = FakeFormat
    QAudio = SimpleNamespace(Error=SimpleNamespace(NoError=0, OpenError=1, IOError=2, UnderrunError=3, FatalError=4))

    def __init__(self, device=NO_DEVICE):
        fake = self
        self.device = device
        self.error = 0
        self.played = []
        """Format and bytes of each tone."""
        self.volumes = []

        class Devices(QObject):
            audioOutputsChanged = pyqtSignal()  # noqa: N815

            def __init__(self):
                super().__init__()
                fake.devices = self

            @staticmethod
            def defaultAudioOutput():  # noqa: N802
                return fake.device

        class Sink:
            def __init__(self, _, wanted):
                self.wanted = wanted

            def setVolume(self, volume):  # noqa: N802
                fake.volumes.append(volume)

            def start(self, source):
                fake.played.append((self.wanted, bytes(source.readAll().data())))

            def stop(self):
                fake.played.append("stop")

            def error(self):
                return fake.error

        self.QMediaDevices, self.QAudioSink = Devices, Sink


class FakeSpeech:
    """The part of QtTextToSpeech that is used."""

    def __init__(self, engines=("works",), broken=(), locales=("en_GB", "de_DE")):
        fake = self
        self.said = []
        self.opened = []

        class Engine(QObject):
            State = SimpleNamespace(Ready=0, Speaking=1, Error=3)
            stateChanged = pyqtSignal(int)  # noqa: N815

            def __init__(self, name):
                super().__init__()
                fake.opened.append(name)
                self.now = 3 if name in broken else 0
                self.locale, self.volume = None, None
                fake.engine = self

            @staticmethod
            def availableEngines():  # noqa: N802
                return list(engines)

            def state(self):
                return self.now

            def availableLocales(self):  # noqa: N802
                return [QLocale(name) for name in locales]

            def setLocale(self, locale):  # noqa: N802
                self.locale = locale

            def setVolume(self, volume):  # noqa: N802
                self.volume = volume

            def say(self, text):
                fake.said.append((self.locale.name(), text))

        self.QTextToSpeech = Engine
