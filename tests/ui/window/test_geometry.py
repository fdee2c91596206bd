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
    screen = {"name": "one", "x": 0, "y": 0, "width": size[0], "height": size[1]}
    screen |= {"logicalDpi": 96, "logicalBaseDpi": 96, "dpr": 1}
    (tmp_path / "screens.json").write_text(json.dumps({"windowFrameMargins": True, "screens": [screen]}))
    platform = f"offscreen:configfile={tmp_path / 'screens.json'}"
    run = subprocess.run(
        [sys.executable, "-c", OPENS, str(tmp_path / "remembered.json")],
        env={**os.environ, "QT_QPA_PLATFORM": platform, "QT_SCALE_FACTOR": str(scaling)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert json.loads(run.stdout) == [True, round(size[0] / scaling), True]


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
