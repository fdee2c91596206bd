"""Curves of trials over one another, aligned at the onset, with the phases and faults of the selected one named.

The library draws axes and lines. The marks are painted over them in pixels, where letters keep their size: a bracket
and a name for ramp and hold under the curve, a dashed line at the plateau, and a bracket and a name for each fault
above, in lanes so that no two names meet. The stretch of the first fault that rejects is hatched. Names stand in the
part of their stretch that is in view, and go with it.

The scale of the force fits what is in view until the user chooses another one, by the wheel, by dragging or by a key.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import pyqtgraph as pg
from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import (
    QBrush,
    QColor,
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPen,
    QResizeEvent,
)

from acquire.values.units import ForceUnit, from_newtons
from ui.model.columns import columns
from ui.model.review.marks import Curve, Mark, force_at, framed, heights, lanes, name_span, span_of
from ui.model.review.text import BAD, MILD, force
from ui.model.theme import Theme
from ui.window.widgets.chart import Chart
from ui.window.widgets.pieces import button_of
from ui.words.fault_text import fault_name
from ui.words.words import Words

SELECTED_PX, OVERLAID_PX = 2.0, 1.0
TICK_PX = 5.0
LEAST_BRACKET_PX = 12.0
"""A fault of a moment still has a bracket that can be seen."""

RESET = "0"
LEAST_S = 0.02
"""So little time is shown at least, s."""

ZOOM = 1.25
STEP = 0.1
"""One key goes nearer by this factor, and along the trace by this share of what is shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A bracket with its name, in pixels of the widget."""

    mark: Mark
    name: str
    left: float
    right: float
    line: float
    """Height of the bracket's line."""
    text: QRectF


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Overlaid:
    """A curve that lies under the selected one."""

    name: str
    curve: Curve
    dashed: bool
    """For a trial that is set aside."""


