"""What the tests of the place Plan share: the hour, two ports, keys, cells of the battery."""

import datetime as dt

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QApplication

from acquire.links.ports import PortInfo
from ui.window.plan.table import COLUMNS

NOW = dt.datetime(2026, 3, 2, 9, 5, tzinfo=dt.UTC)
PORTS = (PortInfo(device="/dev/ttyACM7", description="force sensor"), PortInfo(device="COM3", description="COM3"))


def typed(qtbot, *strokes):
    """Press keys one after the other, whatever has the focus."""
    for stroke in strokes:
        widget = QApplication.focusWidget()
        if isinstance(stroke, str):
            qtbot.keyClicks(widget, stroke)
        else:
            qtbot.keyClick(widget, stroke)


def cell(place, key, column):
    rows = place.what.table.rows
    at = next(place for place, row in enumerate(rows.rows) if row.action.key == key)
    return rows.index(at, COLUMNS.index(column))


def shown(place, key, column):
    return cell(place, key, column).data()


TAB, SPACE, DOWN, RIGHT, ENTER = Qt.Key.Key_Tab, Qt.Key.Key_Space, Qt.Key.Key_Down, Qt.Key.Key_Right, Qt.Key.Key_Return
