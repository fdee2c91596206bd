"""The live trace against what is asked: drawn by hand, one polyline of two points a pixel column.

A plot library's axes would be laid out anew with each frame. Here the picture is a wedge, a few lines and the trace.
What stays from frame to frame, the grid and the trials before, is painted once and kept. The trace is drawn in lines
of one pixel beside each other: Qt's painter takes about ten times as long for a line of the same width in one stroke.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen, QPixmap, QPolygonF
from PyQt6.QtWidgets import QSizePolicy, QWidget

from acquire.values.arrays import FloatArray
from acquire.values.units import ForceUnit, from_newtons
from analysis.trial.windows import runs
from ui.model.columns import columns
from ui.model.stage.band import top_of_scale
from ui.model.stage.earlier import Ghost
from ui.model.stage.target import Target
from ui.model.theme import Theme
from ui.words.words import Words

Number = TypeVar("Number", float, FloatArray)


@dataclass(frozen=True, slots=True)
class TimeSpan:
    """What is shown, in seconds, and how far apart the times are written."""

    start: float
    stop: float
    step: int

    @property
    def length(self) -> float:
        """How long it is, s."""
        return self.stop - self.start

    def marks(self) -> range:
        """Return the times that are written."""
        return range(-int(-self.start // self.step) * self.step, int(self.stop) + 1, self.step)


EFFORT_SPAN = TimeSpan(-1.0, 8.0, 1)
"""An effort, 0 at its onset."""

MINUTE_SPAN = TimeSpan(-60.0, 0.0, 10)
"""The stream as it comes, 0 is now."""

GRID_LINES = 5
BESIDE = ((0.0, -0.75), (0.0, 0.75), (-0.75, 0.0), (0.75, 0.0))
"""Where the lines of one pixel lie that make the trace 2.5 pixels wide."""


def polygon_of(x: FloatArray, y: FloatArray) -> QPolygonF:
    """Return points as Qt draws them, without a Python object for each; pyqtgraph has it too, but starts slowly."""
    polygon = QPolygonF()
    polygon.fill(QPointF(), len(x))
    memory = polygon.data()
    if memory is not None:
        memory.setsize(2 * 8 * len(x))
        np.frombuffer(memory, dtype=np.float64).reshape(-1, 2)[:] = np.column_stack([x, y])  # type: ignore[call-overload] # a buffer
    return polygon


class TraceView(QWidget):
    """The force of the effort under way, or of the last seconds while none is."""

    def __init__(self, words: Words, theme: Theme, unit: ForceUnit) -> None:
        super().__init__()
        self._words, self._theme, self._unit = words, theme, unit
        self._time: FloatArray = np.empty(0)
        self._force: FloatArray = np.empty(0)
        self._target: Target | None = None
        self._before: tuple[Ghost, ...] = ()
        self._level: float | None = None
        self._top = 60.0
        self._scale_hidden = False
        self._span = EFFORT_SPAN
        self._kept: tuple[object, QPixmap] | None = None
        """The ground, and what it was painted from."""
        self.frames = 0
        """How often it has been painted."""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumHeight(120)
        self.setAccessibleName(words("stage.trace"))
        self.setAccessibleDescription(words("stage.trace_none"))

    @property
    def span(self) -> TimeSpan:
        """What is shown."""
        return self._span

    @property
    def has_trace(self) -> bool:
        """Whether there is something to show."""
        return len(self._time) > 0

    @property
    def highest_n(self) -> float | None:
        """The highest force that is shown, N; None where nothing is."""
        return float(np.nanmax(self._force)) if np.any(~np.isnan(self._force)) else None

    def show_span(self, span: TimeSpan) -> None:
        """Show another stretch of time."""
        self._span = span
        self.clear()

    def clear(self) -> None:
        """Show no trace."""
        self._time, self._force = np.empty(0), np.empty(0)
        self.update()

    def hide_scale(self, hidden: bool) -> None:
        """Leave out the newtons beside the grid."""
        self._scale_hidden = hidden
        self.update()

    def show_before(self, ghosts: tuple[Ghost, ...], level: float | None) -> None:
        """Take the last trials of the set, and the best force among them; the scale begins anew where they change."""
        if ghosts is self._before and level == self._level:
            return
        self._before, self._level = ghosts, level
        self._top = top_of_scale(level, max((ghost.highest for ghost in ghosts), default=0.0))
        self.update()

    def show_target(self, target: Target | None) -> None:
        """Take what is asked at this moment."""
        self._target = target
        self.update()

    @property
    def target(self) -> Target | None:
        """What is asked, as it is shown."""
        return self._target

    def show_trace(self, time: FloatArray, force: FloatArray) -> None:
        """Take the trace, with time 0 at the onset; the scale grows when it must, and never jumps back."""
        self._time, self._force = time, force
        if len(force):
            highest = float(np.nanmax(force))
            if highest > 0.95 * self._top:
                self._top = top_of_scale(self._level, highest)
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802, ARG002 (Qt's name)
        """Draw band, grid and trace."""
        self.frames += 1
        area = self._area()
        ground = self._ground(area)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._draw_wedge(painter, area)
        painter.drawPixmap(0, 0, ground)
        if self._span is EFFORT_SPAN:
            self._draw_hold(painter, area)
        self._draw_trace(painter, area)
        painter.end()

    def _ground(self, area: QRectF) -> QPixmap:
        """Return grid and the trials before, painted anew only where one of them has changed."""
        scale = self.devicePixelRatioF()
        size, look = (self.width(), self.height(), scale), (self._scale_hidden, self.font().key())
        made_from = (size, look, self._top, self._span, self._before)
        if self._kept is None or self._kept[0] != made_from:
            ground = QPixmap(round(scale * self.width()), round(scale * self.height()))
            ground.setDevicePixelRatio(scale)
            ground.fill(Qt.GlobalColor.transparent)
            painter = QPainter(ground)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            self._draw_grid(painter, area)
            if self._span is EFFORT_SPAN:
                self._draw_before(painter, area)
            painter.end()
            self._kept = (made_from, ground)
        return self._kept[1]

    def _area(self) -> QRectF:
        left, bottom, top = 2.6 * self._font_px(), 1.9 * self._font_px(), 0.8 * self._font_px()
        return QRectF(left, top, max(10.0, self.width() - left - 28.0), max(10.0, self.height() - bottom - top))

    def _font_px(self) -> float:
        return max(12.0, min(24.0, self.height() / 22.0))

    def _x(self, area: QRectF, seconds: Number) -> Number:
        return area.left() + (seconds - self._span.start) / self._span.length * area.width()

    def _y(self, area: QRectF, newtons: Number) -> Number:
        low = -0.06 * self._top
        return area.bottom() - (newtons - low) / (self._top - low) * area.height()

    def _wedge(self, area: QRectF) -> list[tuple[float, float]]:
        """Return the corners of where the build-up should be, pixels; none where nothing is asked."""
        target = self._target
        if target is None or self._span is not EFFORT_SPAN:
            return []
        least, most = target.ramp_end
        level = self._top if target.level is None else target.level
        corners = [(target.onset, 0.0), (least, level), (most, level)]
        if target.level is None:
            corners = [(least, 0.0), (least, level), (most, level), (most, 0.0)]
        return [(self._x(area, t), self._y(area, n)) for t, n in corners]

    def _draw_wedge(self, painter: QPainter, area: QRectF) -> None:
        """Draw where the build-up should be; without a level, only when it should be over."""
        corners = self._wedge(area)
        if not corners or self._target is None:
            return
        painter.setPen(QPen(QColor(self._theme.target), 1.5))
        painter.setBrush(QColor(self._theme.band))
        painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in corners]))
        if self._target.level is None:
            middle = (corners[0][0] + corners[2][0]) / 2.0
            self._label(painter, self._words("test.band_ramp"), middle, area.top() + self._font_px())

    def _draw_hold(self, painter: QPainter, area: QRectF) -> None:
        """Draw the floor, and where the hold will have lasted long enough."""
        target = self._target
        if target is None or target.floor is None or target.held_from is None or target.until is None:
            return
        left, right, floor = self._x(area, target.held_from), self._x(area, target.until), self._y(area, target.floor)
        colour = QColor(self._theme.target)
        painter.setPen(QPen(colour, 3.0, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(left, floor), QPointF(right, floor))
        painter.setPen(QPen(colour, 3.0))
        painter.drawLine(QPointF(right, area.top()), QPointF(right, area.bottom()))
        self._label(painter, self._words("stage.floor"), (left + right) / 2.0, floor + 0.9 * self._font_px())
        self._label(painter, self._words("stage.until"), right, area.top() + self._font_px(), beside=True)

    def _label(self, painter: QPainter, text: str, x: float, y: float, *, beside: bool = False) -> None:
        """Write a text about a point, or to the left of it, on the ground of the panel so that no line crosses it."""
        font = self._font()
        font.setBold(True)
        painter.setFont(font)
        size = painter.fontMetrics().size(0, text)
        left = x - size.width() - 10.0 if beside else x - size.width() / 2.0
        left = min(max(left, 4.0), self.width() - size.width() - 4.0)
        box = QRectF(left, y - size.height() / 2.0, size.width(), size.height())
        painter.fillRect(box, QColor(self._theme.panel))
        painter.setPen(QColor(self._theme.target))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)

    def _draw_before(self, painter: QPainter, area: QRectF) -> None:
        """Draw the last trials of the set, thin, each with its number at its end."""
        painter.setFont(self._font())
        for ghost in self._before:
            painter.setPen(QPen(QColor(self._theme.quiet), 1.0))
            points = zip(self._x(area, ghost.time), self._y(area, ghost.force), strict=True)
            painter.drawPolyline(QPolygonF([QPointF(x, y) for x, y in points]))
            end = QPointF(self._x(area, float(ghost.time[-1])) + 4.0, self._y(area, float(ghost.force[-1])))
            painter.drawText(end, ghost.label)

    def _font(self) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(int(self._font_px()))
        return font

    def _draw_grid(self, painter: QPainter, area: QRectF) -> None:
        painter.setFont(self._font())
        for place in range(GRID_LINES + 1):
            newtons = self._top * place / GRID_LINES
            y = self._y(area, newtons)
            painter.setPen(QPen(QColor(self._theme.edge), 1.0))
            painter.drawLine(QPointF(area.left(), y), QPointF(area.right(), y))
            painter.setPen(QColor(self._theme.quiet))
            text = "" if self._scale_hidden else f"{from_newtons(newtons, self._unit):.0f}"
            box = QRectF(0.0, y - self._font_px(), area.left() - 8.0, 2.0 * self._font_px())
            painter.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text)
        for second in self._span.marks():
            box = QRectF(self._x(area, second) - 40.0, area.bottom() + 2.0, 80.0, 1.6 * self._font_px())
            painter.drawText(box, Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop, f"{second} s")

    def _draw_trace(self, painter: QPainter, area: QRectF) -> None:
        if len(self._time) < 2:
            return
        shown = self._span
        x, y = columns(self._time, self._force, start=shown.start, stop=shown.stop, width=int(area.width()))
        painter.setPen(QPen(QColor(self._theme.curve), 1.0))
        across, down = self._x(area, x), self._y(area, y)
        last: QPointF | None = None
        for start, stop in runs(~np.isnan(y)):  # lost samples stay a gap
            line = polygon_of(across[start:stop], down[start:stop])
            for right, below in BESIDE:
                painter.drawPolyline(line.translated(right, below))
            last = QPointF(float(across[stop - 1]), float(down[stop - 1]))
        if last is not None:
            painter.setBrush(QColor(self._theme.curve))
            painter.drawEllipse(last, 6.0, 6.0)
