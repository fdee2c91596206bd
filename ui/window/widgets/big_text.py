"""Text that is as large as its place allows: measured, never guessed, so that nothing is ever cut.

Letters are made smaller only when nothing else helps: before that, a text of several words goes over two lines, or its
letters are drawn narrower, down to `NARROWEST`. Height is what is read from afar, width is not.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from PyQt6.QtCore import QPointF, QSize, Qt
from PyQt6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent
from PyQt6.QtWidgets import QSizePolicy, QWidget

NARROWEST = 0.75
"""Letters keep at least this share of their width."""

PITCH, CAPITALS_PITCH = 1.5, 1.18
"""From line to line, in heights of a capital letter; lines in capitals alone need less."""

MEASURED_PX = 100.0
LEAST_PX = 9.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """How a text is written."""

    lines: tuple[str, ...]
    pixels: float
    """Font size."""
    cap: float
    """Height of its capital letters, pixels."""
    narrowed: float
    """Width of its letters, as a share of their own."""
    width: float
    """Of the longest line as it is drawn, pixels."""


def fitting(text: str, font: QFont, *, width: float, height: float, cap: float, most_lines: int = 2) -> Fitting:
    """Return how a text is written into a place, as large as it can be.

    Parameters
    ----------
    text : str
        Not empty.
    font : QFont
        Its size does not matter.
    width, height : float
        Of the place, pixels.
    cap : float
        The most that a capital letter may be high, pixels.
    most_lines : int
        1 or 2.
    """
    metrics = QFontMetricsF(sized(font, MEASURED_PX))
    found = [_fitted(lines, metrics, width, height, cap) for lines in _ways(text, most_lines, metrics)]
    return max(found, key=lambda each: (round(each.cap, 3), round(each.narrowed, 2), -len(each.lines)))


def _ways(text: str, most_lines: int, metrics: QFontMetricsF) -> list[tuple[str, ...]]:
    """Return the text in one line, and in the two that are most alike in length, cut where its gaps are widest."""
    gaps = list(re.finditer(r"\s{2,}", text)) or list(re.finditer(r"\s", text))
    if most_lines < 2 or not gaps:
        return [(text,)]
    cuts = [(text[: gap.start()], text[gap.end() :]) for gap in gaps]
    return [(text,), min(cuts, key=lambda pair: max(map(metrics.horizontalAdvance, pair)))]


def _fitted(lines: Sequence[str], metrics: QFontMetricsF, width: float, height: float, cap: float) -> Fitting:
    """Return lines in the largest letters whose capitals are no higher than `cap`."""
    longest = max(metrics.horizontalAdvance(line) for line in lines)
    pitch = pitch_of(lines)
    in_height = height / (metrics.capHeight() * (1.0 + pitch * (len(lines) - 1)) + _beyond(lines, metrics))
    in_width = width / (NARROWEST * longest)
    pixels = max(LEAST_PX, math.floor(MEASURED_PX * min(cap / metrics.capHeight(), in_height, in_width)))
    share = pixels / MEASURED_PX
    narrowed = min(1.0, width / (share * longest))
    return Fitting(
        lines=tuple(lines),
        pixels=pixels,
        cap=share * metrics.capHeight(),
        narrowed=narrowed,
        width=share * longest * narrowed,
    )


def pitch_of(lines: Sequence[str]) -> float:
    """Return how far lines are apart, in heights of a capital letter.

    Examples
    --------
    >>> pitch_of(("GET", "READY")) < pitch_of(("get", "ready"))
    True
    """
    return CAPITALS_PITCH if all(line == line.upper() for line in lines) else PITCH


def _beyond(lines: Sequence[str], metrics: QFontMetricsF) -> float:
    """Return how far letters reach above the capitals of the first line and below the last: umlauts, a `p`."""
    above = -metrics.tightBoundingRect(lines[0]).top() - metrics.capHeight()
    return max(0.0, above) + max(0.0, metrics.tightBoundingRect(lines[-1]).bottom())


def sized(font: QFont, pixels: float) -> QFont:
    """Return a font in another size, a fraction of a pixel too."""
    other = QFont(font)
    other.setPixelSize(max(1, round(pixels)))
    return other


class BigText(QWidget):
    """One text in letters as large as there is room for; a screen reader hears it as it changes.

    Parameters
    ----------
    colour : str
        Of the letters, until another one is shown.
    name : str
        What the text is, heard before it; empty where it speaks for itself.
    most_lines : int
        1 or 2.
    bold : bool
        Whether its letters are.
    """

    def __init__(self, colour: str, *, name: str = "", most_lines: int = 2, bold: bool = True) -> None:
        super().__init__()
        self._colour, self._name, self._most_lines = colour, name, most_lines
        self._text = ""
        self._cap = 1000.0
        self._align = Qt.AlignmentFlag.AlignHCenter
        self._fitted: Fitting | None = None
        font = QFont(self.font())
        font.setBold(bold)
        self.setFont(font)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        self.setAccessibleName(name)

    def text(self) -> str:
        """Return what is written."""
        return self._text

    def show_text(self, text: str, colour: str | None = None, *, heard: str | None = None) -> None:
        """Write a text, in another colour if one is given; what a screen reader hears may be another one."""
        if text == self._text and colour in {None, self._colour}:
            return
        self._text, self._colour = text, colour or self._colour
        self._fitted = None
        self.setAccessibleName(heard if heard is not None else ": ".join(filter(None, (self._name, text))))
        self.update()

    def set_cap(self, pixels: float) -> None:
        """Let capital letters be no higher than that."""
        self._cap, self._fitted = pixels, None
        self.update()

    def align(self, where: Qt.AlignmentFlag) -> None:
        """Write at the left, in the middle or at the right."""
        self._align = where

    @property
    def fitted(self) -> Fitting | None:
        """How the text is written; None where there is none."""
        if self._fitted is None and self._text:
            self._fitted = fitting(
                self._text,
                self.font(),
                width=self.width(),
                height=self.height(),
                cap=self._cap,
                most_lines=self._most_lines,
            )
        return self._fitted

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """Ask for nothing: the layout gives what it has."""
        return QSize(10, 10)

    def resizeEvent(self, event: object) -> None:  # noqa: N802, ARG002 (Qt's name)
        """Measure anew."""
        self._fitted = None

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802, ARG002 (Qt's name)
        """Write the lines, their capitals about the middle."""
        fitted = self.fitted
        if fitted is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QColor(self._colour))
        font = sized(self.font(), fitted.pixels)
        painter.setFont(font)
        metrics = QFontMetricsF(font)
        pitch = pitch_of(fitted.lines)
        taken = fitted.cap * (1.0 + pitch * (len(fitted.lines) - 1))
        share = fitted.pixels / MEASURED_PX
        bare = QFontMetricsF(sized(self.font(), MEASURED_PX))
        above = max(0.0, -bare.tightBoundingRect(fitted.lines[0]).top() - bare.capHeight()) * share
        below = max(0.0, bare.tightBoundingRect(fitted.lines[-1]).bottom()) * share
        top = above + (self.height() - above - below - taken) / 2.0
        for at, line in enumerate(fitted.lines):
            self._write(painter, metrics, line, top + fitted.cap * (1.0 + pitch * at), fitted.narrowed)
        painter.end()

    def _write(self, painter: QPainter, metrics: QFontMetricsF, line: str, baseline: float, narrowed: float) -> None:
        free = self.width() - narrowed * metrics.horizontalAdvance(line)
        shares = {Qt.AlignmentFlag.AlignLeft: 0.0, Qt.AlignmentFlag.AlignRight: 1.0}
        painter.save()
        painter.translate(shares.get(self._align, 0.5) * max(0.0, free), baseline)
        painter.scale(narrowed, 1.0)
        painter.drawText(QPointF(0.0, 0.0), line)
        painter.restore()
