"""Sound without a sound device: the window's side with programs of the test, the other with a fake of Qt's modules."""

import importlib
import subprocess
import sys
from collections.abc import Callable
from types import SimpleNamespace

import numpy as np
import pytest
from PyQt6.QtCore import QLocale, QObject, QProcess, pyqtSignal

from ui.model.stage.tones import tone
from ui.window.stage.sound import PROGRAM, Sound
from ui.window.stage.sound_program import Desk, Orders
from ui.window.stage.speakers import TonePlayer, Voice
from ui.words.words import Words

pytestmark = pytest.mark.usefixtures("qapp")

# ---- the window's side: each program is a real process

ECHO = """
import pathlib, sys
folder, states, part, language, volume = sys.argv[1:]
notes = pathlib.Path(folder, part)
notes.write_text(f"started {language} {volume}\\n", encoding="utf-8")
print(dict(pair.split("=") for pair in states.split(","))[part], flush=True)
for line in sys.stdin:
    with notes.open("a", encoding="utf-8") as file:
        file.write(line)
    if line.startswith("now "):
        print(line[4:], flush=True)
"""
HANGS = (
    "import signal, time; print('ready', flush=True); signal.signal(signal.SIGTERM, signal.SIG_IGN); time.sleep(600)"
)
CRASHES = "import sys; print('ready', flush=True); sys.stdin.readline(); sys.exit(3)"


class Clock:
    def __init__(self):
        self.now = 100.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def sound_with(clock):
    made = []

    def make(*program, volume=0.7, language="en"):
        sound = Sound(Words(language), volume=volume, program=program, clock=clock)
        sound.states = []
        sound.changed.connect(sound.states.append)
        made.append(sound)
        return sound

    yield make
    for sound in made:
        sound.close()


@pytest.fixture
def echo(sound_with, tmp_path):
    """Return a maker of sounds whose programs write down what they are told, and a reader of it."""

    def make(states="tones=ready,voice=ready", **options):
        sound = sound_with(sys.executable, "-c", ECHO, str(tmp_path), states, **options)
        sound.told = lambda part: lines_of(tmp_path / part)
        return sound

    return make


def lines_of(path):
    return path.read_text(encoding="utf-8").splitlines() if path.exists() else []


def running(sound):
    return [
        maker._process.state() != QProcess.ProcessState.NotRunning  # no other way to look at a child
        for maker in (sound._tones, sound._voice)
    ]


@pytest.mark.parametrize(
    ("states", "state"),
    [
        ("tones=ready,voice=ready", "on"),
        ("tones=ready,voice=silent", "tones"),
        ("tones=silent,voice=ready", "off"),  # no device: nothing can be heard
        ("tones=silent,voice=silent", "off"),
    ],
)
def test_state_is_what_the_makers_say(qtbot, echo, states, state):
    sound = echo(states)
    assert sound.state == "off"
    sound.open()
    expected = ("tones=ready" in states, "voice=ready" in states)
    qtbot.waitUntil(lambda: (sound._tones.ready, sound._voice.ready) == expected)
    assert sound.state == state


def test_device_that_goes_and_comes_back_is_told(qtbot, echo):
    sound = echo()
    sound.open()
    qtbot.waitUntil(lambda: sound.state == "on")
    for now, state in (("silent", "off"), ("ready", "on")):
        sound._tones.tell(f"now {now}")
        qtbot.waitUntil(lambda state=state: sound.state == state)
    assert sound.states[-2:] == ["off", "on"]


def test_orders_arrive_as_lines(qtbot, echo):
    sound = echo()
    sound.open()
    qtbot.waitUntil(lambda: sound.state == "on")
    sound.play("go")
    sound.say("Los.\nIn ein bis  zwei Sekunden aufbauen: prüfen")
    sound.say("  \n ")
    sound.say("Halten.")
    qtbot.waitUntil(lambda: len(sound.told("voice")) == 3 and len(sound.told("tones")) == 2)
    assert sound.told("tones")[1:] == ["play go"]
    assert sound.told("voice")[1:] == ["say Los. In ein bis zwei Sekunden aufbauen: prüfen", "say Halten."]


