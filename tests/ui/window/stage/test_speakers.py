"""The speakers: a tone reaches the device, a word its engine; whatever fails is silence."""

import importlib

import numpy as np
import pytest
from qt_sound import NO_DEVICE, FakeDevice, FakeMultimedia, FakeSpeech

from ui.model.stage.tones import tone
from ui.window.stage.speakers import TonePlayer, Voice

pytestmark = pytest.mark.usefixtures("qapp")


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


@pytest.mark.parametrize(
    ("part", "names"),
    [
        ("QtMultimedia", ("QMediaDevices", "QAudioSink", "QAudioFormat", "QAudio")),
        ("QtTextToSpeech", ("QTextToSpeech",)),
    ],
)
def test_fakes_have_only_names_that_qt_has(part, names):
    module = pytest.importorskip(f"PyQt6.{part}", exc_type=ImportError)
    assert module is importlib.import_module(module.__name__)
    fake = FakeMultimedia() if part == "QtMultimedia" else FakeSpeech()
    for name in names:
        real = getattr(module, name)
        for member in (m for m in vars(getattr(fake, name)) if not m.startswith("_") and m != "staticMetaObject"):
            assert hasattr(real, member), f"{name}.{member}"
