"""The charts of Audit: the funnel with the chosen examiner marked, and one examiner's course over time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from numpy.typing import ArrayLike
from PyQt6.QtCore import QPointF, QRectF, Qt, pyqtSignal
from PyQt6.QtGui import QColor, QFont, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPen

from acquire.values.units import ForceUnit, from_newtons
from analysis.audit.trend import Course
from analysis.reliability.retest import Reliability
from ui.model.audit.charts import Funnel, FunnelPoint, nearest
from ui.model.audit.heard import agreement_heard, course_heard, funnel_heard
from ui.model.review.marks import lanes
from ui.model.theme import Theme
from ui.window.widgets.chart import Chart, DateAxis
from ui.words.words import Words

DASHED = Qt.PenStyle.DashLine
DOT_PX, RING_PX = 8.0, 17.0
LINE_PX = 1.5
BAR_PX = (5.0, 1.5)
"""Of the bars of the funnel, for 95 % and for 99.8 %."""
EXPECTED_PX = 6.0
ROOM = 1.15
"""The funnel goes on to so many times the trials of whoever has most."""
MARKS = {"above": "\u25b2", "below": "\u25bc", "back": "\u25cb"}
"""Signals of a course: beyond a limit, and back."""

LETTER_ROOM = 1.2
"""A name stands so many times the height of its letters above its point."""


class PointsChart(Chart):
    """A chart of points to choose one of, by the arrow keys or a click.

    `chosen` is emitted with the number of a point, `opened` with one that Enter or a double click asks more of.
    """

    chosen = pyqtSignal(int)
    opened = pyqtSignal(int)

    def __init__(self, theme: Theme, **axes: object) -> None:
        super().__init__(theme, **axes)  # type: ignore[arg-type] # handed on as they come
        self._points: tuple[tuple[float, float], ...] = ()
        self._selected: int | None = None
        self._box.setMouseEnabled(x=False, y=False)

    @property
    def selected(self) -> int | None:
        """The number of the chosen point."""
        return self._selected

    @property
    def has_points(self) -> bool:
        """Whether there is something to choose."""
        return bool(self._points)

    def select(self, index: int | None) -> None:
        """Mark a point."""
        self._selected = index
        self.viewport().update()

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Go along the points and open one; every other key is somebody else's."""
        if event is None:
            return
        steps = {Qt.Key.Key_Right: 1, Qt.Key.Key_Left: -1}
        key = Qt.Key(event.key())
        opens = key in {Qt.Key.Key_Return, Qt.Key.Key_Enter} and self._selected is not None
        event.setAccepted(opens or key in steps)
        if opens:
            self.opened.emit(self._selected)
        elif key in steps:
            self._go(steps[key])

    def mousePressEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Choose the point that is clicked at."""
        self.setFocus()
        self._click(event)

    def mouseDoubleClickEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Open the point that is clicked at twice."""
        if self._click(event):
            self.opened.emit(self._selected)

    def _go(self, step: int) -> None:
        if not self._points:
            return
        first = 0 if step > 0 else len(self._points) - 1
        last = len(self._points) - 1
        self.choose(first if self._selected is None else min(last, max(0, self._selected + step)))

    def _click(self, event: QMouseEvent | None) -> bool:
        at = None if event is None else event.position()
        found = None if at is None else nearest([self._pixel(i) for i in range(len(self._points))], at.x(), at.y())
        if found is not None:
            self.choose(found)
        return found is not None

    def choose(self, index: int) -> None:
        """Choose a point, and tell."""
        self.select(index)
        self.chosen.emit(index)

    def _pixel(self, index: int) -> tuple[float, float]:
        at = self._box.mapViewToScene(QPointF(*self._points[index]))
        return float(at.x()), float(at.y())

    def _clear(self) -> None:
        self.getPlotItem().clear()
        self._points, self._selected = (), None

    def _line(
        self,
        x: ArrayLike,
        y: ArrayLike,
        colour: str,
        style: Qt.PenStyle = Qt.PenStyle.SolidLine,
        *,
        width: float = LINE_PX,
    ) -> None:
        pen = QPen(QColor(colour), width, style)
        pen.setCosmetic(True)
        self.addItem(pg.PlotCurveItem(np.asarray(x, dtype=float), np.asarray(y, dtype=float), pen=pen, antialias=True))

    def _dots(self, symbol: str, colour: str, points: Sequence[tuple[float, float]], size: float = DOT_PX) -> None:
        x, y = np.array(points, dtype=float).reshape(-1, 2).T
        rim = pg.mkPen(self._theme.panel, width=1)
        self.addItem(pg.ScatterPlotItem(x, y, symbol=symbol, size=size, pen=rim, brush=pg.mkBrush(colour)))

    def drawForeground(self, painter: QPainter | None, rect: QRectF) -> None:  # noqa: N802, ARG002 (Qt's name)
        """Paint a ring about the chosen point, and the names, in pixels."""
        if painter is None:
            return
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self.font())
        self._paint_over(painter)
        if self._selected is not None and self._selected < len(self._points):
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(self._theme.text), 2.0))
            painter.drawEllipse(QPointF(*self._pixel(self._selected)), RING_PX / 2.0, RING_PX / 2.0)
        painter.restore()

    def _paint_over(self, painter: QPainter) -> None:
        """Paint what a chart has of its own over its points."""