def test_language_and_volume_are_handed_on(qtbot, echo):
    sound = echo(volume=0.25, language="de")
    sound.open()
    qtbot.waitUntil(lambda: sound.state == "on")
    assert sound.told("voice") == ["started de 0.25"]
    sound.speak(Words("en"))
    qtbot.waitUntil(lambda: len(sound.told("voice")) == 2)
    assert sound.told("voice")[1] == "in en"


def test_first_sound_opens_by_itself_and_is_heard_when_its_maker_is_ready(qtbot, echo):
    sound = echo()
    sound.play("place")
    sound.say("Next.")
    qtbot.waitUntil(lambda: sound.told("tones")[1:] == ["play place"] and sound.told("voice")[1:] == ["say Next."])


def test_sound_that_waited_too_long_is_left_out(qtbot, echo, clock):
    sound = echo()
    sound.play("go")
    sound.say("Go.")
    clock.now += 1.0  # too late for a cue, not for a word
    qtbot.waitUntil(lambda: sound.state == "on" and len(sound.told("voice")) == 2)
    sound.play("hold")
    qtbot.waitUntil(lambda: len(sound.told("tones")) == 2)
    assert sound.told("tones")[1:] == ["play hold"]
    assert sound.told("voice")[1:] == ["say Go."]


def test_only_the_newest_of_the_waiting_is_heard(qtbot, echo):
    sound = echo()
    for name in ("place", "set", "go"):
        sound.play(name)
    qtbot.waitUntil(lambda: len(sound.told("tones")) == 2)
    assert sound.told("tones")[1:] == ["play go"]


def test_no_volume_starts_nothing(echo):
    sound = echo(volume=0.0)
    sound.open()
    sound.play("go")
    sound.say("Go.")
    assert running(sound) == [False, False]
    assert sound.state == "off"


def test_program_that_is_not_there_is_silence(qtbot, sound_with, tmp_path, capfd):
    sound = sound_with(str(tmp_path / "nothing"))
    sound.play("go")
    sound.say("Go.")
    qtbot.waitUntil(lambda: running(sound) == [False, False])
    sound.play("hold")
    assert sound.state == "off"
    assert capfd.readouterr() == ("", "")


def test_program_that_crashes_is_silence(qtbot, sound_with):
    sound = sound_with(sys.executable, "-c", CRASHES)
    sound.open()
    qtbot.waitUntil(lambda: sound.state == "on")
    sound.say("Go.")
    qtbot.waitUntil(lambda: sound.state == "tones")
    sound.play("go")
    qtbot.waitUntil(lambda: sound.state == "off")
    assert sound.states[-2:] == ["tones", "off"]
    sound.say("Hold.")  # nobody hears it, and that is all
    assert running(sound) == [False, False]


def test_program_that_ended_is_started_again_when_asked(qtbot, sound_with):
    sound = sound_with(sys.executable, "-c", CRASHES)
    sound.open()
    qtbot.waitUntil(lambda: sound.state == "on")
    sound.say("Go.")
    qtbot.waitUntil(lambda: sound.state == "tones")
    sound.open()
    qtbot.waitUntil(lambda: sound.state == "on")


def test_close_ends_the_programs(qtbot, echo):
    sound = echo()
    sound.open()
    qtbot.waitUntil(lambda: sound.state == "on")
    sound.close()
    assert running(sound) == [False, False]
    assert sound.state == "off"
    assert sound.states[-1] == "off"
    sound.close()  # again does no harm


def test_close_ends_a_program_that_hangs(qtbot, sound_with):
    sound = sound_with(sys.executable, "-c", HANGS)
    sound.open()
    qtbot.waitUntil(lambda: sound.state == "on")
    sound.close()
    assert running(sound) == [False, False]


def test_our_own_program_starts_and_ends_without_a_word(qtbot, sound_with, capfd):
    sound = sound_with(*PROGRAM)
    sound.open()
    qtbot.waitUntil(lambda: running(sound) == [True, True])
    heard = []
    sound._tones._process.readyRead.connect(lambda: heard.append(True))
    qtbot.waitUntil(lambda: bool(heard) or not running(sound)[0], timeout=20_000)  # ready, silent, or no module
    sound.close()
    assert running(sound) == [False, False]
    assert capfd.readouterr() == ("", "")


