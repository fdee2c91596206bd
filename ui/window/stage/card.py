"""The card of an action: its position, its figure, and in words how the limb lies, where the pad goes, what to say.

The text is as large as the card allows: all of it is always there, and the figure keeps its share.
"""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import QRect, QRectF, QSize, Qt
from PyQt6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent, QPalette, QResizeEvent
from PyQt6.QtWidgets import QLabel, QWidget

from acquire.values.records import TrialContext
from analysis.battery.actions import Action
from ui.model.drawing import Arrow
from ui.model.stage.card_text import ROWS, CardText, card_text
from ui.model.theme import Theme
from ui.window.stage.figure_view import FigureView, paint_arrow, paint_mark, paint_pad
from ui.words.words import Words

TEXT_SHARE = 0.032
"""Letters of the rows, as a share of the card's height, where they fit."""
LEAST_PX = 9
FIGURE_SHARE = 0.32
"""The figure keeps at least this share of the height."""
WIDE, FIGURE_WIDTH, WIDE_TEXT_SHARE = 1.25, 0.42, 0.07
"""A card that is wider than so many times its height has its figure on the left, in this share of the width."""
ABOUT = 1.1
"""Font size of the head, as a multiple of the rows' font size."""


class ActionCard(QWidget):
    """Shows what is tried now, and how."""

    def __init__(self, words: Words, theme: Theme) -> None:
        super().__init__()
        self._words, self._theme = words, theme
        self.setAccessibleName(words("card.name"))
        self.setMinimumSize(200, 120)
        self._about = self._label(theme.quiet)
        self.figure = FigureView(theme)
        self.figure.setParent(self)
        self.figure.setAccessibleName(words("card.figure"))
        self._rows = [_Row(self, key, theme) for key in (*ROWS, "say")]

    def show_context(self, context: TrialContext, action: Action | None) -> None:
        """Show what is tried.

        Parameters
        ----------
        context : TrialContext
            Action, side and method.
        action : Action or None
            None for an action that no file describes.
        """
        text = card_text(context, action, self._words)
        self._about.setText(text.about)
        self.figure.show_action(action, context.side)
        self.figure.setAccessibleDescription(text.described)
        self._fill(text)
        self._arrange()

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """Ask for a card of a common size."""
        return QSize(320, 520)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Choose the font size anew."""
        super().resizeEvent(event)
        self._arrange()

    def _label(self, colour: str) -> QLabel:
        label = QLabel(self)
        _plain(label, colour)
        return label

    def _fill(self, text: CardText) -> None:
        told = {row.key: row for row in text.rows}
        for row in self._rows:
            found = told.get(row.key)
            row.fill("", "") if found is None else row.fill(found.label, found.text)

    @property
    def _is_wide(self) -> bool:
        """Whether the figure stands beside the text, not between."""
        return self.width() > WIDE * self.height()

    def _text_left(self) -> int:
        """Return where the text begins."""
        return int(FIGURE_WIDTH * self.width()) if self._is_wide else 0

    def _text_width(self) -> int:
        return self.width() - self._text_left()

    def _arrange(self) -> None:
        """Give every part its place, from the top down; the figure takes what the text leaves."""
        share = WIDE_TEXT_SHARE if self._is_wide else TEXT_SHARE
        size = largest_fitting(max(LEAST_PX, int(share * self.height())), LEAST_PX, self._fits)
        head, rows = self._heights(size)
        gap, left = size // 2, self._text_left()
        taken = sum(rows) + gap * (len(rows) - 1)
        self._about.setGeometry(left, 0, self._text_width(), head)
        bottom = (head + gap) if self._is_wide else self.height() - taken
        if self._is_wide:
            self.figure.setGeometry(0, 0, left - gap, self.height())
        else:
            self.figure.setGeometry(0, head + gap, self.width(), max(0, bottom - head - 2 * gap))
        indent = self._indent(size)
        for row, height in zip(self._shown(), rows, strict=True):
            row.place(QRect(left, bottom, self._text_width(), height), indent)
            bottom += height + gap

    def _fits(self, size: int) -> bool:
        head, rows = self._heights(size)
        taken = head + sum(rows) + size // 2 * (len(rows) + 1)
        texts = self._text_width() - self._indent(size)
        widths = [(self._about, self._text_width()), *((row.text, texts) for row in self._shown())]
        room = self.height() if self._is_wide else (1.0 - FIGURE_SHARE) * self.height()
        return taken <= room and all(_words_fit(*pair) for pair in widths)

    def _heights(self, size: int) -> tuple[int, list[int]]:
        """Return the height of the head, and of the rows, at a font size."""
        _resize(self._about, ABOUT * size, bold=True)
        for row in self._shown():
            row.set_font_size(size)
        texts = self._text_width() - self._indent(size)
        head = self._about.heightForWidth(self._text_width())
        return head, [row.text.heightForWidth(texts) for row in self._shown()]

    def _indent(self, size: int) -> int:
        """Return where the texts of the rows begin."""
        return max((row.label_width(size) for row in self._shown()), default=0)

    def _shown(self) -> list[_Row]:
        return [row for row in self._rows if row.text.text()]


class _Row:
    """A row of the card: the sign as in the figure, a word, a text."""

    def __init__(self, card: QWidget, key: str, theme: Theme) -> None:
        self.key = key
        self.sign = Sign(key, theme)
        self.sign.setParent(card)
        self.label, self.text = QLabel(card), QLabel(card)
        _plain(self.label, theme.quiet)
        _plain(self.text, theme.text)

    def fill(self, label: str, text: str) -> None:
        self.label.setText(label)
        self.text.setText(text)
        self.text.setAccessibleName(label)
        for widget in (self.sign, self.label, self.text):
            widget.setVisible(bool(text))

    def set_font_size(self, size: int) -> None:
        _resize(self.label, size)
        _resize(self.text, size)

    def label_width(self, size: int) -> int:
        """Return the width of sign, label and the space after it."""
        return 3 * size // 2 + QFontMetrics(self.label.font()).horizontalAdvance(self.label.text()) + size

    def place(self, where: QRect, indent: int) -> None:
        size = self.label.font().pixelSize()
        begin, width = 3 * size // 2, indent - 3 * size // 2
        line = self.label.heightForWidth(width)
        self.sign.setGeometry(where.left(), where.top(), size, line)
        self.label.setGeometry(where.left() + begin, where.top(), width, line)
        self.text.setGeometry(where.left() + indent, where.top(), where.width() - indent, where.height())


class Sign(QWidget):
    """The sign of a row, as it is in the figure, so that the figure needs no legend; empty for the others."""

    def __init__(self, key: str, theme: Theme) -> None:
        super().__init__()
        self._key, self._theme = key, theme

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Paint the sign in the middle."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        area = QRectF(self.rect())
        painter.translate(area.center())
        scale = min(area.width(), area.height()) / 0.12
        painter.scale(scale, scale)
        if self._key == "pad":
            paint_pad(painter, ((-0.02, -0.04), (0.02, -0.04), (0.02, 0.04), (-0.02, 0.04)), self._theme)
        elif self._key == "push":
            barbs = ((0.015, -0.033), (0.015, 0.033))
            paint_arrow(painter, Arrow(tail=(-0.045, 0.0), tip=(0.045, 0.0), barbs=barbs), self._theme)
        elif self._key == "steady":
            paint_mark(painter, ((0.0, 0.032), (0.036, -0.032), (-0.036, -0.032)), self._theme)
        painter.end()


def largest_fitting(most: int, least: int, fits: Callable[[int], bool]) -> int:
    """Return the largest size that fits, or the least one.

    Examples
    --------
    >>> largest_fitting(20, 9, lambda size: size * size < 200)
    14
    """
    return next((size for size in range(most, least, -1) if fits(size)), least)


def _plain(label: QLabel, colour: str) -> None:
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    label.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
    palette = label.palette()
    palette.setColor(QPalette.ColorRole.WindowText, QColor(colour))
    label.setPalette(palette)


def _resize(label: QLabel, pixels: float, *, bold: bool = False) -> None:
    font = QFont(label.font())
    font.setPixelSize(round(pixels))
    font.setBold(bold)
    label.setFont(font)


def _words_fit(label: QLabel, width: int) -> bool:
    """Tell whether the longest word is narrow enough to stand in one line."""
    metrics = QFontMetrics(label.font())
    return all(metrics.horizontalAdvance(word) <= width for word in label.text().split())
