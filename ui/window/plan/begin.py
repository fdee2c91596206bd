"""The card at the foot of the Plan place: the cautions, their acknowledgement, and the beginning."""

from __future__ import annotations

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QResizeEvent
from PyQt6.QtWidgets import QCheckBox, QGridLayout, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from ui.model.plan.plan import PlanDraft
from ui.model.plan.text import open_words
from ui.window.widgets.fields import named
from ui.window.widgets.panels import Panel, weigh
from ui.window.widgets.scrolled import Scrolled
from ui.words.words import Words

CAUTION_KEYS = ("pain", "breath", "injury", "clearance", "belt", "rules")
COLUMNS = 3


class BeginCard(Panel):
    """The cautions, one box for all of them, and the button that begins."""

    def __init__(self, words: Words) -> None:
        super().__init__(words("plan.cautions"))
        self._words = words
        self.understood = QCheckBox(words("plan.understood"))
        named(self.understood, words("plan.understood"))
        self.understood.setAccessibleDescription(" ".join(words(f"caution.{key}") for key in CAUTION_KEYS))
        self.begin = QPushButton(words("plan.begin"))
        self.begin.setObjectName("main")
        self.begin.setAccessibleName(words("plan.begin_about"))
        self.status = QLabel()
        self.status.setWordWrap(True)
        self.status.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        self.sound = QLabel()
        self.sound.setObjectName("quiet")
        self.sound.setWordWrap(True)
        self.sound.hide()
        row = QHBoxLayout()
        row.setSpacing(24)
        row.addWidget(Scrolled(self._cautions()), 7)
        row.addLayout(self._end(), 2)
        self.column.addLayout(row)

    def show_draft(self, draft: PlanDraft, *, loud: bool) -> None:
        """Show what is still open; `loud` after a press that could not begin."""
        text = open_words(self._words, draft)
        self.status.setText(f"! {text}" if loud else text)
        weigh(self.status, "warn" if loud else "quiet", bold=loud)

    def show_trouble(self, text: str) -> None:
        """Show why a session could not begin."""
        self.status.setText(f"! {text}")
        weigh(self.status, "bad", bold=True)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Keep two lines for what is still open, so that a longer sentence moves nothing."""
        super().resizeEvent(event)
        self.status.setMinimumHeight(2 * self.status.fontMetrics().lineSpacing())

    def _cautions(self) -> QWidget:
        inside = QWidget()
        grid = QGridLayout(inside)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(24)
        grid.setVerticalSpacing(4)
        rows = len(CAUTION_KEYS) // COLUMNS
        for number, key in enumerate(CAUTION_KEYS):
            label = QLabel(self._words(f"caution.{key}"))
            label.setWordWrap(True)
            grid.addWidget(label, number % rows, number // rows, Qt.AlignmentFlag.AlignTop)
        for column in range(COLUMNS):
            grid.setColumnStretch(column, 1)
        return inside

    def _end(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(6)
        for widget in (self.understood, self.begin, self.status, self.sound):
            column.addWidget(widget)
        column.addStretch(1)
        return column
