"""Panes with a bar between them that can be seen, pulled, and moved with the arrow keys."""

from __future__ import annotations

from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QColor, QKeyEvent, QPainter, QPaintEvent
from PyQt6.QtWidgets import QSplitter, QSplitterHandle, QWidget

from ui.model.theme import Theme

WIDTH = 12
"""Of a bar, pixels: the gap between two panels."""
GRIP = 44.0, 4.0
"""Length and thickness of what is seen of it, pixels."""
STEP = 24
"""So far an arrow key moves it, pixels."""

_BACK, _ON = {Qt.Key.Key_Left, Qt.Key.Key_Up}, {Qt.Key.Key_Right, Qt.Key.Key_Down}


class Splitter(QSplitter):
    """Panes side by side or one above the other.

    Parameters
    ----------
    way : Qt.Orientation
        How they lie.
    theme : Theme
        Colours of the bars.
    name : str
        What the bars are called for those who do not see them.
    """

    def __init__(self, way: Qt.Orientation, theme: Theme, name: str) -> None:
        super().__init__(way)
        self._theme, self._name = theme, name
        self.setHandleWidth(WIDTH)
        self.setChildrenCollapsible(False)

    def put(self, pane: QWidget, share: int) -> None:
        """Add a pane that takes so large a share of what there is."""
        self.addWidget(pane)
        self.setStretchFactor(self.indexOf(pane), share)

    def share(self, *shares: int) -> None:
        """Give each pane its share of the room there is."""
        room = max(1, self.width() if self.orientation() is Qt.Orientation.Horizontal else self.height())
        self.setSizes([room * share // max(1, sum(shares)) for share in shares])

    def createHandle(self) -> QSplitterHandle:  # noqa: N802 (Qt's name)
        """Return a bar."""
        return Bar(self, self._theme, self._name)


class Bar(QSplitterHandle):
    """What is pulled; the arrow keys move it, too."""

    def __init__(self, splitter: Splitter, theme: Theme, name: str) -> None:
        super().__init__(splitter.orientation(), splitter)
        self._theme = theme
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(name)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Move by a step; every other key is somebody else's."""
        key = None if event is None else Qt.Key(event.key())
        if key not in _BACK | _ON:
            super().keyPressEvent(event)
            return
        at = self.x() if self.orientation() is Qt.Orientation.Horizontal else self.y()
        self.moveSplitter(at + (STEP if key in _ON else -STEP))

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802, ARG002 (Qt's name)
        """Paint the grip in the middle, and the ring when it has the focus."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self._theme.focus if self.hasFocus() else self._theme.border))
        across = self.orientation() is Qt.Orientation.Vertical
        length, thick = (2.0 * GRIP[0], GRIP[1] + 2.0) if self.hasFocus() else GRIP
        width, height = (length, thick) if across else (thick, length)
        grip = QRectF(0.0, 0.0, width, height)
        grip.moveCenter(QPointF(self.width() / 2.0, self.height() / 2.0))
        painter.drawRoundedRect(grip, thick / 2.0, thick / 2.0)
        painter.end()
