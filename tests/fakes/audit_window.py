"""What a user of the place Audit does and sees."""

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QApplication


def done(qtbot, place):
    """Wait until nothing is under way."""
    qtbot.waitUntil(lambda: not place.busy, timeout=30_000)


def press(qtbot, key, modifier=Qt.KeyboardModifier.NoModifier):
    """Press a key wherever the focus is."""
    qtbot.keyClick(QApplication.focusWidget(), key, modifier)


def said(label):
    """What a label says; empty while it is hidden."""
    return label.text() if label.isVisible() else ""


def codes(place):
    return [place.body.table.item(row, 0).text() for row in range(place.body.table.rowCount())]
