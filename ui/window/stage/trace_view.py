"""The live trace against the wanted band: drawn by hand, one polyline of two points a pixel column.

A plot library's axes would be laid out anew with each frame. Here the picture is a filled band, a few
lines and the trace, so that a frame costs a fraction of a millisecond whatever the sensor's rate.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen, QPolygonF
from PyQt6.QtWidgets import QSizePolicy, QWidget
from pyqtgraph.functions import arrayToQPolygonF

from acquire.values.arrays import FloatArray
from acquire.values.units import ForceUnit, from_newtons
from analysis.trial.windows import runs
from ui.model.columns import columns
from ui.model.stage.band import Band, top_of_scale
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


class TraceView(QWidget):
    """The force of the effort under way, or of the last seconds while none is."""

    def __init__(self, words: Words, theme: Theme, unit: ForceUnit) -> None:
        super().__init__()
        self._words, self._theme, self._unit = words, theme, unit
        self._time: FloatArray = np.empty(0)
        self._force: FloatArray = np.empty(0)
        self._band: Band | None = None
        self._top = 60.0
        self._scale_hidden = False
        self._span = EFFORT_SPAN
        self.frames = 0
        """How often it has been painted."""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumHeight(160)
        self.setAccessibleName(words("test.wanted"))

    @property
    def span(self) -> TimeSpan:
        """What is shown."""
        return self._span

    @property
    def has_trace(self) -> bool:
        """Whether there is something to show."""
        return len(self._time) > 0

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

    def show_band(self, band: Band | None) -> None:
        """Take the band for the next trial; the same level as before changes nothing."""
        if band is not None and self._band is not None and band.level == self._band.level:
            return
        self._band = band
        self._top = top_of_scale(band.level if band else None, 0.0)
        self.update()

    def show_trace(self, time: FloatArray, force: FloatArray) -> None:
        """Take the trace, with time 0 at the onset; the scale grows when it must, and never jumps back."""
        self._time, self._force = time, force
        if len(force):
            highest = float(np.nanmax(force))
            if highest > 0.95 * self._top:
                self._top = top_of_scale(self._band.level if self._band else None, highest)
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802, ARG002 (Qt's name)
        """Draw band, grid and trace."""
        self.frames += 1
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        area = self._area()
        self._draw_band(painter, area)
        self._draw_grid(painter, area)
        self._draw_trace(painter, area)
        painter.end()

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

    def _draw_band(self, painter: QPainter, area: QRectF) -> None:
        band = self._band
        if band is None or self._span is not EFFORT_SPAN:
            return
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self._theme.band))
        if band.level is None:
            # no level yet: only the times of ramp and hold
            ends = ((*band.ramp_end, "test.band_ramp"), (band.hold_end, band.hold_end + 0.06, "test.band_hold"))
            for start, stop, key in ends:
                self._draw_time(painter, area, start, stop, self._words(key))
            return
        edge = [(t, n) for t, n in zip(band.time, band.high, strict=True)]
        edge += [(t, n) for t, n in zip(band.time[::-1], band.low[::-1], strict=True)]
        painter.drawPolygon(QPolygonF([QPointF(self._x(area, t), self._y(area, n)) for t, n in edge]))

    def _draw_time(self, painter: QPainter, area: QRectF, start: float, stop: float, text: str) -> None:
        """Draw a stretch of time over the whole height, with its name at the foot."""
        left, right, size = self._x(area, start), self._x(area, stop), self._font_px()
        painter.setPen(Qt.PenStyle.NoPen)
        painter.drawRect(QRectF(left, area.top(), right - left, area.height()))
        painter.setPen(QColor(self._theme.quiet))
        painter.setFont(self._font())
        box = QRectF(left - 220.0, area.bottom() - 2.6 * size, right - left + 440.0, 1.5 * size)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)

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
        painter.setPen(QPen(QColor(self._theme.curve), 2.5))
        across, down = self._x(area, x), self._y(area, y)
        last: QPointF | None = None
        for start, stop in runs(~np.isnan(y)):  # lost samples stay a gap
            painter.drawPolyline(arrayToQPolygonF(across[start:stop], down[start:stop]))
            last = QPointF(float(across[stop - 1]), float(down[stop - 1]))
        if last is not None:
            painter.setBrush(QColor(self._theme.curve))
            painter.drawEllipse(last, 6.0, 6.0)