class CurvesView(Chart):
    """The curves of trials.

    Parameters
    ----------
    words, theme, unit
        Language, colours and unit of force.
    """

    def __init__(self, words: Words, theme: Theme, unit: ForceUnit) -> None:
        self._ready = False  # the library resizes itself before it is complete
        super().__init__(theme, bottom=words("review.axis.time"), left=words("review.axis.force", unit=unit.symbol))
        self._words, self._unit = words, unit
        self._selected: Curve | None = None
        self._overlaid: tuple[Overlaid, ...] = ()
        self._lines: list[tuple[Curve, pg.PlotCurveItem]] = []
        self.setAccessibleName(words("review.curves"))
        self.setToolTip(words("review.curves_tip"))
        self._framed: tuple[float, float] | None = None
        """The scale of force that fits what is in view; None before there is one."""
        self._scaled = False
        """Whether the user has chosen another scale."""
        self.whole = button_of(words, "review.whole", RESET)
        self.whole.setParent(self)
        self.whole.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # the key does it
        self.whole.clicked.connect(self.fit)
        self.whole.hide()
        self._box.disableAutoRange()
        self._box.sigXRangeChanged.connect(self._redraw)
        self._box.sigYRangeChanged.connect(self._rescaled)
        self._ready = True

    def show_curves(self, selected: Curve | None, overlaid: Sequence[Overlaid] = ()) -> None:
        """Show a curve, strong, over others."""
        self._selected, self._overlaid = selected, tuple(overlaid)
        for _, line in self._lines:
            self.removeItem(line)
        self._lines = [(each.curve, self._line(self._under(each))) for each in self._overlaid]
        if selected is not None:
            self._lines.append((selected, self._line(QPen(QColor(self._theme.curve), SELECTED_PX))))
        self.fit()

    def fit(self) -> None:
        """Show all that is worth showing."""
        shown = [curve for curve, _ in self._lines]
        self._scaled, self._framed = False, None
        if shown:
            start, stop = span_of(shown)
            room = stop - start
            self._box.setLimits(xMin=start - room, xMax=stop + room, minXRange=LEAST_S)
            self._box.setXRange(start, stop, padding=0.0)
        self._redraw()

    @property
    def zoomed(self) -> bool:
        """Whether something else is in view than all that is worth showing."""
        shown = [curve for curve, _ in self._lines]
        return self._scaled or (bool(shown) and not _alike(self._box.viewRange()[0], span_of(shown)))

    def zoom(self, nearer: bool) -> None:
        """Show less, or more, of the time about the middle."""
        self._box.scaleBy(x=1.0 / ZOOM if nearer else ZOOM)

    def zoom_force(self, nearer: bool) -> None:
        """Show less, or more, of the force about the middle."""
        self._box.scaleBy(y=1.0 / ZOOM if nearer else ZOOM)

    def pan(self, later: bool) -> None:
        """Go along the trace."""
        start, stop = self._box.viewRange()[0]
        self._box.translateBy(x=(STEP if later else -STEP) * (stop - start))

    def pan_force(self, up: bool) -> None:
        """Go up, or down, the scale of force."""
        low, high = self._box.viewRange()[1]
        self._box.translateBy(y=(STEP if up else -STEP) * (high - low))

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Go nearer, farther and along; every other key is somebody else's."""
        acts = {
            Qt.Key.Key_Plus: lambda: self.zoom(True),
            Qt.Key.Key_Minus: lambda: self.zoom(False),
            Qt.Key.Key_Right: lambda: self.pan(True),
            Qt.Key.Key_Left: lambda: self.pan(False),
            Qt.Key.Key_PageUp: lambda: self.zoom_force(True),
            Qt.Key.Key_PageDown: lambda: self.zoom_force(False),
            Qt.Key.Key_Up: lambda: self.pan_force(True),
            Qt.Key.Key_Down: lambda: self.pan_force(False),
            Qt.Key.Key_0: self.fit,
        }
        if event is None:
            return
        act = acts.get(Qt.Key(event.key()))
        event.setAccepted(act is not None)
        if act is not None:
            act()

    def mouseDoubleClickEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Show all again."""
        self.fit()
        super().mouseDoubleClickEvent(event)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Lay lines and scale out anew."""
        super().resizeEvent(event)
        if self._ready:
            self._redraw()

    # the library's part

    def set_font_size(self, pixels: int) -> None:
        """Set the font size of axes and marks."""
        super().set_font_size(pixels)
        self._redraw()

    def _line(self, pen: QPen) -> pg.PlotCurveItem:
        pen.setCosmetic(True)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)  # a sample between two gaps is a dot
        line = pg.PlotCurveItem(pen=pen, connect="finite", antialias=True)
        self.addItem(line)
        return line

    def _under(self, each: Overlaid) -> QPen:
        pen = QPen(QColor(self._theme.quiet), OVERLAID_PX)
        pen.setStyle(Qt.PenStyle.DashLine if each.dashed else Qt.PenStyle.SolidLine)
        return pen

    def _redraw(self, *_: object) -> None:
        """Thin every curve to the columns that are there, and leave room for the marks."""
        (start, stop), scale = self._box.viewRange()
        self._scaled = self._scaled or (self._framed is not None and not _alike(scale, self._framed))
        width = max(1, int(self._box.width()))
        for curve, line in self._lines:
            x, y = columns(curve.time, curve.force, start=start, stop=stop, width=width)
            line.setData(x, from_newtons(y, self._unit))
        if not self._scaled:
            self._frame(start, stop)
        self._offer_whole()
        self.viewport().update()

    def _rescaled(self, *_: object) -> None:
        """See whether the user has chosen another scale of force."""
        if self._framed is not None and not _alike(self._box.viewRange()[1], self._framed):
            self._scaled = True
        self._offer_whole()
        self.viewport().update()

    def _offer_whole(self) -> None:
        """Offer the way back to all of the curve where something else is in view."""
        self.whole.setVisible(self.zoomed)
        self.whole.adjustSize()
        area = self._area()
        self.whole.move(round(area.right()) - self.whole.width(), self.height() - self.whole.height() - 4)

    def _frame(self, start: float, stop: float) -> None:
        if not self._lines:
            return
        low, high = heights([curve for curve, _ in self._lines], start, stop)
        row = self._row()
        above = row * ((1.2 if self._overlaid else 0.6) + max((lane + 1 for lane in self._lanes()), default=0))
        ends = framed(low, high, height=float(self._box.height()), above=above, below=1.6 * row)
        low, high = (from_newtons(end, self._unit) for end in ends)
        self._framed = low, high
        self._box.setYRange(low, high, padding=0.0)

    # the marks

    def placed_faults(self) -> list[Placed]:
        """Return the brackets of the faults, in pixels."""
        area, row = self._area(), self._row()
        if self._selected is None:
            return []
        pairs = zip(self._seen(self._selected.faults), self._lanes(), strict=True)
        return [self._placed(mark, area.top() + (lane + 1) * row - TICK_PX, above=True) for mark, lane in pairs]

    def placed_parts(self) -> list[Placed]:
        """Return the brackets of ramp and hold, in pixels.

        The hold begins within its band, where the last of the ramp may lie too: the brackets meet there.
        """
        if self._selected is None:
            return []
        line = self._y(min(0.0, self._lowest())) + 0.35 * self._row()
        line = min(line, self._area().bottom() - self._row())
        placed = [self._placed(mark, line, above=False) for mark in self._seen(self._selected.phases)]
        ends = [following.left for following in placed[1:]] + [math.inf]
        return [replace(one, right=min(one.right, end)) for one, end in zip(placed, ends, strict=False)]

    def _seen(self, marks: Sequence[Mark]) -> list[Mark]:
        """Return the marks of which something is in view."""
        start, stop = self._box.viewRange()[0]
        return [mark for mark in marks if mark.stop >= start and mark.start <= stop]

    def drawForeground(self, painter: QPainter | None, rect: QRectF) -> None:  # noqa: N802, ARG002 (Qt's name)
        """Paint the marks over the curves."""
        if painter is None or self._selected is None:
            return
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self.font())
        painter.setClipRect(self._area().adjusted(-1.0, 0.0, 1.0, 0.0))
        self._paint_hatch(painter)
        if self._scaled:
            self._paint_ground(painter)
        self._paint_names(painter)
        self._paint_plateau(painter)
        for placed in self.placed_parts():
            self._paint_bracket(painter, placed, self._theme.text, above=False)
        for placed in self.placed_faults():
            self._paint_bracket(painter, placed, self._colour(placed.mark), above=True)
        painter.restore()

    def _paint_hatch(self, painter: QPainter) -> None:
        seen = self._seen(self._selected.faults) if self._selected else []
        first = next((mark for mark in seen if mark.rejects), None)
        if first is None:
            return
        left, right = self._ends(first)
        top = self._area().top() + (max(self._lanes()) + 1) * self._row()
        colour = QColor(self._theme.bad)
        colour.setAlpha(110)
        bottom = min(self._y(0.0), self._area().bottom())
        painter.fillRect(QRectF(left, top, right - left, bottom - top), QBrush(colour, Qt.BrushStyle.BDiagPattern))

    def _paint_ground(self, painter: QPainter) -> None:
        """Paint the ground of the names over the curve, which the user's own scale has brought there."""
        area, row = self._area(), self._row()
        ground = QColor(self._theme.panel)
        ground.setAlpha(215)
        above = row * max((lane + 1 for lane in self._lanes()), default=0)
        painter.fillRect(QRectF(area.left(), area.top(), area.width(), above), ground)
        for placed in self.placed_parts()[:1]:
            painter.fillRect(
                QRectF(area.left(), placed.line - 4.0, area.width(), area.bottom() - placed.line + 4.0), ground
            )

    def _paint_plateau(self, painter: QPainter) -> None:
        curve = self._selected
        if curve is None or curve.plateau_n is None:
            return
        area, y = self._area(), self._y(curve.plateau_n)
        left, right = max(self._x(curve.score[0]), area.left()), min(self._x(curve.score[1]), area.right())
        if left >= right or not area.top() <= y <= area.bottom():
            return
        pen = QPen(QColor(self._theme.text), 1.5)
        pen.setDashPattern([5.0, 3.0])
        painter.setPen(pen)
        painter.drawLine(QPointF(left, y), QPointF(right, y))
        level = force(curve.plateau_n, self._unit, self._words)
        text = f"{self._words('review.part.plateau')} {level} {self._unit.symbol}"
        below = y + 1.1 * self._row()
        if below > area.bottom() - 1.5 * self._row():  # ramp and hold are named there
            below = y - 1.1 * self._row()
        top = area.top() + self._row() * (max(self._lanes(), default=-1) + 1.7)
        self._paint_text(painter, text, (left + right) / 2.0, max(below, top), self._theme.text)

    def _paint_names(self, painter: QPainter) -> None:
        """Number the curves below, each at another place along its hold."""
        if self._selected is None:
            return
        start, stop = self._name_span(self._selected)
        for place, each in enumerate(self._overlaid):
            at = start + (stop - start) * (place + 0.5) / len(self._overlaid)
            level = force_at(each.curve, at)
            if level is not None:
                self._paint_text(painter, each.name, self._x(at), self._y(level) - 0.6 * self._row(), self._theme.quiet)

    def _name_span(self, curve: Curve) -> tuple[float, float]:
        """Return from when to when the curves below are named: along the hold as far as it is in view."""
        (start, stop), (first, last) = name_span(curve), self._box.viewRange()[0]
        inside = max(start, first), min(stop, last)
        return inside if inside[0] < inside[1] else (first, last)

    def _paint_text(self, painter: QPainter, text: str, x: float, y: float, colour: str) -> None:
        """Paint a word about a point, with a rim in the colour of the panel that keeps it off the lines."""
        metrics = QFontMetricsF(self.font())
        letters = QPainterPath()
        left, line = x - metrics.horizontalAdvance(text) / 2.0, y + (metrics.ascent() - metrics.descent()) / 2.0
        letters.addText(QPointF(left, line), self.font(), text)
        rim = QPen(QColor(self._theme.panel), 4.0)
        rim.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.strokePath(letters, rim)
        painter.fillPath(letters, QColor(colour))

    def _paint_bracket(self, painter: QPainter, placed: Placed, colour: str, *, above: bool) -> None:
        painter.setPen(QPen(QColor(colour), 1.5))
        tick = TICK_PX if above else -TICK_PX
        painter.drawLine(QPointF(placed.left, placed.line), QPointF(placed.right, placed.line))
        for x in (placed.left, placed.right):
            painter.drawLine(QPointF(x, placed.line), QPointF(x, placed.line + tick))
        painter.drawText(placed.text, Qt.AlignmentFlag.AlignCenter, placed.name)

    def _placed(self, mark: Mark, line: float, *, above: bool) -> Placed:
        left, right = self._ends(mark)
        name, row = self._name(mark), self._row()
        start, stop = self._extent(mark)
        height = row - TICK_PX - 1.0
        text = QRectF(start, line - height - 1.0 if above else line + 1.0, stop - start, height)
        return Placed(mark=mark, name=name, left=left, right=right, line=line, text=text)

    def _lanes(self) -> list[int]:
        seen = self._seen(self._selected.faults) if self._selected else []
        return lanes([self._extent(mark, whole=True) for mark in seen])

    def _extent(self, mark: Mark, *, whole: bool = False) -> tuple[float, float]:
        """Return from where to where a name reaches, moved into the picture; with its bracket when `whole`."""
        area, (left, right) = self._area(), self._ends(mark)
        width = QFontMetricsF(self.font()).horizontalAdvance(self._name(mark)) + 10.0
        start = (max(left, area.left()) + min(right, area.right()) - width) / 2.0
        start = max(area.left(), min(start, area.right() - width))
        return (min(start, left), max(start + width, right)) if whole else (start, start + width)

    def _ends(self, mark: Mark) -> tuple[float, float]:
        left, right = self._x(mark.start), self._x(mark.stop)
        spare = max(0.0, LEAST_BRACKET_PX - (right - left)) / 2.0
        return left - spare, right + spare

    def _name(self, mark: Mark) -> str:
        if self._selected is not None and mark in self._selected.phases:
            return f"{self._words(f'review.part.{mark.name}')} {self._words.number(mark.stop - mark.start, 2)} s"
        return f"{BAD if mark.rejects else MILD} {fault_name(mark.name, self._words)}"

    def _colour(self, mark: Mark) -> str:
        return self._theme.bad if mark.rejects else self._theme.warn

    def _lowest(self) -> float:
        start, stop = self._box.viewRange()[0]
        return heights([curve for curve, _ in self._lines], start, stop)[0]

    def _row(self) -> float:
        return float(QFontMetricsF(self.font()).height()) + TICK_PX + 4.0

    def _area(self) -> QRectF:
        return QRectF(self._box.sceneBoundingRect())

    def _x(self, seconds: float) -> float:
        return float(self._box.mapViewToScene(QPointF(seconds, 0.0)).x())

    def _y(self, newtons: float) -> float:
        return float(self._box.mapViewToScene(QPointF(0.0, from_newtons(newtons, self._unit))).y())


def _alike(one: Sequence[float], other: Sequence[float]) -> bool:
    """Tell whether two ranges are the same but for rounding."""
    room = abs(other[1] - other[0]) or 1.0
    return all(abs(a - b) < 1e-6 * room for a, b in zip(one, other, strict=True))
