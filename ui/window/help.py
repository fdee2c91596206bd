"""Help on the place one is in, by F1: what is done there, and by which keys."""

from __future__ import annotations

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QVBoxLayout, QWidget

from ui.words.words import Words


class HelpDialog(QDialog):
    """Stays open beside the window, so that one can read and try.

    Parameters
    ----------
    words : Words
        Language.
    place : str
        The place that is explained.
    parent : QWidget
        The window.
    """

    def __init__(self, words: Words, place: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(words("help.title", place=words(f"place.{place}")))
        self.text = QLabel(words(f"help.{place}"))
        self.text.setWordWrap(True)
        self.text.setMinimumWidth(30 * self.fontMetrics().averageCharWidth())
        self.text.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        close = QDialogButtonBox()
        button = close.addButton(words("help.close"), QDialogButtonBox.ButtonRole.RejectRole)
        if button is not None:
            button.setToolTip(words("help.close_about"))
        close.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(self.text)
        column.addWidget(close)
        self.resize(640, self.sizeHint().height())
