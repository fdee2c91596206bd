"""A Bluetooth sensor opened from the window: the window goes on, a search can be cancelled, a session carried on."""

import threading
from datetime import UTC, datetime

import pytest
from grip import ADDRESS, NAME, effort_counts, grip, packets
from PyQt6.QtCore import Qt, QTimer
from PyQt6.QtWidgets import QApplication, QWidget

from acquire.errors import LinkError, LinkFailure
from acquire.storage.session_file import read_session
from acquire.values.records import Person
from acquire.values.remarks import TrialEnd
from ui.model.plan.plan import PlanDraft
from ui.model.plan.remembered import Remembered
from ui.model.theme import LIGHT
from ui.session.cues import Cue
from ui.window import app
from ui.window.stage.sound import Sound
from ui.window.widgets.connecting import Connecting, opened_aside, over_bluetooth
from ui.words.words import Words, languages

RADIO = PlanDraft(port=NAME, sensor="ble-packets")


@pytest.fixture
def place(qtbot):
    widget = QWidget()
    qtbot.addWidget(widget)
    widget.show()
    return widget


def when_shown(do):
    """Do something to the dialog once it is there."""

    def look():
        dialog = QApplication.activeModalWidget()
        if isinstance(dialog, Connecting) and dialog.isVisible():
            do(dialog)
        else:
            QTimer.singleShot(5, look)

    QTimer.singleShot(0, look)


@pytest.mark.parametrize(
    ("draft", "radio"),
    [
        (RADIO, True),
        (PlanDraft(port="COM3", sensor="bridge-80"), False),
        (PlanDraft(), False),
        (PlanDraft(port="COM3", sensor="no such profile"), False),
    ],
)
def test_only_bluetooth_takes_time(draft, radio):
    assert over_bluetooth(draft) is radio


def test_sensor_by_cable_is_opened_at_once_in_the_same_thread(place):
    draft = PlanDraft(port="COM3", sensor="bridge-80")
    assert opened_aside(lambda _: threading.current_thread(), draft, Words(), place) is threading.main_thread()


@pytest.mark.parametrize("language", languages())
def test_window_goes_on_while_a_bluetooth_sensor_is_looked_for(place, language):
    ticks, texts = [], []
    timer = QTimer(place)
    timer.timeout.connect(lambda: ticks.append(1))
    timer.start(1)
    when_shown(lambda dialog: texts.append(dialog.accessibleName()))

    def work(_):
        assert threading.current_thread() is not threading.main_thread()
        while len(ticks) < 20 or not texts:
            threading.Event().wait(0.001)
        return "opened"

    assert opened_aside(work, RADIO, Words(language), place) == "opened"
    assert NAME in texts[0]


def test_what_the_work_raises_is_raised_here(place):
    def work(_):
        raise LinkError("not there", port=NAME, reason=LinkFailure.NOT_FOUND)

    with pytest.raises(LinkError, match="not there"):
        opened_aside(work, RADIO, Words(), place)


@pytest.mark.parametrize("how", ["escape", "button", "close"])
def test_search_is_cancelled(qtbot, place, how):
    def cancel(dialog):
        if how == "escape":
            qtbot.keyClick(dialog, Qt.Key.Key_Escape)
        elif how == "button":
            qtbot.mouseClick(dialog.buttons.buttons()[0], Qt.MouseButton.LeftButton)
        else:
            dialog.close()

    when_shown(cancel)

    def work(cancelled):
        assert cancelled.wait(20)
        raise LinkError("the search was ended", port=NAME, reason=LinkFailure.FAILED)

    with pytest.raises(LinkError, match="the search was ended"):
        opened_aside(work, RADIO, Words(), place)


# the whole window


@pytest.fixture
def window(tmp_path, monkeypatch, qtbot):
    monkeypatch.setattr(app, "Sound", lambda words: Sound(words, volume=0.0))
    draft = PlanDraft(
        person=Person(code="P-1"),
        examiner="X1",
        battery="own",
        own=("knee-extension",),
        sides=("left",),
        out=str(tmp_path / "session.h5"),
        cautions_acknowledged=datetime.now(UTC),
        port=NAME,
        sensor="ble-packets",
    )
    opened = app.build_window(Remembered(tmp_path / "remembered.json"), LIGHT, draft=draft)
    opened.show()
    qtbot.waitExposed(opened)
    yield opened
    opened.close()


def status(window):
    return window.test.view.status.text().replace("\u00a0", " ")


@pytest.mark.slow
def test_session_over_bluetooth_breaks_off_and_goes_on(qtbot, window, air):
    peer = air.bluez.add(grip(battery=bytes([12])))
    window.plan.press()
    qtbot.waitUntil(lambda: window.place == "test")
    qtbot.waitUntil(lambda: "signal good (-61 dBm), battery charge 12 %: charge it" in status(window))
    engine = window.test.session.engine
    whole = packets(effort_counts())
    half = len(whole) // 2
    playing = air.bluez.play(peer, whole[:half], 0.002)
    qtbot.waitUntil(playing.done, timeout=20_000)
    air.bluez.drop(peer)
    qtbot.waitUntil(lambda: engine.cue is Cue.LOST, timeout=20_000)
    assert "The Bluetooth connection broke" in window.test.view.board.cue.below.text()
    qtbot.waitUntil(lambda: engine.cue is not Cue.LOST, timeout=20_000)
    assert window.test.view.board.cue.below.text().find("Bluetooth connection") < 0
    assert read_session(window.test.session.store.path).trials[0].damage == (TrialEnd.LINK_LOST,)
    assert peer.connected
    window.close()
    assert not peer.connected


def test_sensor_out_of_reach_is_told_in_plan(qtbot, window, air):
    air.bluez.add(grip(name="Other"))
    when_shown(lambda dialog: qtbot.keyClick(dialog, Qt.Key.Key_Escape))
    window.plan.press()
    assert window.place == "plan"
    assert window.words("trouble.search_ended") in window.plan.last.status.text()


@pytest.mark.slow
def test_check_and_limit_look_for_a_bluetooth_sensor_too(qtbot, window, air):
    peer = air.bluez.add(grip(address=ADDRESS))
    window.plan._limit.start(window.plan.draft)
    assert window.plan._limit.running
    assert peer.connected
    window.plan._limit.stop()
    assert not peer.connected
    window.plan.checks.open(window.plan.draft)
    dialog = window.plan.checks.dialog
    dialog.press()
    assert dialog.run is not None
    assert peer.connected
    dialog.reject()
    qtbot.waitUntil(lambda: not peer.connected)