# ---- the other side: a fake of PyQt6.QtMultimedia and PyQt6.QtTextToSpeech


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


@pytest.fixture
def player_on():
    def make(device):
        fake = FakeMultimedia(device)
        changes = []
        player = TonePlayer(fake, volume=0.5, changed=lambda: changes.append(player.ready))
        return player, fake, changes

    return make


def test_tone_reaches_the_device(player_on):
    player, fake, _ = player_on(FakeDevice())
    assert player.ready
    player.play("go")
    stop, (wanted, samples) = fake.played
    assert stop == "stop"
    assert (wanted.rate, wanted.channels, wanted.sample) == (48_000, 1, "float")
    assert np.array_equal(np.frombuffer(samples, "<f4"), tone("go", 48_000))
    assert fake.volumes == [0.5]


def test_next_tone_cuts_off_the_last(player_on):
    player, fake, _ = player_on(FakeDevice())
    player.play("set")
    player.play("go")
    assert [one if one == "stop" else len(one[1]) // 4 for one in fake.played] == [
        "stop",
        len(tone("set")),
        "stop",
        len(tone("go")),
    ]


def test_device_of_44100_whole_stereo_samples_is_served(player_on):
    device = FakeDevice(rate=44_100, takes=lambda f: (f.rate, f.channels, f.sample) == (44_100, 2, "int16"))
    player, fake, _ = player_on(device)
    player.play("hold")
    samples = np.frombuffer(fake.played[1][1], "<i2").reshape(-1, 2)
    assert np.array_equal(samples[:, 0], samples[:, 1])
    assert np.array_equal(samples[:, 0], (32767 * tone("hold", 44_100)).astype("<i2"))


def test_device_that_takes_nothing_of_ours_is_none(player_on):
    player, fake, _ = player_on(FakeDevice(takes=lambda wanted: wanted.rate == 8_000))
    assert not player.ready
    player.play("go")
    assert fake.played == []


def test_without_a_device_nothing_is_played_until_one_comes(player_on):
    player, fake, changes = player_on(NO_DEVICE)
    assert not player.ready
    player.play("go")
    fake.device = FakeDevice()
    fake.devices.audioOutputsChanged.emit()
    assert changes == [True]
    player.play("hold")
    assert len(fake.played) == 2


@pytest.mark.parametrize("error", ["OpenError", "IOError", "FatalError"])
def test_device_that_fails_is_given_up(player_on, error):
    player, fake, changes = player_on(FakeDevice())
    fake.error = getattr(fake.QAudio.Error, error)
    player.play("go")
    assert changes == [False]
    player.play("hold")
    assert len(fake.played) == 2


def test_end_of_a_tone_is_no_failure(player_on):
    player, fake, changes = player_on(FakeDevice())
    fake.error = fake.QAudio.Error.UnderrunError
    player.play("go")
    assert player.ready
    assert changes == []


def test_name_that_is_no_tone_is_silence(player_on):
    player, fake, _ = player_on(FakeDevice())
    player.play("fanfare")
    assert fake.played == []


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


def voice_of(fake, language="en", changed=lambda: None):
    return Voice(fake, language=language, volume=0.5, changed=changed)


@pytest.mark.parametrize(("language", "locale"), [("en", "en_GB"), ("de", "de_DE")])
def test_words_are_said_in_their_language(language, locale):
    fake = FakeSpeech()
    voice = voice_of(fake, language)
    assert voice.ready
    voice.say("hold")
    assert fake.said == [(locale, "hold")]
    assert fake.engine.volume == 0.5


def test_wrong_language_is_not_spoken():
    fake = FakeSpeech(locales=("en_GB",))
    voice = voice_of(fake, "de")
    assert not voice.ready
    voice.say("Halten")
    assert fake.said == []
    voice.speak_in("en")
    assert voice.ready


@pytest.mark.parametrize(
    ("engines", "broken", "opened"),
    [
        ((), (), []),
        (("mock",), (), []),  # Qt's test engine says nothing
        (("mock", "dead"), ("dead",), ["dead"]),
    ],
)
def test_without_an_engine_there_is_no_voice(engines, broken, opened):
    fake = FakeSpeech(engines, broken)
    voice = voice_of(fake)
    assert not voice.ready
    voice.say("go")
    voice.speak_in("de")
    assert (fake.said, fake.opened) == ([], opened)


