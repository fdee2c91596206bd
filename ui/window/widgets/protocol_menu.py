"""A menu of protocols to judge by: those that come along, and a file."""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import pyqtSignal
from PyQt6.QtWidgets import QMenu, QWidget

from analysis.trial.protocol import known_protocols
from ui.window.widgets.ask import PickFile, pick_file
from ui.words.words import Words


class ProtocolMenu(QMenu):
    """The protocols, the one in use ticked; `chosen` tells another by its name, or by its path.

    Parameters
    ----------
    words : Words
        The language.
    parent : QWidget
        What the menu belongs to.
    in_use : callable
        Returns the name of the protocol that is judged by now.
    pick : callable
        How the user picks a file.
    """

    chosen = pyqtSignal(str)

    def __init__(
        self,
        words: Words,
        parent: QWidget,
        *,
        in_use: Callable[[], str],
        pick: PickFile = pick_file,
    ) -> None:
        super().__init__(parent)
        self._words, self._in_use, self._pick, self._place = words, in_use, pick, parent
        self.aboutToShow.connect(self._fill)

    def pick_one(self) -> None:
        """Ask for a file."""
        path = self._pick(self._place, self._words("review.judge_title"), self._words("review.protocols"))
        if path is not None:
            self.chosen.emit(str(path))

    def _fill(self) -> None:
        self.clear()
        for name in known_protocols():
            action = self.addAction(name)
            if action is not None:
                action.setCheckable(True)
                action.setChecked(name == self._in_use())
                action.triggered.connect(lambda _, name=name: self.chosen.emit(name))
        self.addSeparator()
        self.addAction(self._words("review.judge_file"), self.pick_one)
