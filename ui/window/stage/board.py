"""What is seen of Test, without a session: side, cue and number above, card and trace, and the rows of trials.

Cue and number are as high as a capital letter must be to be read from three metres (`CAP_SHARE`), wherever they fit;
everything else takes what remains.
"""

from __future__ import annotations

from PyQt6.QtWidgets import QFrame, QGridLayout, QProgressBar, QVBoxLayout, QWidget

from acquire.values.units import ForceUnit
from ui.model.theme import Theme
from ui.window.stage.card import ActionCard
from ui.window.stage.side_panel import SidePanel
from ui.window.stage.trace_view import TraceView
from ui.window.stage.trials_row import TrialsRow
from ui.window.widgets.big_text import BigText
from ui.window.widgets.pieces import panel
from ui.words.words import Words

CAP_SHARE = 0.145
"""Capitals of cue and number are this share of the window's height: 25 mm on a full screen of 14 inches, 16 to 9."""

UPPER_SHARE = 0.31
"""The upper panels are this share of the window's height."""
BELOW_SHARE = 0.032
SIDE_SHARE, ACTION_SHARE = 0.085, 0.032
GAP = 12


class CuePanel(QWidget):
    """The cue in the largest letters, how far hold or rest are, and one line that says more."""

    def __init__(self, words: Words, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self.big = BigText(theme.cue, name=words("stage.cue_name"))
        self.below = BigText(theme.text, bold=False)
        self.bar = QProgressBar()
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedHeight(12)
        self.bar.setAccessibleName(words("stage.bar"))
        self._column = column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.big, 66)
        column.addWidget(self.bar)
        column.addWidget(self.below, 27)

    def show_cue(self, big: str, below: str, colour: str, fraction: float) -> None:
        """Show a cue or a verdict; `colour` is the name of one of the theme."""
        self.big.show_text(big, getattr(self._theme, colour))
        self.below.show_text(below)
        # a cue of several words may need two lines; where nothing stands below, it has the whole panel
        with_below = bool(below) or fraction > 0.0 or " " not in big
        if with_below == self.bar.isHidden():
            for part in (self.below, self.bar):
                part.setVisible(with_below)
            self._column.activate()
        # the bar paints itself at once, and all else that waits for it: it is let do so with the next frame
        self.bar.setUpdatesEnabled(False)
        self.bar.setValue(int(1000 * fraction))
        self.bar.setUpdatesEnabled(True)

    def fit_window(self, height: int) -> None:
        """Scale to a window of this height."""
        self.big.set_cap(CAP_SHARE * height)
        self.below.set_cap(BELOW_SHARE * height)


class NumberPanel(QWidget):
    """The force, and below it the unit."""

    def __init__(self, words: Words, theme: Theme) -> None:
        super().__init__()
        self.number = BigText(theme.text, name=words("test.force_name"), most_lines=1)
        self.unit = BigText(theme.quiet, most_lines=1, bold=False)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.number, 78)
        column.addWidget(self.unit, 22)

    def show_force(self, number: str, unit: str, *, heard: str) -> None:
        """Show a force; `heard` is what a screen reader says of it."""
        self.number.show_text(number, heard=heard)
        self.unit.show_text(unit)

    def fit_window(self, height: int) -> None:
        """Scale to a window of this height."""
        self.number.set_cap(CAP_SHARE * height)
        self.unit.set_cap(0.024 * height)


class Board(QWidget):
    """All of Test but the status line."""

    def __init__(self, words: Words, theme: Theme, unit: ForceUnit) -> None:
        super().__init__()
        self.side = SidePanel(theme)
        self.cue, self.number = CuePanel(words, theme), NumberPanel(words, theme)
        self.card, self.trace = ActionCard(words, theme), TraceView(words, theme, unit)
        self.trials = TrialsRow(theme)
        self._upper: list[QWidget] = [self.side, panel(self.cue, wide=True), panel(self.number, wide=True)]
        self._lower: list[QFrame] = [panel(self.card, wide=True), panel(self.trace, wide=True)]
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addLayout(self._row(self._upper, (20, 54, 26)))
        column.addLayout(self._row(self._lower, (33, 67)), 1)
        column.addWidget(self.trials)

    @staticmethod
    def _row(widgets: list[QWidget] | list[QFrame], shares: tuple[int, ...]) -> QGridLayout:
        """Lay widgets side by side in fixed shares, whatever they hold: a longer text moves nothing."""
        grid = QGridLayout()
        grid.setSpacing(GAP)
        for at, (widget, share) in enumerate(zip(widgets, shares, strict=True)):
            grid.addWidget(widget, 0, at)
            grid.setColumnStretch(at, share)
            widget.setMinimumWidth(1)
        return grid

    def fit_window(self, height: int) -> None:
        """Scale to a window of this height."""
        for part in self._upper:
            part.setFixedHeight(round(UPPER_SHARE * height))
        self.side.set_caps(SIDE_SHARE * height, ACTION_SHARE * height)
        for part in (self.cue, self.number, self.trials):
            part.fit_window(height)
