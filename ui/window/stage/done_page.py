"""The page of a battery that is done: what each action came to, and what may be done now, by one key each."""

from __future__ import annotations

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QFont, QKeySequence, QShortcut
from PyQt6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QSizePolicy,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from ui.model.stage.done_text import DoneRow
from ui.model.theme import Theme
from ui.window.widgets.big_text import BigText
from ui.window.widgets.pieces import button_of, panel
from ui.words.words import Words

COLUMNS = ("action", "side", "score", "difference", "remark")
REPEAT, REPORT, NEXT_PERSON = "R", "F6", "F7"


class DonePage(QWidget):
    """The results, and three ways on; the space bar goes to Review.

    `repeat_asked` carries the context of the row that is marked.
    """

    repeat_asked = pyqtSignal(object)
    report_asked = pyqtSignal()
    next_asked = pyqtSignal()

    def __init__(self, words: Words, theme: Theme) -> None:
        super().__init__()
        self._words = words
        self._rows: tuple[DoneRow, ...] = ()
        self.title = BigText(theme.cue, most_lines=1)
        self.below = BigText(theme.text, most_lines=1, bold=False)
        self.table = QTableWidget(0, len(COLUMNS))
        self._arrange_table()
        self._buttons = [
            button_of(words, f"stage.{key}", keys)
            for key, keys in (("repeat", REPEAT), ("report", REPORT), ("next_person", NEXT_PERSON))
        ]
        calls = (self.repeat, self.report_asked.emit, self.next_asked.emit)
        row = QHBoxLayout()
        row.addStretch(1)
        for button, call, keys in zip(self._buttons, calls, (REPEAT, REPORT, NEXT_PERSON), strict=True):
            button.setText(f"{button.text()}  ({keys})")
            button.clicked.connect(lambda _, call=call: call())
            QShortcut(QKeySequence(keys), self).activated.connect(call)
            row.addWidget(button)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(12)
        column.addWidget(self.title)
        column.addWidget(self.below)
        column.addWidget(panel(self.table, wide=True), 1)
        column.addLayout(row)

    def show_rows(self, rows: tuple[DoneRow, ...], *, title: str, below: str) -> None:
        """Show what the battery came to; the first row that is worth repeating is marked."""
        self._rows = rows
        self.title.show_text(title)
        self.below.show_text(below)
        self.table.setRowCount(len(rows))
        for at, row in enumerate(rows):
            for column, name in enumerate(COLUMNS):
                text = getattr(row, name)
                item = QTableWidgetItem(text)
                item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{self._words(f'stage.column_{name}')}: {text}")
                self.table.setItem(at, column, item)
        self.table.selectRow(next((at for at, row in enumerate(rows) if row.remark), 0))
        self.table.resizeRowsToContents()
        self.table.setFocus()

    def repeat(self) -> None:
        """Ask for the row that is marked to be tried once more."""
        at = self.table.currentRow()
        if 0 <= at < len(self._rows):
            self.repeat_asked.emit(self._rows[at].context)

    def fit_window(self, height: int) -> None:
        """Scale the fonts to a window of this height."""
        for text, share in ((self.title, 0.12), (self.below, 0.05)):
            text.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
            text.setFixedHeight(round(share * height))
            text.set_cap(0.6 * share * height)
        for part, share in ((self.table, 0.026), (self.table.horizontalHeader(), 0.020)):
            if part is not None:
                font = QFont(part.font())
                font.setPixelSize(max(12, round(share * height)))
                part.setFont(font)
        self.table.resizeRowsToContents()

    def _arrange_table(self) -> None:
        self.table.setHorizontalHeaderLabels([self._words(f"stage.column_{name}") for name in COLUMNS])
        self.table.setAccessibleName(self._words("stage.done_name"))
        self.table.setToolTip(self._words("stage.done_tip"))
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setShowGrid(False)
        self.table.setStyleSheet("QTableView::item { padding: 4px 10px; }")
        self.table.setWordWrap(True)
        head, side = self.table.horizontalHeader(), self.table.verticalHeader()
        if side is not None:
            side.hide()
        if head is not None:
            head.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
            head.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
            head.setSectionResizeMode(len(COLUMNS) - 1, QHeaderView.ResizeMode.Stretch)
