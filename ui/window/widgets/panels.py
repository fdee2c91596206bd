"""The cards of the Plan place, and fonts that grow with the window; colours are `ui.window.widgets.style`'s."""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtGui import QFont
from PyQt6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

SMALLEST_PX, LARGEST_PX = 13, 20
FONT_SHARE = 0.0178
"""The font size is this share of the window's height: 13 pixels of 720, 19 of 1080."""


def font_size(height: int) -> int:
    """Return the font size for a window of this height, pixels."""
    return min(LARGEST_PX, max(SMALLEST_PX, round(FONT_SHARE * height)))


def grow(place: QWidget, pixels: int) -> None:
    """Set the font size of everything in a place; under a style sheet Qt hands no font down by itself."""
    if place.font().pixelSize() == pixels:
        return
    for widget in (place, *place.findChildren(QWidget)):
        font = QFont(widget.font())
        font.setPixelSize(pixels)
        widget.setFont(font)


def weigh(label: QLabel, name: str, *, bold: bool = False) -> None:
    """Give a label another colour by its name, and a weight with it: colour never speaks alone."""
    font = QFont(label.font())  # before it is polished anew, which forgets the size
    font.setBold(bold)
    style = label.style()
    if label.objectName() != name and style is not None:
        label.setObjectName(name)
        style.unpolish(label)
        style.polish(label)
    label.setFont(font)


def say(label: QLabel, text: str) -> None:
    """Say something in a label; it takes no room when there is nothing to say."""
    label.setText(text)
    label.setVisible(bool(text))


def warn(label: QLabel, sentences: list[str]) -> None:
    """Say warnings in a label, one a line."""
    say(label, "\n".join(f"! {sentence}" for sentence in sentences))


class Panel(QFrame):
    """A card with a title."""

    def __init__(self, title: str) -> None:
        super().__init__()
        self.setObjectName("panel")
        self.setAccessibleName(title)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(16, 8, 16, 10)
        self.column.setSpacing(6)
        self.column.addWidget(_label(title, "heading"))

    def form(self) -> QGridLayout:
        """Return a new grid of labels and fields at the end of the card."""
        form = QGridLayout()
        form.setContentsMargins(0, 0, 0, 0)
        form.setHorizontalSpacing(10)
        form.setVerticalSpacing(5)
        form.setColumnStretch(1, 1)
        self.column.addLayout(form)
        return form

    def note(self, name: str = "warn") -> QLabel:
        """Return a new label for sentences, at the end of the card."""
        label = _label("", name)
        label.setWordWrap(True)
        label.hide()
        self.column.addWidget(label)
        return label


class Notice(QFrame):
    """Something to be said once, above the cards, with what can be done about it."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.setObjectName("panel")
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(16, 4, 16, 4)
        said = _label(f"! {text}", "warn")
        said.setWordWrap(True)
        self._row.addWidget(said, 1)

    def button(self, text: str, act: Callable[[], None]) -> QPushButton:
        """Return a new button that acts."""
        button = QPushButton(text)
        button.clicked.connect(act)
        self._row.addWidget(button)
        return button


def _label(text: str, name: str) -> QLabel:
    label = QLabel(text)
    label.setObjectName(name)
    return label
