"""The trials of a set side by side in Test: each one's force and verdict, and which is next."""

from __future__ import annotations

from PyQt6.QtGui import QColor
from PyQt6.QtWidgets import QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from ui.model.stage.text import TestText, TrialText
from ui.model.theme import Theme
from ui.session.battery_progress import Result
from ui.window.widgets.pieces import panel, set_font_size

SHOWN = 5
LEAST = 3
"""So many boxes are there from the first."""


class TrialsRow(QWidget):
    """Boxes of trials; the last ones, where there is no room for all."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(14)
        self._theme = theme
        self._boxes = [TrialBox() for _ in range(SHOWN)]
        self._frames = [panel(box, wide=True) for box in self._boxes]
        for frame in self._frames:
            row.addWidget(frame, 1)

    def show_trials(self, results: tuple[Result, ...], text: TestText, *, done: bool) -> None:
        """Show the trials of a set, and, unless it is done, which is next."""
        count = len(results) if done else max(LEAST, len(results) + 1)
        first = max(0, count - SHOWN)
        for place, (frame, box) in enumerate(zip(self._frames, self._boxes, strict=True), start=first):
            frame.setVisible(place < count)
            trial = text.trial(place, results)
            box.show_trial(trial, getattr(self._theme, trial.colour))

    def fit_window(self, height: int) -> None:
        """Scale the fonts to a window of this height."""
        for box in self._boxes:
            box.fit_window(height)

    @property
    def titles(self) -> tuple[str, ...]:
        """Of the trials that are shown."""
        shown = zip(self._frames, self._boxes, strict=True)
        return tuple(box.title.text() for frame, box in shown if frame.isVisible())


class TrialBox(QWidget):
    """One trial: its number, its force, its verdict, and a strip of colour."""

    def __init__(self) -> None:
        super().__init__()
        self.title, self._force, self._verdict, self._edge = QLabel(), QLabel(), QLabel(), Edge()
        self.title.setObjectName("quiet")
        self._verdict.setWordWrap(True)
        column = QVBoxLayout()
        column.setSpacing(2)
        for label in (self.title, self._force, self._verdict):
            column.addWidget(label)
        beside = QHBoxLayout(self)
        beside.setContentsMargins(0, 0, 0, 0)
        beside.setSpacing(14)
        beside.addWidget(self._edge)
        beside.addLayout(column, 1)

    def show_trial(self, trial: TrialText, colour: str) -> None:
        """Show a trial in words, beside its colour."""
        self.title.setText(trial.title)
        self._force.setText(trial.force)
        self._verdict.setText(trial.verdict)
        self._edge.show_colour(colour)

    def fit_window(self, height: int) -> None:
        """Scale the fonts to a window of this height."""
        set_font_size(self.title, 0.020 * height)
        set_font_size(self._force, 0.036 * height, bold=True)
        set_font_size(self._verdict, 0.020 * height)


class Edge(QFrame):
    """A strip of colour beside a trial; what it means stands beside it in words."""

    def __init__(self) -> None:
        super().__init__()
        self.setFixedWidth(6)
        self.setAutoFillBackground(True)
        self._colour = ""

    def show_colour(self, colour: str) -> None:
        """Take another colour; a style sheet here would undo the letters' sizes."""
        if colour == self._colour:  # asked each frame, and a palette is dear
            return
        self._colour = colour
        palette = self.palette()
        palette.setColor(self.backgroundRole(), QColor(colour))
        self.setPalette(palette)
