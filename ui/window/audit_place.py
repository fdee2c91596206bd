"""Audit: an empty place for now, that says what will be here."""

from __future__ import annotations

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QResizeEvent
from PyQt6.QtWidgets import QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from ui.model.theme import Theme
from ui.model.words import Words
from ui.window.plan_style import grow, letters

LINE = 52
"""A line is this many times as long as its letters are high; longer ones are hard to read."""

EDGE_PX = 18


class AuditPlace(QWidget):
    """The place where the technique of examiners will be looked at.

    Parameters
    ----------
    words, theme
        Language and colours.
    """

    def __init__(self, words: Words, theme: Theme) -> None:
        super().__init__()
        del theme  # all of it is in the style sheet
        self._panel = QFrame()
        self._panel.setObjectName("panel")
        column = QVBoxLayout(self._panel)
        column.setContentsMargins(36, 28, 36, 30)
        column.setSpacing(14)
        for key, name in (("title", "heading"), ("what", ""), ("like", ""), ("time", ""), ("until", "quiet")):
            label = QLabel(words(f"audit.{key}"))
            label.setObjectName(name)
            label.setWordWrap(True)
            column.addWidget(label)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self._panel)
        row.addStretch(1)
        around = QVBoxLayout(self)
        around.addStretch(2)
        around.addLayout(row)
        around.addStretch(3)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # there is nothing to do here yet
        self.setAccessibleName(words("audit.title"))
        self.setAccessibleDescription(words("audit.what"))

    def press(self) -> None:
        """Do nothing: there is nothing to do here yet."""

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Let the letters grow with the window."""
        super().resizeEvent(event)
        pixels = letters((self.window() or self).height())
        grow(self, pixels)
        self._panel.setFixedWidth(min(LINE * pixels, self.width() - 2 * EDGE_PX))
