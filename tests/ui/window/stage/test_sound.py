"""Sound without a sound device: the window's side with programs of the test, the other with a fake of Qt's modules."""

import subprocess
import sys

import pytest
from PyQt6.QtCore import QProcess

from ui.window.stage.sound import PROGRAM, Sound
from ui.words.words import Words

pytestmark = pytest.mark.usefixtures("qapp")

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


def test_nothing_of_sound_is_loaded_with_the_window():
    program = "import sys, ui.window.stage.sound; print(*[n for n in sys.modules if n.startswith('PyQt6.Qt')])"
    command = [sys.executable, "-c", program]
    loaded = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True).stdout.split()
    assert "PyQt6.QtCore" in loaded
    assert not {"PyQt6.QtMultimedia", "PyQt6.QtTextToSpeech"} & set(loaded)
