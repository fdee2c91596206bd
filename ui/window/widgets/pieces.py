"""Small pieces that the places are put together from."""

from __future__ import annotations

from PyQt6.QtWidgets import QAbstractButton, QFrame, QPushButton, QVBoxLayout, QWidget

from ui.words.words import Words


def panel(inside: QWidget, *, wide: bool = False) -> QFrame:
    """Return a frame of a panel about a widget; a wide one has more room about it, to be read from afar."""
    frame = QFrame()
    frame.setObjectName("panel")
    layout = QVBoxLayout(frame)
    aside, above = (16, 10) if wide else (10, 8)
    layout.setContentsMargins(aside, above, aside, above)
    layout.addWidget(inside)
    return frame


def button_of(words: Words, key: str, keys: str) -> QPushButton:
    """Return a button with its words, and its tip, which names the keys that press it too."""
    button = QPushButton(words(key))
    button.setAutoDefault(True)  # so that Enter presses it, like the space bar
    button.setAccessibleName(words(key))
    give_tip(button, words(f"{key}_tip", keys=keys))
    return button


def give_tip(button: QAbstractButton, tip: str) -> None:
    """Give a button a tip that a screen reader reads too."""
    button.setToolTip(tip)
    button.setAccessibleDescription(tip)


def window_height(widget: QWidget) -> int:
    """Return the height of the window that a widget is in, pixels."""
    window = widget.window()
    return widget.height() if window is None else window.height()
