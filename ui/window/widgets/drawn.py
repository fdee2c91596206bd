"""What no style sheet can draw: boxes to tick, arrows and rings in the colours of a theme.

Qt's own are made for its own palettes: on a dark window their frames are as dark as the window.
"""

from __future__ import annotations

from PyQt6.QtCore import QPointF, QRect, QRectF, Qt
from PyQt6.QtGui import QColor, QPainter, QPen, QPolygonF
from PyQt6.QtWidgets import QProxyStyle, QStyle, QStyleOption, QStyleOptionComplex, QWidget

from ui.model.theme import LIGHT

RING = 2
"""Pixels of the ring about what has the focus."""

ROUND = 6.0
"""Radius of corners, pixels."""

ARROW = (4.5, 5.0)
"""Half the width and the height of an arrow, pixels."""

LEAST_BOX = 14
"""A box to tick is at least so many pixels wide."""

_BOXES = {
    QStyle.PixelMetric.PM_IndicatorWidth,
    QStyle.PixelMetric.PM_IndicatorHeight,
    QStyle.PixelMetric.PM_ExclusiveIndicatorWidth,
    QStyle.PixelMetric.PM_ExclusiveIndicatorHeight,
}

_Kind, _State, _Part = QStyle.PrimitiveElement, QStyle.StateFlag, QStyle.SubControl


class DrawnStyle(QProxyStyle):
    """Qt's plain style with its small parts drawn anew; `theme` may be changed at any time."""

    def __init__(self) -> None:
        super().__init__("fusion")
        self.theme = LIGHT

    def pixelMetric(  # noqa: N802 (Qt's name)
        self, metric: QStyle.PixelMetric, option: QStyleOption | None = None, widget: QWidget | None = None
    ) -> int:
        """Make boxes and circles as high as the text beside them."""
        if metric in _BOXES and widget is not None:
            return max(LEAST_BOX, widget.fontMetrics().ascent())
        return super().pixelMetric(metric, option, widget)

    def drawPrimitive(  # noqa: N802 (Qt's name)
        self,
        element: QStyle.PrimitiveElement,
        option: QStyleOption | None,
        painter: QPainter | None,
        widget: QWidget | None = None,
    ) -> None:
        """Draw boxes, circles and rings."""
        if option is None or painter is None:
            return
        if element in {_Kind.PE_IndicatorCheckBox, _Kind.PE_IndicatorItemViewItemCheck}:
            self._box(option, painter)
        elif element is _Kind.PE_IndicatorRadioButton:
            self._circle(option, painter)
        elif element is _Kind.PE_FrameFocusRect:
            self._ring(option, painter)
        else:
            super().drawPrimitive(element, option, painter, widget)

    def drawComplexControl(  # noqa: N802 (Qt's name)
        self,
        control: QStyle.ComplexControl,
        option: QStyleOptionComplex | None,
        painter: QPainter | None,
        widget: QWidget | None = None,
    ) -> None:
        """Draw the frames and arrows of fields to choose or count in."""
        if option is None or painter is None:
            return
        if control is QStyle.ComplexControl.CC_ComboBox:
            self._field(option, painter)
            self._arrow(self.subControlRect(control, option, _Part.SC_ComboBoxArrow, widget), painter)
        elif control is QStyle.ComplexControl.CC_SpinBox:
            self._field(option, painter)
            self._arrow(self.subControlRect(control, option, _Part.SC_SpinBoxUp, widget), painter, up=True)
            self._arrow(self.subControlRect(control, option, _Part.SC_SpinBoxDown, widget), painter)
        else:
            super().drawComplexControl(control, option, painter, widget)

    def _field(self, option: QStyleOption, painter: QPainter) -> None:
        focused = bool(option.state & _State.State_HasFocus)
        width = RING if focused else 1
        inset = width / 2.0 + (0 if focused else 1)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(self._pen(option, self.theme.focus if focused else self.theme.border, width))
        painter.setBrush(QColor(self.theme.panel))
        painter.drawRoundedRect(QRectF(option.rect).adjusted(inset, inset, -inset, -inset), ROUND, ROUND)
        painter.restore()

    def _arrow(self, area: QRect, painter: QPainter, *, up: bool = False) -> None:
        middle = QRectF(area).center()
        half, rise = ARROW[0], ARROW[1] / 2.0 * (-1.0 if up else 1.0)
        corners = [QPointF(-half, -rise), QPointF(half, -rise), QPointF(0.0, rise)]
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self.theme.quiet))
        painter.drawPolygon(QPolygonF([middle + corner for corner in corners]))
        painter.restore()

    def _box(self, option: QStyleOption, painter: QPainter) -> None:
        area = _square(option)
        painter.save()
        self._frame(option, painter)
        painter.drawRoundedRect(area, 3.0, 3.0)
        if option.state & _State.State_On:
            corners = ((0.22, 0.52), (0.42, 0.74), (0.80, 0.26))
            places = [QPointF(area.left() + x * area.width(), area.top() + y * area.height()) for x, y in corners]
            painter.setPen(QPen(QColor(self.theme.text), 2.2))
            painter.drawPolyline(QPolygonF(places))
        painter.restore()

    def _circle(self, option: QStyleOption, painter: QPainter) -> None:
        area = _square(option)
        painter.save()
        self._frame(option, painter)
        painter.drawEllipse(area)
        if option.state & _State.State_On:
            inset = 0.28 * area.width()
            painter.setBrush(QColor(self.theme.text))
            painter.drawEllipse(area.adjusted(inset, inset, -inset, -inset))
        painter.restore()

    def _frame(self, option: QStyleOption, painter: QPainter) -> None:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(self._pen(option, self.theme.border, 1.6))
        painter.setBrush(QColor(self.theme.panel))

    def _pen(self, option: QStyleOption, colour: str, width: float) -> QPen:
        """Return a pen; what is switched off has a dotted frame."""
        enabled = bool(option.state & _State.State_Enabled)
        return QPen(QColor(colour), width, Qt.PenStyle.SolidLine if enabled else Qt.PenStyle.DotLine)

    def _ring(self, option: QStyleOption, painter: QPainter) -> None:
        half = RING / 2.0
        painter.save()
        painter.setPen(QPen(QColor(self.theme.focus), RING))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(option.rect).adjusted(half, half, -half, -half))
        painter.restore()


def _square(option: QStyleOption) -> QRectF:
    """Return the largest square in the middle of an option, a pixel in from its edge."""
    area = QRectF(option.rect)
    side = min(area.width(), area.height()) - 2.0
    return QRectF(area.center().x() - side / 2.0, area.center().y() - side / 2.0, side, side)
