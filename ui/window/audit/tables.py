"""The tables of Audit: a line for each examiner, and a line for each fault and number of one of them."""

from __future__ import annotations

from collections.abc import Sequence

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QColor, QFont, QKeyEvent

from ui.model.audit.audit import COLUMNS, NUMBERS
from ui.model.audit.text import SHARE_COLUMNS, ExaminerRow, ShareRow
from ui.model.theme import Theme
from ui.window.widgets.lines_table import LinesTable
from ui.words.words import Words

UP, DOWN = "\u25b2", "\u25bc"
SORT = Qt.Key.Key_S


class ExaminersTable(LinesTable):
    """Examiners, one a line.

    `sorted` is emitted with the name of the column to sort by.
    """

    sorted = pyqtSignal(str)

    def __init__(self, words: Words, theme: Theme) -> None:
        self._words, self._theme = words, theme
        super().__init__(COLUMNS, self._labels("says", True), numbers=NUMBERS, wide="says")
        self.setAccessibleName(words("audit.table"))
        self.setToolTip(words("audit.table_tip"))
        self.setAccessibleDescription(words("audit.table_tip"))
        self.currentCellChanged.connect(lambda *_: self._mark_column())
        across = self.horizontalHeader()
        if across is not None:
            across.setSectionsClickable(True)
            across.sectionClicked.connect(lambda column: self.sorted.emit(COLUMNS[column]))

    def show_rows(self, rows: Sequence[ExaminerRow], *, order: tuple[str, bool], selected: str | None) -> None:
        """Show examiners in the order in which they come, with an arrow above the column that made it."""
        self._filling = True
        self.name_columns(self._labels(*order))
        self.setRowCount(len(rows))
        for number, row in enumerate(rows):
            for column, text in enumerate(row.cells):
                item = self._cell(column, text)
                if COLUMNS[column] == "says":
                    item.setForeground(QColor(self._colour(row)))
                    item.setToolTip(text)
                self.setItem(number, column, item)
        self._filling = False
        self._mark_column()
        self.show_selected(next((number for number, row in enumerate(rows) if row.code == selected), None))

    def take_font(self) -> None:
        """Give the header the font of the table."""
        self._mark_column()

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Sort by the column of the cell that has the focus; other keys as in every table."""
        if event is not None and event.key() == SORT and not event.modifiers():
            self.sorted.emit(COLUMNS[max(0, self.currentColumn())])
            return
        super().keyPressEvent(event)

    def _mark_column(self) -> None:
        """Set in bold the name of the column that S sorts by."""
        for column in range(self.columnCount()):
            head = self.horizontalHeaderItem(column)
            if head is not None:
                font = QFont(self.font())  # in full: a head is made as wide as its own font, not the table's, says
                font.setBold(column == max(0, self.currentColumn()))
                head.setFont(font)

    def _colour(self, row: ExaminerRow) -> str:
        return {"finding": self._theme.bad, "nothing": self._theme.good, "few": self._theme.quiet}[row.kind]

    def _labels(self, by: str, down: bool) -> list[str]:
        labels = [self._words(f"audit.column.{name}") for name in COLUMNS]
        labels[COLUMNS.index(by)] += f" {DOWN if down else UP}"
        return labels


class SharesTable(LinesTable):
    """Faults and numbers of one examiner, one a line."""

    def __init__(self, words: Words, theme: Theme) -> None:
        labels = [words(f"audit.share_column.{name}") for name in SHARE_COLUMNS]
        super().__init__(SHARE_COLUMNS, labels, numbers=SHARE_COLUMNS[1:], wide="what")
        self._theme = theme
        self.setAccessibleName(words("audit.shares"))
        self.setToolTip(words("audit.shares_tip"))
        self.setAccessibleDescription(words("audit.shares_tip"))

    def show_rows(self, rows: Sequence[ShareRow]) -> None:
        """Show what one examiner's trials show; the first line is looked at."""
        self._filling = True
        self.setRowCount(len(rows))
        for number, row in enumerate(rows):
            for column, text in enumerate(row.cells):
                item = self._cell(column, text)
                if row.finding and column == 0:
                    item.setForeground(QColor(self._theme.bad))
                item.setToolTip(text)
                self.setItem(number, column, item)
        self._filling = False
        self.show_selected(0 if rows else None)
