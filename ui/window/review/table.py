"""The table of Review: a line for each trial, with a box to keep its curve in the picture."""

from __future__ import annotations

from collections.abc import Sequence

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QColor
from PyQt6.QtWidgets import QTableWidgetItem

from acquire.values.units import ForceUnit
from ui.model.review.text import COLUMNS, NUMBERS, TrialRow
from ui.model.theme import Theme
from ui.window.widgets.lines_table import LinesTable
from ui.words.words import Words

KEEP = Qt.CheckState.Checked
VERDICT = COLUMNS.index("verdict")


class TrialsTable(LinesTable):
    """Trials, one a line.

    `kept` is emitted with a line and whether its box is ticked.
    """

    kept = pyqtSignal(int, bool)

    def __init__(self, words: Words, theme: Theme, unit: ForceUnit) -> None:
        labels = [words(f"review.column.{name}", unit=unit.symbol) for name in COLUMNS]
        super().__init__(COLUMNS, labels, numbers=NUMBERS, wide="faults")
        self._words, self._theme = words, theme
        self.setAccessibleName(words("review.table"))
        self.setToolTip(words("review.table_tip"))
        self.itemChanged.connect(self._ticked)

    def show_rows(self, rows: Sequence[TrialRow], *, kept: frozenset[int], selected: int | None) -> None:
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

    def _item(self, row: TrialRow, column: int, text: str) -> QTableWidgetItem:
        item = self._cell(column, text)
        if row.aside:
            item.setForeground(QColor(self._theme.quiet))
        elif column == VERDICT:
            item.setForeground(QColor(self._theme.good if row.accepted else self._theme.bad))
        if COLUMNS[column] == "faults":
            item.setToolTip(text)
        return item

    def _ticked(self, item: QTableWidgetItem) -> None:
        if not self._filling and item.column() == 0:
            self.kept.emit(item.row(), item.checkState() is KEEP)
