"""Each control says what it does, and F1 explains the place one is in."""

import pytest
from msgspec.structs import replace
from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSlider,
    QAbstractSpinBox,
    QComboBox,
    QLineEdit,
    QScrollBar,
)

from ui.model.plan.remembered import Remembered
from ui.model.theme import LIGHT
from ui.window.app import build_window
from ui.window.main_window import PLACES
from ui.words.words import languages

CONTROLS = (QAbstractButton, QAbstractItemView, QAbstractSlider, QAbstractSpinBox, QComboBox, QLineEdit)
PARTS = (QComboBox, QAbstractSpinBox, QAbstractItemView, QLineEdit)
"""What lies in these belongs to them, and they have the tooltip; a list is opened from a box of its own."""


def is_part(widget):
    above = widget.parentWidget()
    while above is not None:
        if isinstance(above, PARTS):
            return True
        above = above.parentWidget()
    return False


def unexplained(place):
    controls = [each for kind in CONTROLS for each in place.findChildren(kind)]
    assert controls
    own = (each for each in controls if not is_part(each) and not isinstance(each, QScrollBar))
    return [f"{type(each).__name__} {each.accessibleName() or each.objectName()}" for each in own if not each.toolTip()]


@pytest.mark.parametrize("language", languages())
def test_every_control_has_a_tooltip_and_f1_explains_the_place_one_is_in(qtbot, tmp_path, language):
    remembered = Remembered(tmp_path / "remembered.json")
    window = build_window(remembered, LIGHT, draft=replace(remembered.fresh_draft(), language=language))
    qtbot.addWidget(window)
    window.show()
    assert {name: unexplained(getattr(window, name)) for name in PLACES} == {name: [] for name in PLACES}
    for name in PLACES:
        window.go(name)
        window.explain()
        shown = window.help
        assert shown.text.text() == window.words(f"help.{name}")
        assert window.words(f"place.{name}") in shown.windowTitle()
    shown.activateWindow()
    qtbot.waitUntil(shown.isActiveWindow)
    qtbot.keyClick(shown, Qt.Key.Key_Escape)
    assert window.help is None
    window.close()
