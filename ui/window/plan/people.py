"""The list of people who were tested before: choose one, and the plan is filled in from last time."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtWidgets import QDialog, QLabel, QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from analysis.battery.actions import Action
from ui.model.plan.people import KnownPerson, known_people, matching_people, person_lines
from ui.window.widgets.background import Background
from ui.words.words import Words

MOST = 500
"""So many are shown; whoever is not among them is found by typing."""


class PeopleDialog(QDialog):
    """Shows people; `chosen` gives the `KnownPerson` who was chosen.

    Parameters
    ----------
    words : Words
        Language.
    folder : Path
        Where sessions are saved.
    actions : dict
        The actions there are, for their names.
    parent : QWidget
        The place.
    read : callable
        Returns the people of a folder; called in a thread.
    """

    chosen = pyqtSignal(object)

    def __init__(
        self,
        words: Words,
        folder: Path,
        actions: dict[str, Action],
        parent: QWidget,
        *,
        read: Callable[[Path], tuple[KnownPerson, ...]] = known_people,
    ) -> None:
        super().__init__(parent)
        self._words, self._folder, self._actions = words, folder, actions
        self._people: tuple[KnownPerson, ...] = ()
        self._build()
        self._background = Background(self)
        self._background.do(lambda: read(folder), self._take, lambda error: self.about.setText(str(error)))

    def done(self, result: int) -> None:
        """Close; what is still being read is of no interest any more."""
        self._background.close()
        super().done(result)

    def _build(self) -> None:
        words = self._words
        self.setWindowTitle(words("plan.people.title"))
        self.typed, self.list, self.about = QLineEdit(), QListWidget(), QLabel(words("plan.people.reading"))
        self.typed.setPlaceholderText(words("plan.people.find"))
        for widget, key in ((self.typed, "plan.people.find"), (self.list, "plan.people.title")):
            widget.setAccessibleName(words(key))
            widget.setToolTip(words(f"{key}_about"))
        self.typed.textChanged.connect(self._fill)
        self.typed.returnPressed.connect(lambda: self._choose(self.list.item(max(0, self.list.currentRow()))))
        self.list.itemActivated.connect(self._choose)
        self.about.setObjectName("quiet")
        self.about.setWordWrap(True)
        column = QVBoxLayout(self)
        for each in (self.typed, self.about, self.list):
            column.addWidget(each)
        self.resize(560, 420)

    def _take(self, people: tuple[KnownPerson, ...]) -> None:
        self._people = people
        self._fill()

    def _fill(self) -> None:
        self.list.clear()
        for known in matching_people(self._people, self.typed.text())[:MOST]:
            title, about = person_lines(known, self._words, self._actions)
            item = QListWidgetItem(f"{title}\n{about}")
            item.setData(Qt.ItemDataRole.UserRole, known)
            item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{title}, {about}")
            item.setToolTip(about)
            self.list.addItem(item)
        self.list.setCurrentRow(0 if self.list.count() else -1)
        key = "plan.people.none_match" if self._people else "plan.people.none"
        self.about.setText(self._words(key, folder=self._folder, typed=self.typed.text().strip()))
        self.about.setVisible(not self.list.count())

    def _choose(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.chosen.emit(item.data(Qt.ItemDataRole.UserRole))
            self.accept()