def test_next_engine_is_taken_where_the_first_does_not_work():
    fake = FakeSpeech(("dead", "works"), ("dead",))
    assert voice_of(fake).ready
    assert fake.opened == ["dead", "works"]


def test_engine_that_fails_later_is_told():
    fake, changes = FakeSpeech(), []
    voice = voice_of(fake, changed=lambda: changes.append(voice.ready))
    fake.engine.now = 3
    fake.engine.stateChanged.emit(3)
    assert changes == [False]


# ---- the desk between orders and makers


def desk_of(part, fake, language="en"):
    reported = []
    desk = Desk(
        part, language, 0.5, load=lambda name: {f"PyQt6.{part_module(part)}": fake}[name], report=reported.append
    )
    desk.tell()
    return desk, reported


def part_module(part):
    return {"tones": "QtMultimedia", "voice": "QtTextToSpeech"}[part]


def test_desk_plays_tones_and_reports_each_change_once():
    fake = FakeMultimedia(FakeDevice())
    desk, reported = desk_of("tones", fake)
    desk.obey("play go\n")
    desk.obey("say go\n")
    desk.obey("\n")
    desk.obey("play\n")
    assert len(fake.played) == 2
    fake.devices.audioOutputsChanged.emit()
    fake.device = NO_DEVICE
    fake.devices.audioOutputsChanged.emit()
    assert reported == ["ready", "silent"]


def test_desk_says_words_and_changes_the_language():
    fake = FakeSpeech(locales=("de_DE",))
    desk, reported = desk_of("voice", fake)
    desk.obey("in de\n")
    desk.obey("say Halten, so fest es geht.\n")
    desk.obey("play go\n")
    assert fake.said == [("de_DE", "Halten, so fest es geht.")]
    assert reported == ["silent", "ready"]


def test_orders_come_in_their_order_and_then_the_end():
    orders, seen = Orders(), []
    orders.came.connect(seen.append)
    orders.ended.connect(lambda: seen.append("end"))
    orders.read(["play set\n", "play go\n"])
    assert seen == ["play set\n", "play go\n", "end"]


@pytest.mark.parametrize("part", ["tones", "voice"])
def test_program_ends_with_its_input(part):
    pytest.importorskip(f"PyQt6.{part_module(part)}", exc_type=ImportError)
    command = [*PROGRAM, part, "en", "0.5"]
    done = subprocess.run(command, input="play go\n", capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.split()[-1] in {"ready", "silent"}


def test_call_that_hangs_ends_the_program():
    program = (
        "import time, ui.window.stage.sound_program as program\n"
        "program.HUNG_S = 0.1\n"
        "with program._limited():\n"
        "    time.sleep(600)\n"
    )
    assert subprocess.run([sys.executable, "-c", program], timeout=60, check=False).returncode == 1


def test_nothing_of_sound_is_loaded_with_the_window():
    program = "import sys, ui.window.stage.sound; print(*[n for n in sys.modules if n.startswith('PyQt6.Qt')])"
    command = [sys.executable, "-c", program]
    loaded = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True).stdout.split()
    assert "PyQt6.QtCore" in loaded
    assert not {"PyQt6.QtMultimedia", "PyQt6.QtTextToSpeech"} & set(loaded)


@pytest.mark.parametrize(
    ("part", "names"),
    [
        ("tones", ("QMediaDevices", "QAudioSink", "QAudioFormat", "QAudio")),
        ("voice", ("QTextToSpeech",)),
    ],
)
def test_fakes_have_only_names_that_qt_has(part, names):
    module = pytest.importorskip(f"PyQt6.{part_module(part)}", exc_type=ImportError)
    assert module is importlib.import_module(module.__name__)
    fake = FakeMultimedia() if part == "tones" else FakeSpeech()
    for name in names:
        real = getattr(module, name)
        for member in (m for m in vars(getattr(fake, name)) if not m.startswith("_") and m != "staticMetaObject"):
            assert hasattr(real, member), f"{name}.{member}"
