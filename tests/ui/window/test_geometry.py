"""The window opens within the screen at every scaling, and as it was closed."""

import json
import os
import subprocess
import sys

import pytest
from PyQt6.QtCore import QRect
from PyQt6.QtWidgets import QMainWindow, QWidget

from ui.model.plan.remembered import Remembered
from ui.window.geometry import place_of, put, show_as
from ui.window.widgets.scrolled import Scrolled

OPENS = """
import json, sys
from pathlib import Path
from PyQt6.QtWidgets import QApplication
from ui.model.plan.plan import PlanDraft
from ui.model.plan.remembered import Remembered
from ui.window.app import Shell

application = QApplication([])
window = Shell(application, Remembered(Path(sys.argv[1])), PlanDraft(language="de")).window
application.processEvents()
screen, frame, begin = application.primaryScreen().availableGeometry(), window.frameGeometry(), window.plan.last.begin
corner = begin.mapTo(window, begin.rect().bottomRight())
print(json.dumps([screen.contains(frame), screen.width(), window.rect().contains(corner)]))
window.close()
"""

PLAIN = {"logicalDpi": 96, "logicalBaseDpi": 96, "dpr": 1}

BESIDE = """
import json
from PyQt6.QtWidgets import QApplication, QWidget
from acquire.values.units import ForceUnit
from ui.model.theme import DARK
from ui.window.stage.person_screen import PersonScreen
from ui.words.words import Words

application, window = QApplication([]), QWidget()
window.show()
person = PersonScreen(Words("de"), DARK, ForceUnit.NEWTON, window)
person.open_beside(window)
application.processEvents()
print(json.dumps([person.screen().name(), person.isFullScreen(), person.width(), person.height()]))
"""


def said_on(screens, code, folder, *arguments, scaling=1.0):
    """Run code on a desktop of screens, each with its name, place and size, and return what it says."""
    told = [
        {
            "name": name,
            "x": x,
            "y": 0,
            "width": width,
            "height": height,
            "logicalDpi": 96,
            "logicalBaseDpi": 96,
            "dpr": 1,
        }
        for name, x, width, height in screens
    ]
    (folder / "screens.json").write_text(json.dumps({"windowFrameMargins": True, "screens": told}))
    platform = f"offscreen:configfile={folder / 'screens.json'}"
    run = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        env={**os.environ, "QT_QPA_PLATFORM": platform, "QT_SCALE_FACTOR": str(scaling)},
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(run.stdout)


@pytest.mark.slow
def test_screen_of_the_person_covers_the_second_screen(tmp_path):
    screens = [("one", 0, 1366, 768), ("two", 1366, 1920, 1080)]
    assert said_on(screens, BESIDE, tmp_path) == ["two", True, 1920, 1080]


@pytest.mark.parametrize(
    ("size", "scaling"),
    [
        ((1280, 720), 2.0),
        pytest.param((1366, 768), 1.25, marks=pytest.mark.slow),
        pytest.param((1366, 768), 2.0, marks=pytest.mark.slow),
        pytest.param((1920, 1080), 1.5, marks=pytest.mark.slow),
        pytest.param((1280, 720), 1.0, marks=pytest.mark.slow),
    ],
)
def test_window_opens_within_the_screen_and_shows_the_way_to_begin(tmp_path, size, scaling):
    remembered = str(tmp_path / "remembered.json")
    said = said_on([("one", 0, *size)], OPENS, tmp_path, remembered, scaling=scaling)
    assert said == [True, round(size[0] / scaling), True]


def test_window_opens_as_it_was_closed(qtbot, qapp, tmp_path):
    """Size, place and full screen survive a restart, and so does the size from before the full screen."""
    screen = qapp.primaryScreen().availableGeometry()
    wanted = QRect(screen.x() + 20, screen.y() + 60, 700, 420)

    def opened():
        window, kept = QMainWindow(), Remembered(tmp_path / "remembered.json").window
        qtbot.addWidget(window)
        put(window, kept)
        show_as(window, kept)
        return window

    def closed(window):
        Remembered(tmp_path / "remembered.json").keep_window(place_of(window))
        window.close()

    first = opened()
    first.setGeometry(wanted)
    closed(first)
    second = opened()
    assert second.geometry() == wanted
    second.showFullScreen()
    closed(second)
    third = opened()
    assert third.isFullScreen()
    third.showNormal()
    assert third.size() == wanted.size()


def test_what_has_too_little_room_is_scrolled_and_what_has_enough_is_not(qtbot):
    inside = QWidget()
    inside.setMinimumSize(400, 300)
    area = Scrolled(inside)
    qtbot.addWidget(area)
    area.resize(500, 350)
    area.show()
    assert (area.horizontalScrollBar().maximum(), area.verticalScrollBar().maximum()) == (0, 0)
    assert inside.size() == area.viewport().size()
    area.resize(200, 350)
    assert area.horizontalScrollBar().maximum() > 0
    assert inside.width() == 400
