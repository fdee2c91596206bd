"""What is seen of a session: the board or the page at the end, the status line, and the person's screen."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QHBoxLayout, QSizePolicy, QStackedWidget, QVBoxLayout, QWidget

from acquire.values.records import TrialContext
from acquire.values.units import ForceUnit
from analysis.battery.actions import Action
from analysis.results.settings import ResultSettings
from analysis.stored.results import summarise_session
from ui.model.stage.done_text import done_rows
from ui.model.stage.hint import URGENT
from ui.model.stage.rows_text import rows_text
from ui.model.stage.text import TestText
from ui.model.stage.verdict_text import Banner
from ui.model.theme import Theme
from ui.session.cues import Cue
from ui.session.engine import View
from ui.session.live import LiveSession
from ui.window.stage.announcer import Announcer
from ui.window.stage.board import Board, CuePanel
from ui.window.stage.done_page import DonePage
from ui.window.stage.effort_curve import EffortCurve
from ui.window.stage.person_screen import PersonScreen
from ui.window.widgets.big_text import BigText
from ui.words.words import Words

UNITS = {"N": "test.newtons", "kgf": "test.kgf", "lbf": "test.lbf"}
FOOT_SHARE, FOOT_CAP_SHARE = 0.042, 0.0122
"""Of the window's height: the line at the foot, which has room for two, and its capitals."""
HEARD_S = 1.0
"""A screen reader is told the force so often at most."""


