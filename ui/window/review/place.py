"""Review: the trials of a stored file, their curves over one another, and what each came to."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from PyQt6.QtCore import Qt, QTimer
from PyQt6.QtGui import QKeyEvent, QResizeEvent
from PyQt6.QtWidgets import QFrame, QLabel, QVBoxLayout, QWidget

from acquire.errors import AcquireError
from acquire.values.units import ForceUnit
from analysis.errors import AnalysisError
from ui.model.review.marks import curve_of
from ui.model.review.review import Opened, RateNeededError, ReviewModel
from ui.model.review.sets import set_card
from ui.model.review.text import curves_heard, details, rows
from ui.model.theme import Theme
from ui.papers.report.from_review import report_of
from ui.papers.report.write import places_of
from ui.session.store import SessionStore
from ui.window.review.curves import CurvesView, Overlaid
from ui.window.review.details import DetailsView
from ui.window.review.head import OPEN, ReviewHead
from ui.window.review.last_times import LastTimes
from ui.window.review.sessions import SessionsPane
from ui.window.review.set_view import SetView
from ui.window.review.table import TrialsTable
from ui.window.widgets.ask import DecisionDialog, PickFile, ask_rate, pick_file
from ui.window.widgets.panels import font_size, grow
from ui.window.widgets.pieces import button_of, panel
from ui.window.widgets.replacing import may_replace
from ui.window.widgets.splitter import Splitter
from ui.words.local_time import local_now
from ui.words.words import Words

WITHOUT_TRIALS = 42, 58
"""Shares of the list of sessions and of what is beside it while no trials are shown."""
ROOMY_PX = 1700
"""In a place so wide the list of sessions stays beside the trials."""


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
    folder : callable
        Returns the folder where sessions were written last.
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
        folder: Callable[[], Path] = Path.cwd,
    ) -> None:
        super().__init__()
        self._words, self._theme, self._unit = words, theme, unit
        self.model = model or ReviewModel()
        self._now, self._pick, self._rate, self._folder = now, pick, rate, folder
        self._examiner = ""
        self._shared = False
        """Whether each pane has had its share; from then on the user pulls."""
        self._made_way_for: Opened | None = None
        """The file that was opened last: where there is little room, the list of sessions made way for it."""
        self._last = LastTimes(self)
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

    def end(self) -> None:
        """Wait for what is read in the background."""
        self._sessions.end()
        self._last.end()

    @property
    def curves(self) -> CurvesView:
        """The curves that are shown."""
        return self._curves

    @property
    def busy(self) -> bool:
        """Whether sessions are being read."""
        return self._sessions.busy or self._last.busy

    def judge_by(self, name_or_path: str) -> None:
        """Judge every trial by another protocol, or say in the window why that cannot be."""
        try:
            self.model.judge_by(name_or_path)
        except AnalysisError as error:
            self._head.complain(str(error))
            return
        self._show_all()

    def _judge_as_recorded(self) -> None:
        self.model.judge_as_recorded()
        self._show_all()

    def score_by(self, name_or_path: str) -> None:
        """Score the report by other settings, or say in the window why that cannot be."""
        try:
            self.model.score_by(name_or_path)
        except AnalysisError as error:
            self._head.complain(str(error))
            return
        self._show_set()
        self._head.tell(self._words("review.scored", name=self.model.settings.name, hash=self.model.settings.hash))

    # what the user does

    def _open_listed(self, path: Path) -> None:
        """Show a session of the list."""
        self.open_path(path)
        if self.model.trials:
            self._table.setFocus()

    def _set_sessions(self, shown: bool) -> None:
        self._sessions_panel.setVisible(shown)
        self._head.show_sessions(shown)

    def ask_sessions(self, shown: bool) -> None:
        """Show the list and go to it, or hide it."""
        self._set_sessions(shown)
        if shown:
            self._sessions.typed.setFocus()

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
        opened = self.model.opened
        if not trials:
            self._whole.share(*WITHOUT_TRIALS)
        if trials and opened is not self._made_way_for:
            self._made_way_for = opened
            self._sessions.renew()  # what the person had before may lie there, listed or not
            self._set_sessions(self.width() >= ROOMY_PX)
            self._whole.setSizes([self._sessions_panel.minimumWidth(), self.width()])
        self._sessions.mark(None if opened is None else opened.path)
        self._show_trial()

    def _show_trial(self) -> None:
        self._head.show_trial()
        self._show_set()
        self._details.show_details(details(self.model, self._words, self._unit))
        self._show_curves()

    def _show_set(self) -> None:
        """Show the set of the trial that is looked at, with last time's values as soon as they are read."""
        index, summary = self.model.selected, self.model.summary
        card = None
        if index is not None and summary is not None:
            sessions, model = self._sessions.sessions, self.model
            last = self._last.of(summary.context, sessions, model.protocol, model.settings)
            card = set_card(summary, self.model.trials[index].trial.context, last, self._words, self._unit)
        self._set.show_card(card)
        self._set_panel.setVisible(card is not None)
        self._fit_set()

    def _fit_set(self) -> None:
        """Give the set the height of its lines, as far as there is room, until the user pulls the bar."""
        if self._set_pulled or not self._set.isVisible():
            return
        wanted = self._set.wanted_height() + 20
        self._right.setSizes([wanted, max(0, self._right.height() - wanted)])

    def _show_curves(self) -> None:
        index, trials = self.model.selected, self.model.trials
        self._curves.setAccessibleDescription(curves_heard(self.model, self._words, self._unit))
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
        self._set = SetView(self._words, self._theme)
        self._set_panel = panel(self._set)
        self._sessions = SessionsPane(self._words, self._folder)
        self._sessions_panel = panel(self._sessions)
        self._empty, self._body = self._nothing(), self._splitter(Qt.Orientation.Vertical)
        lower, right = self._splitter(Qt.Orientation.Horizontal), self._splitter(Qt.Orientation.Vertical)
        right.put(self._set_panel, 40)
        right.put(panel(self._details), 60)
        lower.put(panel(self._curves), 64)
        lower.put(right, 36)
        self._body.put(panel(self._table), 34)
        self._body.put(lower, 66)
        self._right, self._set_pulled = right, False
        right.splitterMoved.connect(self._pulled)
        self._splitters = ((self._body, (36, 64)), (lower, (64, 36)))
        shown = QWidget()
        inside = QVBoxLayout(shown)
        inside.setContentsMargins(0, 0, 0, 0)
        inside.addWidget(self._empty, 1)
        inside.addWidget(self._body, 1)
        self._whole = self._splitter(Qt.Orientation.Horizontal)
        self._whole.put(self._sessions_panel, 0)
        self._whole.put(shown, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 8, 18, 14)
        column.setSpacing(8)
        column.addWidget(self._whole, 1)
        # last: the place gives its focus to the table, and Tab would not reach what comes before it
        column.insertWidget(0, self._head)

    def _splitter(self, way: Qt.Orientation) -> Splitter:
        return Splitter(way, self._theme, self._words("review.splitter"))

    def _pulled(self) -> None:
        self._set_pulled = True

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
        self._head.back_asked.connect(self._judge_as_recorded)
        self._head.sessions_set.connect(self.ask_sessions)
        self._sessions.opened.connect(self._open_listed)
        self._sessions.listed.connect(self._show_set)
        self._last.read.connect(self._show_set)
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
        self._sessions_panel.setMinimumWidth(15 * pixels)
        if not self._shared:
            self._shared = True
            for splitter, shares in self._splitters:
                splitter.share(*shares)
            if not self.model.trials:
                self._whole.share(*WITHOUT_TRIALS)
        QTimer.singleShot(0, self._fit_set)
