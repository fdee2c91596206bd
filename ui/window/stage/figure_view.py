"""The figure of an action, painted: one routine for every action, at any size."""

from __future__ import annotations

from PyQt6.QtCore import QPointF, QRectF, QSize, Qt
from PyQt6.QtGui import QBrush, QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PyQt6.QtWidgets import QSizePolicy, QWidget

from acquire.values.records import Side
from analysis.battery.actions import Action
from ui.model.drawing import Arrow, Circle, Drawing, Line, Point
from ui.model.stage.figure import figure_of
from ui.model.theme import Theme

HALO = 0.012
"""Free space around a limb that lies over another."""
CALM = 0.65
"""How much of its colour is left to the body around the tested limb."""
JOINT = 0.008
"""Radius of the dots at the joints of the tested limb."""
STROKE = 0.014
"""Lines of arrow and marks."""


class FigureView(QWidget):
    """Shows how a person lies or sits, where the pad goes, where the push goes and what is held steady."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self.drawing: Drawing | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def show_action(self, action: Action | None, side: Side | None) -> None:
        """Show an action, or nothing."""
        self.drawing = None if action is None else figure_of(action, side)
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """Ask for a little space."""
        return QSize(260, 180)

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Paint the figure as large as it fits."""
        del event
        if self.drawing is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint_figure(painter, QRectF(self.rect()), self.drawing, self._theme)
        painter.end()


def paint_figure(painter: QPainter, into: QRectF, drawing: Drawing, theme: Theme) -> None:
    """Paint a drawing into the middle of a rectangle, its own shape kept."""
    left, top, right, bottom = drawing.box
    scale = min(into.width() / (right - left), into.height() / (bottom - top))
    painter.save()
    painter.translate(into.center())
    painter.scale(scale, scale)
    painter.translate(-0.5 * (left + right), -0.5 * (top + bottom))
    for line in drawing.couch:
        _paint_line(painter, line, theme.edge, theme.edge)
    _paint_body(painter, drawing, theme)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.panel))
    for joint in drawing.joints:
        painter.drawEllipse(QPointF(*joint), JOINT, JOINT)
    for mark in drawing.steady_marks:
        paint_mark(painter, mark, theme)
    if drawing.arrow is not None:
        paint_arrow(painter, drawing.arrow, theme)
    if drawing.pad is not None:
        paint_pad(painter, drawing.pad, theme)
    painter.restore()


def paint_pad(painter: QPainter, corners: tuple[Point, ...], theme: Theme) -> None:
    """Paint the pad: a full block with round corners."""
    painter.setPen(_pen(theme.warn, STROKE))
    painter.setBrush(QColor(theme.warn))
    painter.drawPolygon(_polygon(corners))


def paint_arrow(painter: QPainter, arrow: Arrow, theme: Theme) -> None:
    """Paint the push: an open arrow."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for pen in (_pen(theme.panel, 1.4 * STROKE + HALO), _pen(theme.curve, 1.4 * STROKE)):
        painter.setPen(pen)
        painter.drawLine(QPointF(*arrow.tail), QPointF(*arrow.tip))
        painter.drawPolyline(_polygon((arrow.barbs[0], arrow.tip, arrow.barbs[1])))


def paint_mark(painter: QPainter, wedge: tuple[Point, ...], theme: Theme) -> None:
    """Paint a steady mark: a hollow wedge that points at the place."""
    _paint_halo(painter, wedge, theme)
    painter.setPen(_pen(theme.good, STROKE))
    painter.setBrush(QColor(theme.panel))
    painter.drawPolygon(_polygon(wedge))


def _paint_halo(painter: QPainter, corners: tuple[Point, ...], theme: Theme) -> None:
    painter.setPen(_pen(theme.panel, STROKE + HALO))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawPolygon(_polygon(corners))


def _paint_body(painter: QPainter, drawing: Drawing, theme: Theme) -> None:
    calm = _between(theme.panel, theme.quiet, CALM)
    groups: dict[str, list[Line]] = {}
    for line in drawing.lines:
        groups.setdefault(line.group, []).append(line)
    for name, lines in groups.items():
        for line in lines:
            _paint_line(painter, line, theme.panel, theme.panel, wider=2.0 * HALO)
        if name == "trunk":
            _paint_head(painter, drawing.head, calm)
        for line in lines:
            colour = theme.text if line.tested else calm
            _paint_line(painter, line, colour, colour)


def _paint_head(painter: QPainter, head: Circle, colour: str) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(colour))
    painter.drawEllipse(QPointF(*head.centre), head.radius, head.radius)


def _paint_line(painter: QPainter, line: Line, colour: str, fill: str, *, wider: float = 0.0) -> None:
    painter.setPen(_pen(colour, line.width + wider))
    painter.setBrush(QBrush(QColor(fill)) if line.filled else Qt.BrushStyle.NoBrush)
    points = _polygon(line.points)
    if line.filled:
        painter.drawPolygon(points)
    else:
        painter.drawPolyline(points)


def _between(one: str, other: str, share: float) -> str:
    """Return the colour at a share of the way from one to the other."""
    ends = [[int(colour[i : i + 2], 16) for i in (1, 3, 5)] for colour in (one, other)]
    return "#" + "".join(f"{round(a + share * (b - a)):02x}" for a, b in zip(*ends, strict=True))


def _pen(colour: str, width: float) -> QPen:
    style, cap, join = Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin
    return QPen(QBrush(QColor(colour)), width, style, cap, join)


def _polygon(points: tuple[Point, ...]) -> QPolygonF:
    return QPolygonF([QPointF(*point) for point in points])
