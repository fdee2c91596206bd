"""What all charts share: axes and text in the colours of the theme, the focus of the keyboard, no menus."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pyqtgraph as pg
from PyQt6.QtCore import QLocale, Qt
from PyQt6.QtGui import QColor, QFont, QFontMetricsF, QPen
from PyQt6.QtWidgets import QSizePolicy

from ui.model.theme import Theme

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


class NumberAxis(pg.AxisItem):  # type: ignore[misc] # pyqtgraph ships no type information
    """An axis whose numbers have the decimal sign of the window's language."""

    def tickStrings(self, values: Sequence[float], scale: float, spacing: float) -> list[str]:  # noqa: N802 (its name)
        """Return what is written at the marks."""
        return [text.replace(".", QLocale().decimalPoint()) for text in super().tickStrings(values, scale, spacing)]


class DateAxis(pg.DateAxisItem):  # type: ignore[misc] # pyqtgraph ships no type information
    """An axis of dates, its months in the window's language."""

    def tickStrings(self, values: Sequence[float], scale: float, spacing: float) -> list[str]:  # noqa: N802 (its name)
        """Return what is written at the marks."""
        return [_months_translated(text) for text in super().tickStrings(values, scale, spacing)]


def _months_translated(text: str) -> str:
    """Return a date of the library, which writes English months, in the window's language."""
    number = next((number for number, name in enumerate(MONTHS, start=1) if name in text), None)
    if number is None:
        return text
    return text.replace(MONTHS[number - 1], QLocale().monthName(number, QLocale.FormatType.ShortFormat))


class Chart(pg.PlotWidget):  # type: ignore[misc] # pyqtgraph ships no type information
    """A chart with a named axis below and one on the left.

    Parameters
    ----------
    theme : Theme
        Its colours.
    bottom, left : str
        What the axes are called.
    axes : mapping of str to pyqtgraph.AxisItem, optional
        Axes that are not plain numbers.
    """

    def __init__(self, theme: Theme, *, bottom: str, left: str, axes: Mapping[str, pg.AxisItem] | None = None) -> None:
        plain = {side: NumberAxis(side) for side in ("bottom", "left")}
        super().__init__(background=None, axisItems={**plain, **(axes or {})})
        self._theme = theme
        self._box = self.getPlotItem().getViewBox()
        self.setAntialiasing(True)
        self.setMenuEnabled(False)
        self.hideButtons()
        self.setMinimumHeight(180)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._dress_axes({"bottom": bottom, "left": left})

    def _dress_axes(self, labels: Mapping[str, str]) -> None:
        item = self.getPlotItem()
        item.showGrid(y=True, alpha=0.2)
        item.layout.setContentsMargins(4, 8, 12, 4)
        for side, label in labels.items():
            axis = item.getAxis(side)
            axis.enableAutoSIPrefix(False)
            axis.setPen(QPen(QColor(self._theme.edge)))
            axis.setTextPen(QPen(QColor(self._theme.quiet)))
            axis.setLabel(label, color=self._theme.quiet)

    def set_font_size(self, pixels: int) -> None:
        """Set the font size of the axes."""
        font = QFont(self.font())
        font.setPixelSize(pixels)
        self.setFont(font)
        metrics = QFontMetricsF(font)
        left, bottom = (self.getPlotItem().getAxis(side) for side in ("left", "bottom"))
        for axis in (left, bottom):
            axis.setTickFont(font)
            axis.label.setFont(font)
        left.setWidth(metrics.horizontalAdvance("00000") + metrics.height() + 14.0)
        bottom.setHeight(2.3 * metrics.height() + 14.0)
