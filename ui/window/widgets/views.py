"""Several views in one place: a row of buttons, and the view that was chosen below it."""

from __future__ import annotations

from PyQt6.QtCore import pyqtSignal
from PyQt6.QtGui import QFont
from PyQt6.QtWidgets import QButtonGroup, QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget


class Views(QWidget):
    """Views to choose one of; the arrow keys go from button to button.

    `changed` is emitted with the name of a view that the user chose.
    """

    changed = pyqtSignal(str)

    def __init__(self) -> None:
        super().__init__()
        self._buttons: dict[str, QPushButton] = {}
        self._stack, self._group, self._row = QStackedWidget(), QButtonGroup(self), QHBoxLayout()
        self._row.setSpacing(6)
        self._row.addStretch(1)
        self._group.setExclusive(True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addLayout(self._row)
        column.addWidget(self._stack, 1)

    def add(self, name: str, label: str, view: QWidget, *, tip: str) -> None:
        """Add a view; the first one is shown."""
        button = QPushButton(label)
        button.setCheckable(True)
        button.setAccessibleName(label)
        button.setToolTip(tip)
        button.clicked.connect(lambda: self._choose(name))
        self._row.insertWidget(len(self._buttons), button)
        self._group.addButton(button)
        self._buttons[name] = button
        self._stack.addWidget(view)
        if len(self._buttons) == 1:
            self.show_view(name)

    @property
    def shown(self) -> str:
        """The name of the view that is shown."""
        return tuple(self._buttons)[self._stack.currentIndex()]

    def button(self, name: str) -> QPushButton:
        """Return the button of a view."""
        return self._buttons[name]

    def show_view(self, name: str) -> None:
        """Show a view; its button is bold, because colour alone would not do."""
        self._stack.setCurrentIndex(tuple(self._buttons).index(name))
        self._buttons[name].setChecked(True)
        for button in self._buttons.values():
            font = QFont(button.font())
            font.setBold(button.isChecked())
            button.setFont(font)

    def _choose(self, name: str) -> None:
        self.show_view(name)
        self.changed.emit(name)
