"""The second screen, for the person who pushes: cue, trace, and the number unless it is hidden."""

from __future__ import annotations

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QGuiApplication, QResizeEvent
from PyQt6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from acquire.values.units import ForceUnit
from ui.model.theme import Theme
from ui.window.stage.board import UPPER_SHARE, CuePanel, NumberPanel
from ui.window.stage.trace_view import TraceView
from ui.window.widgets.pieces import panel
from ui.words.words import Words


class PersonScreen(QWidget):
    """A window of its own, on the next screen where there is one."""

    def __init__(self, words: Words, theme: Theme, unit: ForceUnit, parent: QWidget) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.setWindowTitle(words("stage.person_screen"))
        self.cue, self.number = CuePanel(words, theme), NumberPanel(words, theme)
        self.trace = TraceView(words, theme, unit)
        upper = QHBoxLayout()
        upper.setSpacing(12)
        self._panels = [panel(self.cue, wide=True), panel(self.number, wide=True)]
        for part, share in zip(self._panels, (66, 34), strict=True):
            upper.addWidget(part, share)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 18, 18, 18)
        column.setSpacing(12)
        column.addLayout(upper)
        column.addWidget(panel(self.trace, wide=True), 1)
        self.resize(960, 600)

    def open_beside(self, window: QWidget) -> None:
        """Show it: over all of the next screen, or as a window where there is one screen alone."""
        others = [screen for screen in QGuiApplication.screens() if screen is not window.screen()]
        if others:
            self.setGeometry(others[0].availableGeometry())
            self.showFullScreen()
        else:
            self.show()
        window.activateWindow()  # the keys stay with the examiner

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Scale the fonts with the window."""
        super().resizeEvent(event)
        for part in self._panels:
            part.setFixedHeight(round(UPPER_SHARE * self.height()))
        self.cue.fit_window(self.height())
        self.number.fit_window(self.height())
