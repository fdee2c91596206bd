"""What is asked: why a trial is set aside and by whom, which file or folder to open, how fast a trace was sampled."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QFormLayout,
    QInputDialog,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from ui.words.words import Words

PickFile = Callable[[QWidget, str, str], Path | None]
"""How the user picks a file: parent, title and kinds in, path or None out."""

RATES_HZ = (1.0, 1_000_000.0)
USUAL_HZ = 1000.0


class DecisionDialog(QDialog):
    """Ask for the reason of a decision and the examiner's code; both are needed."""

    def __init__(self, words: Words, *, title: str, examiner: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setMinimumWidth(460)
        self.reason, self.by = QLineEdit(), QLineEdit(examiner)
        self.reason.setAccessibleName(words("review.ask.reason"))
        self.by.setAccessibleName(words("review.ask.by"))
        self.confirm, cancel = QPushButton(title), QPushButton(words("review.ask.cancel"))
        self.confirm.setObjectName("main")
        self.confirm.setDefault(True)
        buttons = QDialogButtonBox()
        buttons.addButton(self.confirm, QDialogButtonBox.ButtonRole.AcceptRole)
        buttons.addButton(cancel, QDialogButtonBox.ButtonRole.RejectRole)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        about = QLabel(words("review.ask.about"))
        about.setObjectName("quiet")
        about.setWordWrap(True)
        form = QFormLayout()
        form.addRow(words("review.ask.reason"), self.reason)
        form.addRow(words("review.ask.by"), self.by)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 16, 18, 14)
        column.setSpacing(12)
        column.addWidget(about)
        column.addLayout(form)
        column.addWidget(buttons)
        for field in (self.reason, self.by):
            field.textChanged.connect(self._check)
        self._check()
        self.reason.setFocus()

    def _check(self) -> None:
        self.confirm.setEnabled(bool(self.reason.text().strip() and self.by.text().strip()))


def pick_file(parent: QWidget, title: str, kinds: str) -> Path | None:
    """Return the file that the user picks, None when they pick none."""
    name, _ = QFileDialog.getOpenFileName(parent, title, "", kinds)
    return Path(name) if name else None


def pick_folder(parent: QWidget, title: str, start: Path) -> Path | None:
    """Return the folder that the user picks, None when they pick none."""
    name = QFileDialog.getExistingDirectory(parent, title, str(start))
    return Path(name) if name else None


def line_dialog(parent: QWidget, *, title: str, text: str) -> QInputDialog:
    """Return a dialog that asks for a line of text; `textValueSelected` tells it."""
    dialog = QInputDialog(parent)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setWindowTitle(title)
    dialog.setLabelText(text)
    dialog.setMinimumWidth(460)
    return dialog


def ask_rate(parent: QWidget, words: Words, path: Path) -> float | None:
    """Return the sample rate of a trace of force alone, Hz; None when the user does not say."""
    text = words("review.rate_ask", file=path.name)
    rate, said = QInputDialog.getDouble(parent, words("review.rate_title"), text, USUAL_HZ, *RATES_HZ, 1)
    return rate if said else None
