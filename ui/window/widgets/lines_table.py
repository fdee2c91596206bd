"""A table of lines: the selected one is bold; the keyboard does everything."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QFont, QKeyEvent
from PyQt6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem

SHEET = """
QTableView { outline: 0; }
QTableView::item { padding: 0 7px; }
QHeaderView::section { padding: 3px 10px; }
"""
"""No ring about one cell, for the whole line is chosen; and room between the columns."""


class LinesTable(QTableWidget):
    """Lines to choose one of.

    `chosen` is emitted with the number of the line that is looked at, `opened` with a line that Enter or a double
    click asks more of, `pressed` for the space bar.

    Parameters
    ----------
    columns : sequence of str
        What each is; not shown.
    labels : sequence of str
        What each is called.
    numbers : collection of str
        Which columns hold numbers, flush right.
    wide : str
        Which column takes the room that is left.
    """

    chosen = pyqtSignal(int)
    opened = pyqtSignal(int)
    pressed = pyqtSignal()

    def __init__(self, columns: Sequence[str], labels: Sequence[str], *, numbers: Collection[str], wide: str) -> None:
        super().__init__(0, len(columns))
        self._columns, self._numbers = tuple(columns), frozenset(numbers)
        self._filling = False
        self._wide = self._columns.index(wide)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setStyleSheet(SHEET)
        self._dress_headers()
        self.name_columns(labels)
        self.currentCellChanged.connect(self._moved)
        self.itemDoubleClicked.connect(lambda item: self.opened.emit(item.row()))

    def name_columns(self, labels: Sequence[str]) -> None:
        """Write above each column what it is called."""
        self.setHorizontalHeaderLabels(labels)
        for column, name in enumerate(self._columns):
            head = self.horizontalHeaderItem(column)
            if head is not None:
                head.setTextAlignment(self._alignment(name))

    def show_selected(self, index: int | None) -> None:
        """Show which line is looked at."""
        self._filling = True
        if index is None:
            self.setCurrentItem(None)
        else:
            self.setCurrentCell(index, max(0, self.currentColumn()))
        self._embolden(index)
        self._filling = False

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Hand the space bar and Enter on, and move by the other keys."""
        key = None if event is None else event.key()
        if key == Qt.Key.Key_Space:
            self.pressed.emit()
        elif key in {Qt.Key.Key_Return, Qt.Key.Key_Enter} and self.currentRow() >= 0:
            self.opened.emit(self.currentRow())
        else:
            super().keyPressEvent(event)

    def updateGeometries(self) -> None:  # noqa: N802 (Qt's name)
        """Give the wide column the room that is left, or, where that is too little, let the table scroll."""
        super().updateGeometries()
        across, viewport = self.horizontalHeader(), self.viewport()
        if across is None or viewport is None:
            return
        others = across.length() - across.sectionSize(self._wide)
        fits = viewport.width() - others >= across.sectionSizeHint(self._wide)
        mode = QHeaderView.ResizeMode.Stretch if fits else QHeaderView.ResizeMode.ResizeToContents
        if across.sectionResizeMode(self._wide) is not mode:
            across.setSectionResizeMode(self._wide, mode)

    def _cell(self, column: int, text: str) -> QTableWidgetItem:
        item = QTableWidgetItem(text)
        item.setTextAlignment(self._alignment(self._columns[column]))
        return item

    def _alignment(self, name: str) -> Qt.AlignmentFlag:
        flush = Qt.AlignmentFlag.AlignRight if name in self._numbers else Qt.AlignmentFlag.AlignLeft
        return Qt.AlignmentFlag.AlignVCenter | flush

    def _embolden(self, index: int | None) -> None:
        """Set the selected line in bold: colour alone would not do."""
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
        across.setSectionResizeMode(self._wide, QHeaderView.ResizeMode.Stretch)

    def _moved(self, row: int, *_: int) -> None:
        if not self._filling and row >= 0:
            self._embolden(row)
            self.chosen.emit(row)
