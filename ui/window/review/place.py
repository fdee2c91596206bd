"""Review: the trials of a stored file, their curves over one another, and what each came to."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QKeyEvent, QResizeEvent
from PyQt6.QtWidgets import QFrame, QGridLayout, QLabel, QVBoxLayout, QWidget

from acquire.errors import AcquireError
from acquire.values.units import ForceUnit
from analysis.errors import AnalysisError
from ui.model.review.marks import curve_of
from ui.model.review.review import RateNeededError, ReviewModel
from ui.model.review.text import details, rows
from ui.model.theme import Theme
from ui.papers.report.from_review import report_of
from ui.papers.report.write import places_of
from ui.session.store import SessionStore
from ui.window.review.curves import CurvesView, Overlaid
from ui.window.review.details import DetailsView
from ui.window.review.head import OPEN, ReviewHead
from ui.window.review.table import TrialsTable
from ui.window.widgets.ask import DecisionDialog, PickFile, ask_rate, pick_file
from ui.window.widgets.panels import font_size, grow
from ui.window.widgets.pieces import button_of, panel
from ui.window.widgets.replacing import may_replace
from ui.words.local_time import local_now
from ui.words.words import Words


class ReviewPlace(QWidget):
    """The place where stored trials are looked at.

    Parameters
    ----------
    words, theme, unit
        Language, colours and unit of force.
    model : ReviewModel, optional
        What is shown; a new one, with nothing open, when left out.
    now : callable
        The time, with its zone.
    pick : callable
        How the user picks a file: parent, title and kinds in, path or None out.
    rate : callable
        How the user gives a sample rate: parent, words and path in, hertz or None out.
    """

    def __init__(
        self,
        words: Words,
        theme: Theme,
        unit: ForceUnit,
        *,
        model: ReviewModel | None = None,
        now: Callable[[], datetime] = local_now,
        pick: PickFile = pick_file,
        rate: Callable[[QWidget, Words, Path], float | None] = ask_rate,
    ) -> None:
        super().__init__()
        self._words, self._theme, self._unit = words, theme, unit
        self.model = model or ReviewModel()
        self._now, self._pick, self._rate = now, pick, rate
        self._examiner = ""
        self._build()
        self._connect()
        self._show_all()

    # what others call

    def press(self) -> None:
        """Look at the next trial."""
        self.model.next()
        self._table.show_selected(self.model.selected)
        self._show_trial()

    def open_path(self, path: Path) -> None:
        """Show a session file or a trace, or say in the window why it cannot be read."""
        try:
            self.model.open(path)
        except RateNeededError as error:
            self._open_with_rate(error)
            return
        except AcquireError as error:
            self._head.complain(str(error))
            return
        self._show_all()
        if self.isVisible():
            self.setFocus()

    def show_session(self, path: Path, store: SessionStore | None = None) -> None:
        """Show a session; one that is still being recorded with its store, so that decisions are not lost."""
        if store is None:
            self.open_path(path)
            return
        self.model.follow(store)
        self._show_all()

    def judge_by(self, name_or_path: str) -> None:
        """Judge every trial by another protocol, or say in the window why that cannot be."""
        try:
            self.model.judge_by(name_or_path)
        except AnalysisError as error:
            self._head.complain(str(error))
            return
        self._show_all()

    def score_by(self, name_or_path: str) -> None:
        """Score the report by other settings, or say in the window why that cannot be."""
        try:
            self.model.score_by(name_or_path)
        except AnalysisError as error:
            self._head.complain(str(error))
            return
        self._head.tell(self._words("review.scored", name=self.model.settings.name, hash=self.model.settings.hash))

    # what the user does

    def _open(self) -> None:
        path = self._pick(self, self._words("review.open_title"), self._words("review.files"))
        if path is not None:
            self.open_path(path)

    def _open_with_rate(self, needed: RateNeededError) -> None:
        rate = self._rate(self, self._words, needed.path)
        if rate is None:
            self._head.complain(str(needed))
            return
        try:
            self.model.open(needed.path, rate_hz=rate)
        except AcquireError as error:
            self._head.complain(str(error))
            return
        self._show_all()

    def _ask_decision(self) -> None:
        """Ask why the selected trial is set aside, or taken back."""
        index = self.model.selected
        if index is None or not self.model.can_decide:
            return
        kind = "take_back" if self.model.is_aside(index) else "aside"
        dialog = DecisionDialog(
            self._words,
            title=self._words(f"review.ask.{kind}", number=index + 1),
            examiner=self._examiner or self.model.examiner,
            parent=self,
        )
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.accepted.connect(lambda: self._decide(index, dialog.reason.text(), dialog.by.text()))
        grow(dialog, self.font().pixelSize())
        dialog.open()

    def _decide(self, index: int, reason: str, by: str) -> None:
        decide = self.model.take_back if self.model.is_aside(index) else self.model.set_aside
        try:
            decide(index, reason, by, self._now())
        except AcquireError as error:
            self._head.complain(str(error))
            return
        self._examiner = by.strip()
        self._show_all()

    def _make_report(self) -> None:
        """Write the report and say where it is; one that is there is replaced only where that is confirmed."""
        opened = self.model.opened
        if opened is not None and not may_replace(places_of(opened.path, None), self._words, self):
            return
        self.setCursor(Qt.CursorShape.WaitCursor)
        try:
            places = report_of(self.model, self._words, self._unit)
        except (AcquireError, AnalysisError) as error:
            self._head.complain(str(error))
            return
        finally:
            self.unsetCursor()
        self._head.tell(self._words("review.report_is", pdf=places.pdf, page=places.page.name))

    def _choose(self, index: int) -> None:
        self.model.select(index)
        self._show_trial()

    def _keep(self, index: int, kept: bool) -> None:
        self.model.keep(index, kept)
        self._show_curves()

    def _keep_selected(self) -> None:
        index = self.model.selected
        if index is not None:
            self.model.keep(index, index not in self.model.kept)
            self._show_all()

    def _set_alike(self, on: bool) -> None:
        self.model.alike = on
        self._show_curves()

    # what is shown

    def _show_all(self) -> None:
        trials = self.model.trials
        self._head.show_file()
        self._hint.setText(self._words("review.no_trials" if self.model.opened else "review.nothing_hint"))
        self._empty.setVisible(not trials)
        self._body.setVisible(bool(trials))
        self.setFocusProxy(self._table if trials else self._first_open)
        self._table.show_rows(
            rows(self.model, self._words, self._unit), kept=self.model.kept, selected=self.model.selected
        )
        self._show_trial()

    def _show_trial(self) -> None:
        self._head.show_trial()
        self._details.show_details(details(self.model, self._words, self._unit))
        self._show_curves()

    def _show_curves(self) -> None:
        index, trials = self.model.selected, self.model.trials
        self._curves.show_curves(
            None if index is None else curve_of(trials[index]),
            [
                Overlaid(name=str(i + 1), curve=curve_of(trials[i]), dashed=self.model.is_aside(i))
                for i in self.model.overlaid
            ],
        )

    # layout

    def _build(self) -> None:
        self._table = TrialsTable(self._words, self._theme, self._unit)
        self._curves = CurvesView(self._words, self._theme, self._unit)
        self._details = DetailsView(self._words, self._theme)
        self._head = ReviewHead(self._words, self.model, pick=self._pick)
        self._empty, self._body = self._nothing(), QWidget()
        grid = QGridLayout(self._body)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setSpacing(12)
        grid.addWidget(panel(self._table), 0, 0, 1, 2)
        grid.addWidget(panel(self._curves), 1, 0)
        grid.addWidget(panel(self._details), 1, 1)
        grid.setRowStretch(0, 36)
        grid.setRowStretch(1, 64)
        grid.setColumnStretch(0, 64)
        grid.setColumnStretch(1, 36)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 8, 18, 14)
        column.setSpacing(8)
        column.addWidget(self._empty, 1)
        column.addWidget(self._body, 1)
        # last: the place gives its focus to the table, and Tab would not reach what comes before it
        column.insertWidget(0, self._head)

    def _nothing(self) -> QFrame:
        """Return what is shown while there are no trials: why, and the way to some."""
        self._hint = QLabel()
        self._hint.setObjectName("quiet")
        self._first_open = button_of(self._words, "review.open", OPEN)
        self._first_open.setObjectName("main")
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setSpacing(14)
        column.addStretch(2)
        for each in (self._hint, self._first_open):
            column.addWidget(each, 0, Qt.AlignmentFlag.AlignHCenter)
        column.addStretch(3)
        return panel(inside)

    def _connect(self) -> None:
        self._table.chosen.connect(self._choose)
        self._table.kept.connect(self._keep)
        self._table.pressed.connect(self.press)
        self._first_open.clicked.connect(self._open)
        self._head.open_asked.connect(self._open)
        self._head.protocol_chosen.connect(self.judge_by)
        self._head.settings_chosen.connect(self.score_by)
        self._head.alike_set.connect(self._set_alike)
        self._head.keep_asked.connect(self._keep_selected)
        self._head.decision_asked.connect(self._ask_decision)
        self._head.report_asked.connect(self._make_report)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Let the space bar go to the next trial from wherever nothing else takes it."""
        if event is not None and event.key() == Qt.Key.Key_Space:
            self.press()
            return
        super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Scale the font with the window."""
        super().resizeEvent(event)
        pixels = font_size((self.window() or self).height())
        grow(self, pixels)
        self._curves.set_font_size(pixels)