class FunnelView(PointsChart):
    """Shares of rejected trials against their number, with the limits of chance; the chosen examiner is ringed."""

    def __init__(self, words: Words, theme: Theme) -> None:
        super().__init__(theme, bottom=words("audit.funnel.trials"), left=words("audit.funnel.share"))
        self._words = words
        self._examiners: tuple[FunnelPoint, ...] = ()
        self.setAccessibleName(words("audit.view.funnel"))
        self.setAccessibleDescription(words("audit.funnel.about"))

    def show_funnel(self, funnel: Funnel | None) -> None:
        """Show a funnel; nothing for None."""
        self._clear()
        self.setAccessibleDescription(f"{funnel_heard(funnel, self._words)} {self._words('audit.funnel.about')}")
        self._examiners = funnel.points if funnel else ()
        if funnel is None or not funnel.points:
            return
        right = ROOM * max(point.trials for point in funnel.points)
        self._line([0.0, right], [funnel.overall_pct] * 2, self._theme.edge)
        for point in funnel.points:
            for limits, width in zip(point.limits_pct, BAR_PX, strict=True):
                self._line([point.trials] * 2, limits, self._theme.edge, width=width)
        expected = [(float(point.trials), point.expected_pct) for point in funnel.points]
        self._dots("s", self._theme.edge, expected, EXPECTED_PX)
        self._points = tuple((float(point.trials), point.share_pct) for point in funnel.points)
        for symbol, colour, finding in (("o", self._theme.curve, False), ("t1", self._theme.bad, True)):
            dots = [at for at, point in zip(self._points, funnel.points, strict=True) if point.finding is finding]
            self._dots(symbol, colour, dots, DOT_PX + 4.0 * finding)
        tops = [max(point.share_pct, point.limits_pct[-1][1]) for point in funnel.points]
        self._box.setRange(xRange=(0.0, right), yRange=(0.0, min(105.0, 1.1 * max(5.0, *tops))), padding=0.0)

    def code_at(self, index: int) -> str:
        """Return whose point it is."""
        return self._examiners[index].code

    def select_code(self, code: str | None) -> None:
        """Mark the point of an examiner; none where that examiner has none."""
        codes = [point.code for point in self._examiners]
        self.select(codes.index(code) if code in codes else None)

    def names(self) -> list[tuple[str, QRectF]]:
        """Return what is written beside points, and where in pixels: the chosen one and findings, none over another."""
        metrics = QFontMetricsF(self.font())
        area, placed = QRectF(self._box.sceneBoundingRect()), list[tuple[str, QRectF]]()
        wanted = [self._selected] if self._selected is not None else []
        wanted += [i for i, point in enumerate(self._examiners) if point.finding and i != self._selected]
        for index in wanted:
            x, y = self._pixel(index)
            width, height = metrics.horizontalAdvance(self._examiners[index].code) + 4.0, metrics.height()
            left = x + RING_PX / 2.0 if x + RING_PX + width < area.right() else x - RING_PX / 2.0 - width
            box = QRectF(left, max(area.top(), y - LETTER_ROOM * height), width, height)
            if not any(box.intersects(other) for _, other in placed):
                placed.append((self._examiners[index].code, box))
        return placed

    def _paint_over(self, painter: QPainter) -> None:
        painter.setPen(QColor(self._theme.text))
        for number, (name, box) in enumerate(self.names()):
            font = QFont(self.font())
            font.setBold(number == 0 and self._selected is not None)
            painter.setFont(font)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextDontClip, name)


