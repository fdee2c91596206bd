"""The trials of an action in Test: a row for each side, with a box for each trial planned, the best and the difference.

Painted by hand: every text is measured and made as large as its box allows, so that nothing is cut however many trials
there are.
"""

from __future__ import annotations

from PyQt6.QtCore import QPointF, QRectF, QSize, Qt
from PyQt6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PyQt6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from ui.model.stage.rows_text import RowText
from ui.model.stage.text import TrialText
from ui.model.theme import Theme
from ui.window.widgets.big_text import fitting, sized

ROWS = 2
"""The sides of an action."""
SHOWN = 8
"""Boxes of a row; of more trials the last are shown."""
ROUND, EDGE, PAD = 8.0, 6.0, 14.0


class TrialsRow(QWidget):
    """The rows of an action, one under the other."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        self.rows = [SideRow(theme) for _ in range(ROWS)]
        for row in self.rows:
            column.addWidget(row)

    def show_rows(self, rows: tuple[RowText, ...]) -> None:
        """Show the sides of an action; the one that is tried is among them where there are more than two."""
        first = max(0, next((at for at, row in enumerate(rows) if row.now), 0) - ROWS + 1)
        shown = rows[first : first + ROWS]
        for at, row in enumerate(self.rows):
            row.setVisible(at < len(shown))
            if at < len(shown):
                row.show_row(shown[at])

    def fit_window(self, height: int) -> None:
        """Scale the rows to a window of this height."""
        for row in self.rows:
            row.setFixedHeight(max(44, round(0.078 * height)))


class SideRow(QWidget):
    """One side: its name, a box for each trial, the best and the difference."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._row: RowText | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    @property
    def row(self) -> RowText | None:
        """What is shown."""
        return self._row

    @property
    def boxes(self) -> tuple[TrialText, ...]:
        """The boxes that are shown: the last, where there is no room for all."""
        return () if self._row is None else self._row.boxes[-SHOWN:]

    def show_row(self, row: RowText) -> None:
        """Show a side."""
        if row != self._row:
            self._row = row
            self.setAccessibleName(row.heard)
            self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """Ask for little: the layout gives the width."""
        return QSize(200, 50)

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802, ARG002 (Qt's name)
        """Paint ground, side, boxes, best and difference."""
        row = self._row
        if row is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(QColor(self._theme.panel))
        painter.setPen(QPen(QColor(self._theme.focus), 3.0) if row.now else Qt.PenStyle.NoPen)
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5), ROUND, ROUND)
        side, boxes, best = self._places()
        colour = self._theme.text if row.now else self._theme.quiet
        self._write(painter, row.side, side, 0.46, colour, bold=True)
        for place, box in zip(boxes, self.boxes, strict=True):
            self._paint_box(painter, box, place)
        self._paint_best(painter, row, best)
        painter.end()

    def _places(self) -> tuple[QRectF, list[QRectF], QRectF]:
        """Return the places of the side, of the boxes and of the best."""
        width, height = float(self.width()), float(self.height())
        side, best = QRectF(PAD, 0.0, 0.11 * width, height), QRectF(0.83 * width, 0.0, 0.17 * width - PAD, height)
        left, count = side.right() + PAD, max(1, len(self.boxes))
        each = min((best.left() - left) / count, 0.26 * width)
        return side, [QRectF(left + at * each, 0.0, each - PAD, height) for at in range(len(self.boxes))], best

    def _paint_box(self, painter: QPainter, box: TrialText, place: QRectF) -> None:
        """Paint a strip of colour, the force, and beside or below it what it came to."""
        height = place.height()
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(getattr(self._theme, box.colour)))
        painter.drawRoundedRect(QRectF(place.left(), 0.2 * height, EDGE, 0.6 * height), 2.0, 2.0)
        inside = place.adjusted(EDGE + 8.0, 0.0, 0.0, 0.0)
        upper = QRectF(inside.left(), 0.08 * height, inside.width(), 0.5 * height)
        lower = QRectF(inside.left(), 0.58 * height, inside.width(), 0.34 * height)
        self._write(painter, box.force, upper, 0.66, self._theme.text, bold=True)
        self._write(painter, box.verdict, lower, 0.60, self._theme.quiet)

    def _paint_best(self, painter: QPainter, row: RowText, place: QRectF) -> None:
        height = place.height()
        upper = QRectF(place.left(), 0.08 * height, place.width(), 0.5 * height) if row.difference else place
        share = 0.60 if row.difference else 0.30
        self._write(painter, row.best, upper, share, self._theme.text, bold=True, right=True)
        lower = QRectF(place.left(), 0.58 * height, place.width(), 0.34 * height)
        self._write(painter, row.difference, lower, 0.60, self._theme.text, right=True)

    def _write(
        self,
        painter: QPainter,
        text: str,
        place: QRectF,
        share: float,
        colour: str,
        *,
        bold: bool = False,
        right: bool = False,
    ) -> None:
        """Write a text into a place, its capitals this share of the place's height where they fit."""
        if not text:
            return
        font = QFont(self.font())
        font.setBold(bold)
        fitted = fitting(
            text, font, width=place.width(), height=place.height(), cap=share * place.height(), most_lines=1
        )
        painter.save()
        painter.setPen(QColor(colour))
        painter.setFont(sized(font, fitted.pixels))
        wide = QFontMetricsF(painter.font()).horizontalAdvance(text) * fitted.narrowed
        left = place.right() - wide if right else place.left()
        painter.translate(left, place.center().y() + fitted.cap / 2.0)
        painter.scale(fitted.narrowed, 1.0)
        painter.drawText(QPointF(0.0, 0.0), text)
        painter.restore()
