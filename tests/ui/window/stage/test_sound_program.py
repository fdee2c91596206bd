"""The program that sounds: it takes orders line by line, and ends with its input."""

import subprocess
import sys

import pytest
from qt_sound import NO_DEVICE, FakeDevice, FakeMultimedia, FakeSpeech

from ui.window.stage.sound import PROGRAM
from ui.window.stage.sound_program import Desk, Orders

pytestmark = pytest.mark.usefixtures("qapp")


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
