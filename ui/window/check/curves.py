"""A sensor's zero, sensitivity and noise over time, small: three curves beside one another, painted by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PyQt6.QtWidgets import QSizePolicy, QWidget

from analysis.sensor_check import SensorCheck, Status
from ui.model.check.trend import CheckTrend, Point, trends
from ui.model.theme import Theme
from ui.words.words import Words

HEIGHT = 132
GAP = 28
MARK = 3.5
FOOT = 1.4
"""Lines of text above and below a curve."""


class CheckCurves(QWidget):
    """The curves of some checks; a screen reader gets their number and the last zero."""

    def __init__(self, words: Words, theme: Theme) -> None:
        super().__init__()
        self._words, self._theme = words, theme
        self._trends: tuple[CheckTrend, ...] = ()
        self.setMinimumHeight(HEIGHT)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def show_checks(self, checks: Sequence[SensorCheck]) -> None:
        """Take the checks of a sensor, the oldest first."""
        self._trends = trends(checks)
        about = self._words("check.history_none")
        if checks:
            zero = self._words.number(self._trends[0].points[-1].value, 2, signed=True)
            about = self._words("check.history_about", count=len(checks), zero=zero)
        self.setAccessibleName(about)
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802, ARG002 (Qt's name)
        """Draw the curves, or say that there are none."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if not any(trend.points for trend in self._trends):
            painter.setPen(QColor(self._theme.quiet))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, self._words("check.history_none"))
            return
        width = (self.width() - GAP * (len(self._trends) - 1)) / len(self._trends)
        for number, trend in enumerate(self._trends):
            self._draw(painter, trend, QRectF(number * (width + GAP), 0.0, width, float(self.height())))

    def _draw(self, painter: QPainter, trend: CheckTrend, box: QRectF) -> None:
        line = painter.fontMetrics().height()
        painter.setPen(QColor(self._theme.quiet))
        painter.drawText(box, Qt.AlignmentFlag.AlignTop, self._words(f"check.history_{trend.key}"))
        if not trend.points:
            return
        inside = box.adjusted(0.0, FOOT * line, 0.0, -FOOT * line)
        first, last = trend.points[0].made, trend.points[-1].made
        painter.drawText(box, Qt.AlignmentFlag.AlignBottom, self._words.day(first.astimezone()))
        if last.date() != first.date():
            both = Qt.AlignmentFlag.AlignBottom | Qt.AlignmentFlag.AlignRight
            painter.drawText(box, both, self._words.day(last.astimezone()))
        scale = _Scale(trend.points, inside, margin=painter.fontMetrics().horizontalAdvance("+00.00") + 6.0)
        self._draw_scale(painter, scale, inside)
        self._draw_points(painter, trend.points, scale)

    def _draw_scale(self, painter: QPainter, scale: _Scale, inside: QRectF) -> None:
        for value in (scale.low, scale.high):
            y = scale.y(value)
            painter.setPen(QPen(QColor(self._theme.edge), 1.0))
            painter.drawLine(QPointF(scale.left, y), QPointF(inside.right(), y))
            painter.setPen(QColor(self._theme.quiet))
            painter.drawText(
                QPointF(inside.left(), y + 0.35 * painter.fontMetrics().ascent()), self._words.number(value, 2)
            )

    def _draw_points(self, painter: QPainter, points: Sequence[Point], scale: _Scale) -> None:
        places = [scale.place(point) for point in points]
        painter.setPen(QPen(QColor(self._theme.curve), 1.0))
        painter.drawPolyline(QPolygonF(places))
        for point, place in zip(points, places, strict=True):
            self._mark(painter, point.status, place)

    def _mark(self, painter: QPainter, status: Status, place: QPointF) -> None:
        """Draw a dot, a triangle or a cross: colour never speaks alone."""
        theme = self._theme
        colour = QColor({Status.PASS: theme.good, Status.WARN: theme.warn, Status.FAIL: theme.bad}[status])
        painter.setPen(QPen(colour, 2.0))
        painter.setBrush(colour)
        x, y = place.x(), place.y()
        if status is Status.PASS:
            painter.drawEllipse(place, MARK - 1.0, MARK - 1.0)
        elif status is Status.WARN:
            corners = [QPointF(x, y - MARK), QPointF(x - MARK, y + MARK), QPointF(x + MARK, y + MARK)]
            painter.drawPolygon(QPolygonF(corners))
        else:
            painter.drawLine(QPointF(x - MARK, y - MARK), QPointF(x + MARK, y + MARK))
            painter.drawLine(QPointF(x - MARK, y + MARK), QPointF(x + MARK, y - MARK))
        painter.setBrush(Qt.BrushStyle.NoBrush)


class _Scale:
    """Where a point of a curve lies in its box."""

    def __init__(self, points: Sequence[Point], inside: QRectF, *, margin: float) -> None:
        values = [point.value for point in points]
        spread = max(max(values) - min(values), 0.02)
        middle = 0.5 * (max(values) + min(values))
        self.low, self.high = middle - 0.5 * spread, middle + 0.5 * spread
        self.left = inside.left() + margin
        self._inside = inside
        self._first: dt.datetime = points[0].made
        self._length = max((points[-1].made - self._first).total_seconds(), 1.0)

    def y(self, value: float) -> float:
        """Return the height of a value."""
        share = (value - self.low) / (self.high - self.low)
        return self._inside.bottom() - MARK - share * (self._inside.height() - 2.0 * MARK)

    def place(self, point: Point) -> QPointF:
        """Return where a point lies."""
        share = (point.made - self._first).total_seconds() / self._length
        width = self._inside.right() - self.left - 2.0 * MARK
        return QPointF(self.left + MARK + share * width, self.y(point.value))