class CourseView(PointsChart):
    """One examiner over time: a dot a session, the moving average, its limits, and where it left them."""

    def __init__(self, words: Words, theme: Theme, name: str) -> None:
        axis = DateAxis("bottom", utcOffset=0)
        super().__init__(
            theme, bottom=words("audit.course.date"), left=words("audit.course.value"), axes={"bottom": axis}
        )
        self._words = words
        self._course: Course | None = None
        self.setAccessibleName(words(f"audit.view.{name}"))
        self.setAccessibleDescription(words("audit.course.about"))

    @property
    def course(self) -> Course | None:
        """What is shown."""
        return self._course

    def show_course(self, course: Course | None) -> None:
        """Show a course; nothing for None."""
        if course is self._course:
            return
        self._clear()
        self._course = course
        self.setAccessibleDescription(f"{course_heard(course, self._words)} {self._words('audit.course.about')}")
        if course is None:
            return
        for limit in (course.low, course.high):
            self._line(course.at_s, limit, self._theme.quiet, Qt.PenStyle.DashLine)
        for signal in course.signals:
            if signal.chart == "ewma":
                low, high = self._heights(course)
                colour = self._theme.good if signal.change == "back" else self._theme.warn
                self._line([signal.at_s] * 2, [low, high], colour, Qt.PenStyle.DotLine)
        self._line(course.at_s, course.average, self._theme.curve)
        self._points = tuple(zip(course.at_s.tolist(), course.value.tolist(), strict=True))
        self._dots("o", self._theme.quiet, self._points)
        room = 0.04 * max(86_400.0, float(course.at_s[-1] - course.at_s[0]))
        across = (float(course.at_s[0]) - room, float(course.at_s[-1]) + room)
        self._box.setRange(xRange=across, yRange=self._heights(course), padding=0.0)

    @staticmethod
    def _heights(course: Course) -> tuple[float, float]:
        """Return from where to where the chart reaches, with room for the marks of signals above."""
        low, high = float(min(course.value.min(), course.low.min())), float(max(course.value.max(), course.high.max()))
        room = max(0.5, 0.08 * (high - low))
        return low - room, high + 2.5 * room

    def signals(self) -> list[tuple[str, QRectF]]:
        """Return the words of the signals and where they stand, in pixels, in lanes so that no two meet."""
        course = self._course
        if course is None:
            return []
        metrics, area = QFontMetricsF(self.font()), QRectF(self._box.sceneBoundingRect())
        told = [signal for signal in course.signals if signal.chart == "ewma"]
        texts = [f"{MARKS[signal.change]} {self._words(f'audit.course.{signal.change}')}" for signal in told]
        spans = []
        for signal, text in zip(told, texts, strict=True):
            width = metrics.horizontalAdvance(text) + 6.0
            left = float(self._box.mapViewToScene(QPointF(signal.at_s, 0.0)).x()) + 3.0
            left = min(left, area.right() - width)
            spans.append((left, left + width))
        height = metrics.height()
        return [
            (text, QRectF(left, area.top() + lane * height, right - left, height))
            for text, (left, right), lane in zip(texts, spans, lanes(spans), strict=True)
        ]

    def _paint_over(self, painter: QPainter) -> None:
        painter.setPen(QColor(self._theme.text))
        for text, box in self.signals():
            painter.fillRect(box, QColor(self._theme.panel))  # the lines of other signals may pass there
            painter.drawText(box, Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextDontClip, text)


class AgreementView(PointsChart):
    """Two examiners on the same persons: the difference of their scores against the mean, with its limits.

    `stepped` is emitted when the next study, or the one before, is asked for.
    """

    stepped = pyqtSignal(int)

    def __init__(self, words: Words, theme: Theme, unit: ForceUnit) -> None:
        super().__init__(
            theme,
            bottom=words("audit.agreement.mean", unit=unit.symbol),
            left=words("audit.agreement.difference", unit=unit.symbol),
        )
        self._words, self._unit = words, unit
        self._order: list[int] = []
        self.setAccessibleName(words("audit.agreement.heading"))

    def show_study(self, study: Reliability | None) -> None:
        """Show a study; nothing for None."""
        self._clear()
        self.setAccessibleDescription(agreement_heard(study, self._words, self._unit))
        limits = None if study is None or study.numbers is None else study.numbers.agreement
        if study is None or limits is None:
            return
        pairs = from_newtons(np.array(study.values), self._unit)
        means, off = pairs.mean(axis=1), pairs[:, 0] - pairs[:, 1]
        self._order = np.argsort(means, kind="stable").tolist()
        self._points = tuple((float(means[person]), float(off[person])) for person in self._order)
        low, bias, high = (from_newtons(each, self._unit) for each in (limits.low, limits.bias, limits.high))
        room = 0.06 * max(1e-6, float(np.ptp(means)))
        across = (float(means.min()) - room, float(means.max()) + room)
        for value, style in ((low, DASHED), (bias, Qt.PenStyle.SolidLine), (high, DASHED)):
            self._line(across, [value] * 2, self._theme.curve, style)
        self._dots("o", self._theme.quiet, self._points)
        reach = 1.15 * max(abs(low), abs(high), float(np.abs(off).max()))
        self._box.setRange(xRange=across, yRange=(-reach, reach), padding=0.0)

    def person_at(self, index: int) -> int:
        """Return whose point it is, by the number of the person in the study."""
        return self._order[index]

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Go from study to study; other keys as in every chart of points."""
        steps = {Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1}
        if event is not None and Qt.Key(event.key()) in steps:
            self.stepped.emit(steps[Qt.Key(event.key())])
            return
        super().keyPressEvent(event)
