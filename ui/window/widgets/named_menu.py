"""A menu of what comes with the program by name, such as protocols, and a file."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from PyQt6.QtCore import pyqtSignal
from PyQt6.QtWidgets import QMenu, QWidget

from ui.window.widgets.ask import PickFile, pick_file
from ui.words.words import Words


class NamedMenu(QMenu):
    """Names, the one in use ticked; `chosen` gives another by its name, or by its path.

    Parameters
    ----------
    words : Words
        The language.
    parent : QWidget
        What the menu belongs to.
    asked : {"judge", "score"}
        What is chosen: a protocol to judge by, or settings to score by.
    names : tuple of str
        What comes with the program.
    in_use : callable
        Returns the name that is in use now.
    pick : callable
        How the user picks a file.
    """

    chosen = pyqtSignal(str)

    def __init__(
        self,
        words: Words,
        parent: QWidget,
        *,
        asked: Literal["judge", "score"],
        names: tuple[str, ...],
        in_use: Callable[[], str],
        pick: PickFile = pick_file,
    ) -> None:
        super().__init__(parent)
        self._words, self._in_use, self._pick, self._place = words, in_use, pick, parent
        self._asked, self._names = asked, names
        self.aboutToShow.connect(self._fill)

    def pick_one(self) -> None:
        """Ask for a file."""
        title, kinds = (self._words(f"review.{self._asked}_{part}") for part in ("title", "kinds"))
        path = self._pick(self._place, title, kinds)
        if path is not None:
            self.chosen.emit(str(path))

    def _fill(self) -> None:
        self.clear()
        for name in self._names:
            action = self.addAction(name)
            if action is not None:
                action.setCheckable(True)
                action.setChecked(name == self._in_use())
                action.triggered.connect(lambda _, name=name: self.chosen.emit(name))
        self.addSeparator()
        self.addAction(self._words(f"review.{self._asked}_file"), self.pick_one)
