"""Which limb is tried: its side and the action, on a ground of its own, with a bar on the side it names."""

from __future__ import annotations

from PyQt6.QtCore import QRectF, Qt
from PyQt6.QtGui import QColor, QPainter, QPaintEvent
from PyQt6.QtWidgets import QVBoxLayout, QWidget

from acquire.values.records import Side
from ui.model.theme import Theme
from ui.window.widgets.big_text import BigText

ROUND, BAR = 8.0, 12


class SidePanel(QWidget):
    """The side in the largest letters, the action below, and the method."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._side: Side | None = None
        self.side, self.action = BigText(theme.window, most_lines=1), BigText(theme.window)
        self.method = BigText(theme.window, most_lines=1, bold=False)
        column = QVBoxLayout(self)
        column.setContentsMargins(BAR + 12, 12, BAR + 12, 12)
        column.setSpacing(8)
        for text, share in ((self.side, 50), (self.action, 32), (self.method, 18)):
            column.addWidget(text, share)

    def show_limb(self, side: Side | None, *, word: str, action: str, method: str) -> None:
        """Show a limb.

        Parameters
        ----------
        side : {"left", "right"} or None
            Where the bar is.
        word : str
            The side in capitals.
        action, method : str
            In words.
        """
        self._side = side
        self.side.show_text(word)
        self.action.show_text(action)
        self.method.show_text(method)
        self.setAccessibleName(", ".join(filter(None, (word.capitalize(), action, method))))
        self.update()

    def set_caps(self, side: float, action: float) -> None:
        """Let the letters be no higher than that, pixels."""
        self.side.set_cap(side)
        self.action.set_cap(action)
        self.method.set_cap(0.8 * action)

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802, ARG002 (Qt's name)
        """Paint the ground and the bar."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self._theme.text))
        painter.drawRoundedRect(QRectF(self.rect()), ROUND, ROUND)
        if self._side is not None:
            left = 0.0 if self._side == "left" else self.width() - BAR
            painter.setBrush(QColor(self._theme.mark))
            painter.drawRoundedRect(QRectF(left, 0.0, BAR, self.height()), ROUND / 2.0, ROUND / 2.0)
        painter.end()
