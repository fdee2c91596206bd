"""The table of actions: which are tested, in which turn, held how, with which lever arms."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PyQt6.QtCore import QAbstractTableModel, QEvent, QLocale, QModelIndex, QRegularExpression, Qt
from PyQt6.QtGui import QColor, QFont, QKeyEvent, QRegularExpressionValidator, QResizeEvent
from PyQt6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from acquire.values.records import Side
from analysis.battery.actions import in_language
from ui.model.plan.plan import PlanDraft
from ui.model.plan.rows import ActionRow, rows_of, with_choice, with_lever, with_method
from ui.model.theme import Theme
from ui.words.numbers import parse_number, shown_number
from ui.words.words import Words

Edit = Callable[[Callable[[PlanDraft], PlanDraft]], None]
COLUMNS = ("order", "action", "position", "method", "left", "right")
ACTION, POSITION, METHOD = (COLUMNS.index(name) for name in ("action", "position", "method"))
LEVERS: dict[int, Side] = {COLUMNS.index("left"): "left", COLUMNS.index("right"): "right"}
LEVER_CM = r"\d{0,3}([.,]\d?)?"
CM = 100.0


class RowsModel(QAbstractTableModel):
    """The rows, as Qt asks for them."""

    def __init__(self, words: Words, theme: Theme, edit: Edit) -> None:
        super().__init__()
        self._words, self._theme, self._edit = words, theme, edit
        self.rows: tuple[ActionRow, ...] = ()

    def show_rows(self, rows: tuple[ActionRow, ...]) -> None:
        """Show other rows; when they are of the same actions, whatever is edited or focused stays so."""
        same = [row.action.key for row in rows] == [row.action.key for row in self.rows]
        if not same:
            self.beginResetModel()
        self.rows = rows
        if same:
            self.dataChanged.emit(self.index(0, 0), self.index(len(rows) - 1, len(COLUMNS) - 1))
        else:
            self.endResetModel()

    def toggle(self, index: QModelIndex) -> None:
        """Change between hand and belt, or take the action in or out."""
        row = self.rows[index.row()]
        key = row.action.key
        if index.column() == METHOD:
            self._edit(lambda draft: with_method(draft, key, "belt" if row.method == "hand" else "hand"))
        else:
            self._edit(lambda draft: with_choice(draft, key, chosen=not row.chosen))

    def first_missing(self) -> QModelIndex | None:
        """Return the first cell whose lever arm is still to be measured."""
        cells = ((at, column) for at, row in enumerate(self.rows) for column in LEVERS if row.missing(LEVERS[column]))
        found = next(cells, None)
        return None if found is None else self.index(*found)

    # Qt's own names from here on

    def rowCount(self, parent: QModelIndex = QModelIndex()) -> int:  # noqa: N802, B008
        """Return how many actions there are."""
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: QModelIndex = QModelIndex()) -> int:  # noqa: N802, B008
        """Return how many columns there are."""
        return 0 if parent.isValid() else len(COLUMNS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:  # noqa: ANN401, N802
        """Return the head of a column."""
        if orientation is not Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self._words(f"plan.column_{COLUMNS[section]}")
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _alignment(section)
        return None

    def flags(self, index: QModelIndex) -> Qt.ItemFlag:
        """Return what can be done with a cell."""
        can = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        side = LEVERS.get(index.column())
        editable = side is not None and side in self.rows[index.row()].levers
        return can | Qt.ItemFlag.ItemIsEditable if editable else can

    def data(self, index: QModelIndex, role: int = Qt.ItemDataRole.DisplayRole) -> Any:  # noqa: ANN401 - as Qt has it
        """Return what a cell shows."""
        row, column = self.rows[index.row()], index.column()
        if role == Qt.ItemDataRole.DisplayRole:
            return self._text(row, column)
        if role == Qt.ItemDataRole.EditRole:
            return self._lever(row, column)
        if role == Qt.ItemDataRole.CheckStateRole and column == ACTION:
            return Qt.CheckState.Checked if row.chosen else Qt.CheckState.Unchecked
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return self._spoken(row, column)
        return self._look(row, column, role)

    def setData(self, index: QModelIndex, value: object, role: int = Qt.ItemDataRole.EditRole) -> bool:  # noqa: N802
        """Take a lever arm that was typed, in centimetres."""
        side = LEVERS.get(index.column())
        if side is None or role != Qt.ItemDataRole.EditRole:
            return False
        try:
            centimetres = parse_number(str(value))
        except ValueError:
            return False
        key = self.rows[index.row()].action.key
        arm = None if centimetres is None else centimetres / CM
        self._edit(lambda draft: with_lever(draft, key, side, arm))
        return True

    def _text(self, row: ActionRow, column: int) -> str:
        if column in LEVERS:
            missing = row.missing(LEVERS[column])
            return self._words("plan.lever_missing") if missing else self._lever(row, column)
        shown = {
            "order": "" if row.order is None else str(row.order),
            "action": self._name(row),
            "position": self._words(f"test.{row.action.position}"),
            "method": self._words(f"test.{row.method}"),
        }
        return shown[COLUMNS[column]]

    def _name(self, row: ActionRow) -> str:
        return in_language(row.action, self._words.language).name

    def _lever(self, row: ActionRow, column: int) -> str:
        lever = row.levers.get(LEVERS[column]) if column in LEVERS else None
        return shown_number(None if lever is None else CM * lever).replace(".", QLocale().decimalPoint())

    def _spoken(self, row: ActionRow, column: int) -> str:
        if column == ACTION:
            return f"{self._name(row)}, {self._words('plan.chosen' if row.chosen else 'plan.left_out')}"
        if column in LEVERS:
            side = self._words(f"test.{LEVERS[column]}")
            about = self._words("plan.lever_about", action=self._name(row), side=side)
            return f"{about}: {self._text(row, column)}"
        return f"{self._name(row)}, {self._words(f'plan.column_{COLUMNS[column]}')}: {self._text(row, column)}"

    def _look(self, row: ActionRow, column: int, role: int) -> object:
        missing = column in LEVERS and row.missing(LEVERS[column])
        if role == Qt.ItemDataRole.ForegroundRole:
            quiet = not row.chosen or COLUMNS[column] in ("order", "position")
            return QColor(self._theme.warn if missing else self._theme.quiet if quiet else self._theme.text)
        if role == Qt.ItemDataRole.FontRole and missing:
            font = QFont()
            font.setBold(True)
            return font
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _alignment(column)
        return None


def _alignment(column: int) -> Qt.AlignmentFlag:
    right = column in LEVERS or COLUMNS[column] == "order"
    return (Qt.AlignmentFlag.AlignRight if right else Qt.AlignmentFlag.AlignLeft) | Qt.AlignmentFlag.AlignVCenter


class LeverDelegate(QStyledItemDelegate):
    """Lets a lever arm be typed in its cell."""

    def createEditor(self, parent: QWidget | None, option: QStyleOptionViewItem, index: QModelIndex) -> QWidget:  # noqa: N802
        """Return a field for centimetres."""
        del option
        field = QLineEdit(parent)
        field.setFrame(False)
        field.setAlignment(Qt.AlignmentFlag.AlignRight)
        field.setValidator(QRegularExpressionValidator(QRegularExpression(LEVER_CM), field))
        field.setAccessibleName(str(index.data(Qt.ItemDataRole.AccessibleTextRole)))
        return field


class ActionTable(QTableView):
    """The table; arrow keys move, the space bar does what a click does, digits type a lever arm."""

    def __init__(self, words: Words, theme: Theme, edit: Edit) -> None:
        super().__init__()
        self.rows = RowsModel(words, theme, edit)
        self.setModel(self.rows)
        self.setItemDelegate(LeverDelegate(self))
        self.setAccessibleName(words("plan.table"))
        self.setAccessibleDescription(words("plan.table_about"))
        self.setToolTip(words("plan.table_about"))
        self.setTabKeyNavigation(False)
        self.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.AnyKeyPressed
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.DoubleClicked
        )
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.clicked.connect(self._act)
        self._lay_out()

    def show_draft(self, draft: PlanDraft) -> None:
        """Show the actions of a plan."""
        self.rows.show_rows(rows_of(draft))
        for column, side in LEVERS.items():
            tried = any(side in row.levers for row in self.rows.rows)
            self.setColumnHidden(column, not (draft.want_torque and tried))
        self._make_room()
        if not self.currentIndex().isValid() and self.rows.rows:
            self.setCurrentIndex(self.rows.index(0, ACTION))

    def to_missing(self) -> None:
        """Move to the first lever arm that is missing."""
        missing = self.rows.first_missing()
        self.setFocus()
        if missing is not None:
            self.setCurrentIndex(missing)
            self.scrollTo(missing)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 - Qt's name
        """Let the space bar and Enter act on the cell."""
        keys = (Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Enter)
        editing = self.state() is QAbstractItemView.State.EditingState  # Enter ends it, and comes here too
        if event is not None and event.key() in keys and self.currentIndex().isValid() and not editing:
            self._act(self.currentIndex())
            return
        super().keyPressEvent(event)

    def changeEvent(self, event: QEvent | None) -> None:  # noqa: N802 - Qt's name
        """Let the rows grow with the letters."""
        super().changeEvent(event)
        if event is not None and event.type() == QEvent.Type.FontChange:
            self._lay_out()
            self._make_room()

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """Let go of what has no room."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        """Leave the positions out when names and lever arms leave them no room: the order shows them too."""
        shown = [column for column in range(len(COLUMNS)) if column == POSITION or not self.isColumnHidden(column)]
        needed = sum(max(self.sizeHintForColumn(c), self._head_width(c)) for c in shown)
        room = self.width() - 2 * self.fontMetrics().averageCharWidth()
        self.setColumnHidden(POSITION, needed > room)

    def _head_width(self, column: int) -> int:
        heads = self.horizontalHeader()
        return 0 if heads is None else heads.sectionSizeHint(column)

    def _act(self, index: QModelIndex) -> None:
        if index.column() in LEVERS:
            if self.rows.flags(index) & Qt.ItemFlag.ItemIsEditable:
                self.edit(index)
        else:
            self.rows.toggle(index)

    def _lay_out(self) -> None:
        metrics = self.fontMetrics()
        rows, heads = self.verticalHeader(), self.horizontalHeader()
        if rows is None or heads is None:
            return
        rows.hide()
        rows.setDefaultSectionSize(round(1.5 * metrics.height()))
        rows.setMinimumSectionSize(1)
        heads.setHighlightSections(False)
        heads.setMinimumSectionSize(1)
        heads.setSectionsClickable(False)
        for column in range(len(COLUMNS)):
            heads.setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
        heads.setSectionResizeMode(ACTION, QHeaderView.ResizeMode.Stretch)
