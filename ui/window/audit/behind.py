"""The curves behind a number of Audit: trials read again from the archive, over one another, one of them strong."""

from __future__ import annotations

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QKeySequence, QShortcut
from PyQt6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from acquire.values.units import ForceUnit
from ui.model.audit.audit import Behind, BehindRead
from ui.model.audit.text import behind_gone, behind_title, trial_line
from ui.model.review.marks import curve_of
from ui.model.theme import Theme
from ui.window.review.curves import CurvesView, Overlaid
from ui.words.words import Words

BEFORE, NEXT = "PgUp", "PgDown"


class BehindView(QWidget):
    """Curves with what they have in common above them, and buttons to go from one to the next."""

    def __init__(self, words: Words, theme: Theme, unit: ForceUnit) -> None:
        super().__init__()
        self._words, self._unit = words, unit
        self._read: BehindRead | None = None
        self._at = 0
        self._title, self._trial, self._gone = QLabel(), QLabel(), QLabel()
        self._title.setObjectName("heading")
        self._trial.setObjectName("quiet")
        self._gone.setObjectName("bad")
        for label in (self._title, self._trial, self._gone):
            label.setWordWrap(True)
        self.curves = CurvesView(words, theme, unit)
        self._buttons = [self._button("before", BEFORE, -1), self._button("next", NEXT, 1)]
        said = QVBoxLayout()
        said.setSpacing(0)
        for label in (self._title, self._trial, self._gone):
            said.addWidget(label)
        head = QHBoxLayout()
        head.addLayout(said, 1)
        for button in self._buttons:
            head.addWidget(button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addLayout(head)
        column.addWidget(self.curves, 1)
        self.clear()

    @property
    def at(self) -> int:
        """Which trial is strong."""
        return self._at

    @property
    def read(self) -> BehindRead | None:
        """What is shown; None while there is nothing."""
        return self._read

    def clear(self) -> None:
        """Show nothing, and say how to get at something."""
        self._show(None, self._words("audit.behind.nothing"))

    def wait(self) -> None:
        """Say that the trials are being read."""
        self._show(None, self._words("audit.reading"))

    def show_read(self, code: str, behind: Behind, read: BehindRead) -> None:
        """Show the trials that could be read, and say which could not."""
        self._show(read, behind_title(code, behind, self._words, self._unit))

    def step(self, by: int) -> None:
        """Look at another one, and round."""
        if self._read is not None and self._read.trials:
            self._at = (self._at + by) % len(self._read.trials)
            self._show_trial()

    def set_font_size(self, pixels: int) -> None:
        """Set the font size."""
        self.curves.set_font_size(pixels)

    def _show(self, read: BehindRead | None, title: str) -> None:
        self._read, self._at = read, 0
        self._title.setText(title)
        self._gone.setText(behind_gone(read, self._words) if read else "")
        self._gone.setVisible(bool(self._gone.text()))
        there = read is not None and bool(read.trials)
        self.curves.setVisible(there)
        for each in (self._trial, *self._buttons):
            each.setVisible(there)
        self.setFocusProxy(self.curves if there else None)
        self._show_trial()

    def _show_trial(self) -> None:
        trials = self._read.trials if self._read else ()
        if self._read is None or not trials:
            self.curves.show_curves(None)
            return
        self._trial.setText(trial_line(self._read, self._at, self._words))
        others = [
            Overlaid(name=str(number + 1), curve=curve_of(trial.judged), dashed=False)
            for number, trial in enumerate(trials)
            if number != self._at
        ]
        self.curves.show_curves(curve_of(trials[self._at].judged), others)

    def _button(self, name: str, keys: str, by: int) -> QPushButton:
        button = QPushButton(self._words(f"audit.behind.{name}"))
        tip = self._words(f"audit.behind.{name}_tip", keys=keys)
        button.setToolTip(tip)
        button.setAccessibleDescription(tip)
        button.clicked.connect(lambda: self.step(by))
        keyed = QShortcut(QKeySequence(keys), self)
        keyed.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)  # tables have a use of their own for them
        keyed.activated.connect(lambda: self.step(by))
        return button
