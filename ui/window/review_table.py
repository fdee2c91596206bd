"""The table of Review: a line for each trial, with a box to keep its curve in the picture."""

from __future__ import annotations

from collections.abc import Sequence

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QColor, QFont, QKeyEvent
from PyQt6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem

from acquire.units import ForceUnit
from ui.model.review_text import COLUMNS, NUMBERS, Row
from ui.model.theme import Theme
from ui.model.words import Words

KEEP = Qt.CheckState.Checked
VERDICT = COLUMNS.index("verdict")

SHEET = """
QTableView { outline: 0; }
QTableView::item { padding: 0 8px; }
QHeaderView::section { padding: 3px 11px; }
"""
"""No ring about one cell, for the whole line is chosen; and room between the columns."""


class TrialsTable(QTableWidget):
    """Trials, one a line.

    `chosen` is emitted with the number of the line that is looked at, `kept` with a line and whether its box is
    ticked, `pressed` for the space bar.
    """

    chosen = pyqtSignal(int)
    kept = pyqtSignal(int, bool)
    pressed = pyqtSignal()

    def __init__(self, words: Words, theme: Theme, unit: ForceUnit) -> None:
        super().__init__(0, len(COLUMNS))
        self._words, self._theme = words, theme
        self._filling = False
        self.setHorizontalHeaderLabels([words(f"review.column.{name}", unit=unit.symbol) for name in COLUMNS])
        self.setAccessibleName(words("review.table"))
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setStyleSheet(SHEET)
        self._dress_headers()
        self.currentCellChanged.connect(self._moved)
        self.itemChanged.connect(self._ticked)

    def show_rows(self, rows: Sequence[Row], *, kept: frozenset[int], selected: int | None) -> None:
        """Show trials; those that are kept have their box ticked."""
        self._filling = True
        self.setRowCount(len(rows))
        for number, row in enumerate(rows):
            for column, text in enumerate(row.cells):
                self.setItem(number, column, self._item(row, column, text))
            box = self.item(number, 0)
            if box is not None:
                box.setCheckState(KEEP if number in kept else Qt.CheckState.Unchecked)
                box.setToolTip(self._words("review.keep_tip", keys="Ctrl+K"))
        self._filling = False
        self.show_selected(selected)

    def show_selected(self, index: int | None) -> None:
        """Show which trial is looked at."""
        self._filling = True
        if index is None:
            self.setCurrentItem(None)
        else:
            self.setCurrentCell(index, max(0, self.currentColumn()))
        self._embolden(index)
        self._filling = False

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Hand the space bar on, and move by the other keys."""
        if event is not None and event.key() == Qt.Key.Key_Space:
            self.pressed.emit()
            return
        super().keyPressEvent(event)

    def _item(self, row: Row, column: int, text: str) -> QTableWidgetItem:
        item = QTableWidgetItem(text)
        number = COLUMNS[column] in NUMBERS
        item.setTextAlignment(Qt.AlignmentFlag.AlignVCenter | _flush(number))
        if row.aside:
            item.setForeground(QColor(self._theme.quiet))
        elif column == VERDICT:
            item.setForeground(QColor(self._theme.good if row.accepted else self._theme.bad))
        if COLUMNS[column] == "faults":
            item.setToolTip(text)
        return item

    def _embolden(self, index: int | None) -> None:
        """Write the line that is looked at in bold letters: colour alone would not do."""
        for number in range(self.rowCount()):
            for column in range(self.columnCount()):
                item = self.item(number, column)
                if item is not None and item.font().bold() != (number == index):
                    font = QFont()
                    font.setBold(number == index)
                    item.setFont(font)

    def _dress_headers(self) -> None:
        across, down = self.horizontalHeader(), self.verticalHeader()
        if across is None or down is None:
            return
        down.hide()
        down.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        across.setHighlightSections(False)
        across.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        across.setSectionResizeMode(COLUMNS.index("faults"), QHeaderView.ResizeMode.Stretch)
        for column, name in enumerate(COLUMNS):
            head = self.horizontalHeaderItem(column)
            if head is not None:
                head.setTextAlignment(Qt.AlignmentFlag.AlignVCenter | _flush(name in NUMBERS))

    def _moved(self, row: int, *_: int) -> None:
        if not self._filling and row >= 0:
            self._embolden(row)
            self.chosen.emit(row)

    def _ticked(self, item: QTableWidgetItem) -> None:
        if not self._filling and item.column() == 0:
            self.kept.emit(item.row(), item.checkState() is KEEP)


def _flush(right: bool) -> Qt.AlignmentFlag:
    return Qt.AlignmentFlag.AlignRight if right else Qt.AlignmentFlag.AlignLeft