class SessionView(QWidget):
    """Shows where a session stands; it changes nothing of it."""

    def __init__(
        self, words: Words, theme: Theme, unit: ForceUnit, announcer: Announcer, clock: Callable[[], float]
    ) -> None:
        super().__init__()
        self._words, self._theme, self._unit = words, theme, unit
        self.announcer, self._clock = announcer, clock
        self.text = TestText(words=words, unit=unit, actions={})
        self.board, self.done = Board(words, theme, unit), DonePage(words, theme)
        self.curve = EffortCurve(self.board.trace)
        self.person: PersonScreen | None = None
        """The second screen, for the person who pushes; None while it is shut."""
        self.status, self._keys = BigText(theme.quiet, bold=False), BigText(theme.quiet, bold=False)
        self._keys.show_text(words("test.keys"))
        self._settings: ResultSettings | None = None
        self._shown_item: object = None
        self._heard_at = 0.0
        self._build()

    def begin(self, actions: dict[str, Action], settings: ResultSettings | None) -> None:
        """Make ready for a session with these actions, whose results are scored by these settings."""
        self.text, self._settings = replace(self.text, actions=actions), settings
        self.board.trace.clear()
        self._shown_item = None

    def show_session(self, session: LiveSession, troubles: Iterable[str]) -> None:
        """Show where a session stands, and what is in trouble."""
        view, banner = session.engine.view(), self.announcer.banner(session.engine.cue)
        limb = view.last if banner is not None and view.last is not None else view.item.context
        if limb is not self._shown_item:
            self._show_limb(limb)
        self._show_done(session, view, done=banner is None and session.complete)
        others = [] if self.person is None else [self.person.trace]
        hint = self.curve.show(session, view, others)
        if hint is not None:
            self.announcer.see_hint(hint)
        below = " ".join(troubles) or self._below(session, view)
        for panel, line in self._cue_panels(below, self._hint() if view.cue in {Cue.BUILD, Cue.HOLD} else ""):
            self._show_cue(panel, view, banner, line)
        self._show_number(session, banner)
        planned = session.engine.protocol.set.trials
        done = view.cue is Cue.DONE
        self.board.trials.show_rows(rows_text(view.battery, limb, self.text, planned=planned, done=done))
        self.status.show_text(self.text.status(session, view, sound=self.announcer.sound_state))

    @property
    def heard(self) -> str:
        """The cue or the verdict, and which limb it is of, for those who do not see them."""
        cue = self.board.cue.big.text()
        return self._words("stage.now_heard", cue=cue, what=self.board.side.accessibleName()) if cue else ""

    @property
    def force_heard(self) -> str:
        """The force, a new one each second at most."""
        return self.board.number.number.accessibleName()

    def hide_number(self, hidden: bool) -> None:
        """Hide every force, in figures and on the trace's scale, from the person tested."""
        self.text = replace(self.text, hidden=hidden)
        self.board.trace.hide_scale(hidden)
        if self.person is not None:
            self.person.trace.hide_scale(hidden)

    def change_person_screen(self) -> None:
        """Open the second screen, or shut it."""
        if self.person is not None:
            self.shut_person_screen()
            return
        self.person = PersonScreen(self._words, self._theme, self._unit, self)
        self.person.trace.hide_scale(self.text.hidden)
        self.person.open_beside(self.window() or self)

    def shut_person_screen(self) -> None:
        """Shut the second screen where it is open."""
        if self.person is not None:
            self.person.close()
            self.person.deleteLater()
            self.person = None

    def fit_window(self, height: int) -> None:
        """Scale to a window of this height."""
        self.board.fit_window(height)
        self.done.fit_window(height)
        for text in (self.status, self._keys):
            text.set_cap(FOOT_CAP_SHARE * height)
            text.setFixedHeight(round(FOOT_SHARE * height))

    # limb, page at the end

    def _show_limb(self, context: TrialContext) -> None:
        """Show a limb: until the verdict is gone that of the trial, so that nobody takes it for the next one's."""
        self._shown_item = context
        action = self.text.actions.get(context.action or "")
        self.board.card.show_context(context, action)
        self.board.side.show_limb(
            context.side,
            word=self._words(f"test.{context.side}").upper() if context.side else "",
            action=self.text.action_name(context),
            method=self._words(f"test.{context.method}"),
        )

    def _show_done(self, session: LiveSession, view: View, *, done: bool) -> None:
        """Turn to the page of the results when the last trial is cut, and back when one is repeated."""
        if not done or self._stack.currentWidget() is self.done:
            if not done:
                self._stack.setCurrentWidget(self.board)
            return
        engine, protocol = session.engine, session.store.protocol
        items = [(item, engine.battery.state(item)) for item in engine.items]
        summary = summarise_session(session.store.session, protocol, settings=self._settings)
        rows = done_rows(items, summary, self.text, agreement_pct=protocol.set.agreement_pct)
        below = [self._words("stage.done_below", done=view.done, items=view.items)]
        below += [self._words("stage.left_out", count=view.left_out)] if view.left_out else []
        self._stack.setCurrentWidget(self.done)
        told = ", ".join([*below, self._words("stage.done_space")])
        self.done.show_rows(rows, title=self._words("cue.done"), below=told)

    # cue

    def _cue_panels(self, below: str, hinted: str) -> list[tuple[CuePanel, str]]:
        """Return the panels that show the cue, each with its line below; the person gets only what helps now."""
        return [(self.board.cue, below), *([] if self.person is None else [(self.person.cue, hinted)])]

    def _show_cue(self, panel: CuePanel, view: View, banner: Banner | None, below: str) -> None:
        if banner is None:
            panel.show_cue(self._cue_text(view), below, "cue", view.fraction)
        else:
            panel.show_cue(banner.word, banner.advice, "good" if banner.accepted else "warn", 0.0)

    def _cue_text(self, view: View) -> str:
        """Return the cue: while the person pushes, what helps now; in the rest, the seconds that are left of it."""
        hint = self.announcer.hint
        if view.cue in {Cue.BUILD, Cue.HOLD} and hint in URGENT:
            return self._words(f"hint.big.{hint}")
        cue = self._words(f"cue.{view.cue.value}")
        return f"{cue} {view.seconds:.0f}" if view.cue is Cue.REST and view.seconds >= 1.0 else cue

    def _below(self, session: LiveSession, view: View) -> str:
        """Return the line below the cue: what helps now while the person pushes, else what was and is next."""
        return self._hint() if view.cue in {Cue.BUILD, Cue.HOLD} else self.text.message(session, view)

    def _hint(self) -> str:
        return self._words(f"hint.{self.announcer.hint}") if self.announcer.hint else ""

    # force

    def _show_number(self, session: LiveSession, banner: Banner | None) -> None:
        of_trial = banner is not None and not banner.accepted
        number = self.text.force(self.announcer.banner_n if of_trial else session.force_now_n)
        unit = self._words(UNITS[self._unit.symbol])
        if of_trial:
            unit = self._words("stage.this_trial", unit=self._unit.symbol)
        heard = self._heard(number, unit)
        self.board.number.show_force(number, unit, heard=heard)
        if self.person is not None:
            self.person.number.show_force(number, unit, heard=heard)

    def _heard(self, number: str, unit: str) -> str:
        """Return the force for a screen reader, a new one each second at most."""
        now, number_view = self._clock(), self.board.number.number
        if now - self._heard_at < HEARD_S and number_view.text():
            return number_view.accessibleName()
        self._heard_at = now
        self.board.trace.setAccessibleDescription(self._trace_heard(number))
        shown = self._words("stage.force_heard", force=number, unit=unit)
        return f"{self._words('test.force_name')}: {self._words('stage.hidden') if self.text.hidden else shown}"

    def _trace_heard(self, number: str) -> str:
        """Return the curve in words."""
        highest = self.board.trace.highest_n
        if self.text.hidden or highest is None:
            return self._words("stage.hidden" if self.text.hidden else "stage.trace_none")
        most = f"{self.text.force(highest)} {self._unit.symbol}"
        return self._words("stage.trace_now", force=f"{number} {self._unit.symbol}", most=most)

    # layout

    def _build(self) -> None:
        self._stack = QStackedWidget()
        self._stack.addWidget(self.board)
        self._stack.addWidget(self.done)
        foot = QHBoxLayout()
        foot.setSpacing(24)
        where = Qt.AlignmentFlag
        for text, stretch, side in ((self.status, 9, where.AlignLeft), (self._keys, 11, where.AlignRight)):
            text.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
            text.align(side)
            foot.addWidget(text, stretch)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._stack, 1)
        layout.addLayout(foot)
