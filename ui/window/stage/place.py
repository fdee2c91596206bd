"""Test: one cue, one number, the trace and the trials, to be read from three metres."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

from PyQt6.QtCore import Qt, QTimer, pyqtSignal
from PyQt6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PyQt6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget, QVBoxLayout, QWidget

from acquire.errors import AcquireError
from acquire.stream.recorder import StreamUnfit
from acquire.values.records import SetAside, TrialContext
from acquire.values.units import ForceUnit
from analysis.battery.actions import Action
from analysis.results.settings import ResultSettings
from analysis.stored.results import summarise_session
from analysis.trial.judged_trial import JudgedTrial
from ui.model.stage.done_text import done_rows
from ui.model.stage.earlier import Ghost, earlier_trials
from ui.model.stage.hint import URGENT, HintWatch, hint
from ui.model.stage.rows_text import rows_text
from ui.model.stage.target import target_of
from ui.model.stage.text import ASKS, NOTHING, TestText
from ui.model.stage.trouble_text import trouble_sentence
from ui.model.stage.verdict_text import Banner, banner_of
from ui.model.theme import Theme
from ui.session.cues import ASKED, EFFORT, Cue
from ui.session.engine import View
from ui.session.live import (
    ContactNoticed,
    CueChanged,
    LiveSession,
    SessionEvent,
    Trouble,
    TroubleSource,
    Verdict,
)
from ui.session.store import PROGRAM
from ui.window.stage.board import Board
from ui.window.stage.done_page import DonePage
from ui.window.stage.person_screen import PersonScreen
from ui.window.stage.sound import Sound
from ui.window.stage.trace_view import EFFORT_SPAN, MINUTE_SPAN
from ui.window.widgets.ask import DecisionDialog, line_dialog
from ui.window.widgets.panels import grow
from ui.window.widgets.pieces import set_font_size, window_height
from ui.words.fault_text import fault_advice
from ui.words.local_time import local_now
from ui.words.unfit_text import unfit_sentence
from ui.words.words import Words

FRAME_MS = 12
"""A little faster than a 60 Hz screen, so that a sample waits less than a frame."""
STILL = {*ASKS, Cue.LOST}
"""In these the last trial stays on the screen, in the band it had."""
HALT, PAUSE, SKIP, DECIDE, UNDO, MINUTE = "Esc", "P", "Ctrl+N", "Del", "Ctrl+Z", "Ctrl+M"
NOTE, PERSON = "N", "F9"
NO_VERDICT = {*ASKED, Cue.HALTED, Cue.LOST, Cue.RECORD}
"""In these the cue is more urgent than the verdict of the last trial."""
UNITS = {"N": "test.newtons", "kgf": "test.kgf", "lbf": "test.lbf"}
VERDICT_S = 4.0
"""So long the verdict stands in the place of the cue, unless a key is pressed."""
HEARD_S = 1.0
"""A screen reader is told the force so often at most."""


class TestPlace(QWidget):
    """The place where a session is recorded.

    `finished` is emitted when the battery is done and its last trial is saved.
    """

    __test__ = False  # not a test, whatever its name
    finished = pyqtSignal()
    report_asked = pyqtSignal()
    next_asked = pyqtSignal()

    def __init__(
        self,
        words: Words,
        theme: Theme,
        unit: ForceUnit,
        sound: Sound,
        *,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__()
        self._clock = clock
        self._banner: Banner | None = None
        self._banner_n: float | None = None
        self._banner_until = self._heard_at = 0.0
        self._hints = HintWatch()
        self._ghosts: tuple[object, tuple[Ghost, ...]] = (None, ())
        self._words, self._theme, self._unit = words, theme, unit
        self._text = TestText(words=words, unit=unit, actions={})
        self._sound = sound
        self.session: LiveSession | None = None
        self._settings: ResultSettings | None = None
        self._shown_item: object = None
        self._person: PersonScreen | None = None
        self._build()
        self._timer = QTimer(self)
        self._timer.setInterval(FRAME_MS)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self.tick)

    # what the main window calls

    def begin(self, session: LiveSession, actions: dict[str, Action], settings: ResultSettings | None = None) -> None:
        """Show and drive a session that has begun; its results are scored by the settings given."""
        self.session, self._settings = session, settings
        self._text = replace(self._text, actions=actions)
        self._troubles.clear()
        self._banner = None
        self._board.trace.clear()
        self._shown_item = None
        self._empty.hide()
        self._stack.show()
        self._timer.start()
        self._sound.open()
        self._announce(session.engine.cue)

    def end(self) -> bool:
        """End the session; what was under way is saved.

        Where that fails, the session stays and says why, and saving is tried again; return whether it has ended.
        """
        if self.session is not None:
            try:
                self.session.close()
            except AcquireError as error:
                self._show_event(Trouble(error, TroubleSource.FILE))
                self.tick()
                return False
            self.session = None
        self._timer.stop()
        if self._person is not None:
            self.change_person_screen()
        self._stack.hide()
        self._empty.show()
        return True

    def be_silent(self) -> None:
        """End what makes the sound."""
        self._sound.close()

    def press(self) -> None:
        """Do the next sensible thing."""
        if self.session is None:
            return
        if self._banner_now() is not None:
            self._banner = None
            self.tick()
            return
        if self.session.complete:
            self.finished.emit()
            return
        self.session.press()
        self.tick()

    def halt(self) -> None:
        """End the trial under way at once, for pain or whatever else, or take the word to go back."""
        if self.session is not None:
            self.session.halt()
            self.tick()

    def pause(self) -> None:
        """Begin nothing new until the next press."""
        if self.session is not None:
            self.session.pause()
            self.tick()

    def undo(self) -> None:
        """Take back what was left out, set aside or ended last."""
        if self.session is not None:
            for event in self.session.undo(self.session.store.session.context.examiner or PROGRAM):
                self._show_event(event)
            self.tick()

    def skip(self) -> None:
        """Leave out what is tried now, and go on to the next."""
        if self.session is not None:
            for event in self.session.skip():
                self._show_event(event)
            self.tick()

    def ask_aside(self) -> None:
        """Ask why the last trial is set aside; no new one begins by itself until that is answered."""
        session = self.session
        index = None if session is None else session.to_set_aside
        if session is None or index is None:
            return
        dialog = DecisionDialog(
            self._words,
            title=self._aside_title(session, index),
            examiner=session.store.session.context.examiner or "",
            parent=self,
        )
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.accepted.connect(lambda: self._set_aside(session, index, dialog.reason.text(), dialog.by.text()))
        dialog.finished.connect(lambda _: self._keep_busy(session, busy=False))
        self._keep_busy(session, busy=True)
        grow(dialog, self.font().pixelSize())
        dialog.open()

    def _aside_title(self, session: LiveSession, index: int) -> str:
        """Return which trial would be set aside: action, side and force."""
        trial = session.store.session.trials[index]
        force_n = None if trial.verdict is None else trial.verdict["plateau_force_n"]
        force = self._text.force(force_n)
        shown = force if force == NOTHING else f"{force} {self._unit.symbol}"
        return self._words("stage.ask_aside", what=self._text.named(trial.context), force=shown)

    def repeat(self, context: TrialContext) -> None:
        """Try an action and side once more."""
        if self.session is not None:
            for event in self.session.repeat(context):
                self._show_event(event)
            self.tick()

    def tell(self, text: str) -> None:
        """Say something on the page of a battery that is done."""
        self._done.below.show_text(text)

    def _set_aside(self, session: LiveSession, index: int, reason: str, by: str) -> None:
        decision = SetAside(aside=True, reason=reason.strip(), by=by.strip(), at=local_now())
        for event in session.set_aside(index, decision):
            self._show_event(event)
        self.tick()

    def ask_note(self) -> None:
        """Ask for a note; it is kept with the trial under way, else with the last, and no new one begins meanwhile."""
        session = self.session
        if session is None:
            return
        dialog = line_dialog(self, title=self._words("test.note_title"), text=self._words("test.note_ask"))
        dialog.textValueSelected.connect(lambda text: self._note(session, text))
        dialog.finished.connect(lambda _: self._keep_busy(session, busy=False))
        self._keep_busy(session, busy=True)
        grow(dialog, self.font().pixelSize())
        dialog.open()

    def _note(self, session: LiveSession, text: str) -> None:
        if text.strip():
            for event in session.note(text.strip(), session.store.session.context.examiner or PROGRAM):
                self._show_event(event)

    @staticmethod
    def _keep_busy(session: LiveSession, *, busy: bool) -> None:
        session.busy = busy

    def change_span(self) -> None:
        """Show the last minute of the stream, or the effort again."""
        trace = self._board.trace
        trace.show_span(EFFORT_SPAN if trace.span is MINUTE_SPAN else MINUTE_SPAN)

    def hide_number(self, hidden: bool) -> None:
        """Hide every force, in figures and on the trace's scale, from the person tested."""
        self._text = replace(self._text, hidden=hidden)
        self._board.trace.hide_scale(hidden)
        if self._person is not None:
            self._person.trace.hide_scale(hidden)

    @property
    def person_screen(self) -> PersonScreen | None:
        """The second screen, for the person who pushes; None while it is shut."""
        return self._person

    def change_person_screen(self) -> None:
        """Open the second screen, or shut it."""
        if self._person is None:
            self._person = PersonScreen(self._words, self._theme, self._unit, self)
            self._person.trace.hide_scale(self.number_hidden)
            self._person.open_beside(self.window() or self)
        else:
            self._person.close()
            self._person.deleteLater()
            self._person = None

    @property
    def in_trial(self) -> bool:
        """Whether a trial is under way."""
        return self.session is not None and self.session.engine.cue in EFFORT

    @property
    def number_hidden(self) -> bool:
        """Whether forces are hidden from the person tested."""
        return self._text.hidden

    @property
    def number_text(self) -> str:
        """The number as it is shown."""
        return self._board.number.number.text()

    @property
    def banner(self) -> Banner | None:
        """The verdict that stands in the place of the cue; None while the cue does."""
        return self._banner_now()

    @property
    def message(self) -> str:
        """The sentence as it is shown."""
        return self._board.cue.below.text()

    def tick(self) -> None:
        """Let the session go on and show where it stands."""
        if self.session is None:
            return
        for event in self.session.tick():
            self._show_event(event)
        if self.session is not None:
            self._show(self.session.engine.view())

    # what is shown

    def _show(self, view: View) -> None:
        session = self.session
        if session is None:
            return
        banner = self._banner_now()
        person = self._person
        limb = view.last if banner is not None and view.last is not None else view.item.context
        if limb is not self._shown_item:
            self._show_limb(limb)
        self._show_done(session, done=banner is None and session.complete)
        self._show_trace(view)
        if banner is None:
            self._board.cue.show_cue(self._cue_text(view), self._below(session, view), "cue", view.fraction)
            if person is not None:
                hinted = self._words(f"hint.{self._hints.shown}") if self._hints.shown else ""
                person.cue.show_cue(self._cue_text(view), hinted, "cue", view.fraction)
        else:
            colour = "good" if banner.accepted else "warn"
            self._board.cue.show_cue(banner.word, banner.advice, colour, 0.0)
            if person is not None:
                person.cue.show_cue(banner.word, banner.advice, colour, 0.0)
        self._show_number(session, banner)
        planned = session.engine.protocol.set.trials
        done = view.cue is Cue.DONE
        self._board.trials.show_rows(rows_text(view.battery, limb, self._text, planned=planned, done=done))
        self._status.setText(self._text.status(session, view, sound=self._sound.state))

    def _show_done(self, session: LiveSession, *, done: bool) -> None:
        """Turn to the page of the results when the last trial is cut, and back when one is repeated."""
        if not done or self._stack.currentWidget() is self._done:
            if not done:
                self._stack.setCurrentWidget(self._board)
            return
        engine = session.engine
        protocol = session.store.protocol
        items = [(item, engine.battery.state(item)) for item in engine.items]
        summary = summarise_session(session.store.session, protocol, settings=self._settings)
        rows = done_rows(items, summary, self._text, agreement_pct=protocol.set.agreement_pct)
        view = engine.view()
        below = [self._words("stage.done_below", done=view.done, items=view.items)]
        below += [self._words("stage.left_out", count=view.left_out)] if view.left_out else []
        self._stack.setCurrentWidget(self._done)
        told = ", ".join([*below, self._words("stage.done_space")])
        self._done.show_rows(rows, title=self._words("cue.done"), below=told)

    def _show_limb(self, context: TrialContext) -> None:
        """Show a limb: until the verdict is gone that of the trial, so that nobody takes it for the next one's."""
        self._shown_item = context
        action = self._text.actions.get(context.action or "")
        self._board.card.show_context(context, action)
        self._board.side.show_limb(
            context.side,
            word=self._words(f"test.{context.side}").upper() if context.side else "",
            action=self._text.action_name(context),
            method=self._words(f"test.{context.method}"),
        )

    def _banner_now(self) -> Banner | None:
        """Return the verdict that stands in the place of the cue."""
        if self._banner is None or self.session is None:
            return None
        if self._clock() >= self._banner_until or self.session.engine.cue in NO_VERDICT:
            self._banner = None
        return self._banner

    def _cue_text(self, view: View) -> str:
        """Return the cue: while the person pushes, what helps now; in the rest, the seconds that are left of it."""
        if view.cue in {Cue.BUILD, Cue.HOLD} and self._hints.shown in URGENT:
            return self._words(f"hint.big.{self._hints.shown}")
        cue = self._words(f"cue.{view.cue.value}")
        return f"{cue} {view.seconds:.0f}" if view.cue is Cue.REST and view.seconds >= 1.0 else cue

    def _below(self, session: LiveSession, view: View) -> str:
        """Return the line below the cue: trouble before all else, then what helps now, then what was and is next."""
        if self._troubles:
            return " ".join(self._troubles.values())
        if view.cue in {Cue.BUILD, Cue.HOLD}:
            return self._words(f"hint.{self._hints.shown}") if self._hints.shown else ""
        return self._text.message(session, view)

    def _show_number(self, session: LiveSession, banner: Banner | None) -> None:
        of_trial = banner is not None and not banner.accepted
        number = self._text.force(self._banner_n if of_trial else session.force_now_n)
        unit = self._words(UNITS[self._unit.symbol])
        if of_trial:
            unit = self._words("stage.this_trial", unit=self._unit.symbol)
        heard = self._heard(number, unit)
        self._board.number.show_force(number, unit, heard=heard)
        if self._person is not None:
            self._person.number.show_force(number, unit, heard=heard)

    def _heard(self, number: str, unit: str) -> str:
        """Return the force for a screen reader, a new one each second at most."""
        now, number_view = self._clock(), self._board.number.number
        if now - self._heard_at < HEARD_S and number_view.text():
            return number_view.accessibleName()
        self._heard_at = now
        self._board.trace.setAccessibleDescription(self._trace_heard(number))
        shown = self._words("stage.force_heard", force=number, unit=unit)
        return f"{self._words('test.force_name')}: {self._words('stage.hidden') if self._text.hidden else shown}"

    def _trace_heard(self, number: str) -> str:
        """Return the curve in words."""
        highest = self._board.trace.highest_n
        if self._text.hidden or highest is None:
            return self._words("stage.hidden" if self._text.hidden else "stage.trace_none")
        most = f"{self._text.force(highest)} {self._unit.symbol}"
        return self._words("stage.trace_now", force=f"{number} {self._unit.symbol}", most=most)

    def _show_trace(self, view: View) -> None:
        session, shown = self.session, self._board.trace
        if session is None:
            return
        if shown.span is MINUTE_SPAN:
            shown.show_trace(*session.recent(MINUTE_SPAN.length))
            return
        if view.cue in STILL and shown.has_trace:
            return
        seconds, force = session.recent(EFFORT_SPAN.length)
        seconds = seconds + session.into_effort()
        kept = seconds >= EFFORT_SPAN.start
        seconds, force = seconds[kept], force[kept]
        before = max(view.item.plateaus(), default=None)
        asked = session.engine.protocol
        target = target_of(
            asked, seconds, force if view.cue in EFFORT else force * 0.0, level_s=view.level_s, before_n=before
        )
        for each in (shown, *([] if self._person is None else [self._person.trace])):
            each.show_before(self._earlier(session, view), before)
            each.show_target(target)
            each.show_trace(seconds, force)
        found = hint(asked, seconds, force, target) if view.cue in {Cue.BUILD, Cue.HOLD} else ""
        if self._hints.see(self._clock(), found):
            self._sound.play(URGENT[found])
            self._sound.say(self._words(f"hint.{found}"))

    def _earlier(self, session: LiveSession, view: View) -> tuple[Ghost, ...]:
        """Return the last trials of the set, made anew only where they have changed."""
        results = view.item.results
        if self._ghosts[0] is not results:
            stored = [(at + 1, result.stored) for at, result in enumerate(results)]
            trials = [(number, session.store.session.trials[at]) for number, at in stored if at is not None]
            self._ghosts = (results, earlier_trials(trials, start=EFFORT_SPAN.start, stop=EFFORT_SPAN.stop))
        return self._ghosts[1]

    # what happened

    def _show_event(self, event: SessionEvent) -> None:
        if isinstance(event, CueChanged):
            self._announce(event.cue)
        elif isinstance(event, ContactNoticed):
            self._sound.say(self._words("test.contact"))
        elif isinstance(event, Verdict):
            if event.changed or not event.final:
                self._announce_verdict(event.judged)
        elif isinstance(event, StreamUnfit):
            self._troubles.pop(TroubleSource.STREAM, None)
            if event.unfit is not None:
                self._troubles[TroubleSource.STREAM] = unfit_sentence(event, self._words)
        elif isinstance(event, Trouble):
            self._troubles.pop(event.of, None)
            if event.error is not None:
                self._troubles[event.of] = trouble_sentence(event.error, self._words, of=event.of)

    def _announce(self, cue: Cue) -> None:
        self._sound.play(Cue.STOP.value if cue is Cue.HALTED else cue.value)
        what = self._text.named(self.session.engine.item.context) if self.session else ""
        if cue is not Cue.BUILD:
            self._sound.say(self._words(f"say.{cue.value}", what=what))

    def _announce_verdict(self, judged: JudgedTrial) -> None:
        self._banner, self._banner_until = banner_of(judged, self._text), self._clock() + VERDICT_S
        self._banner_n = _force_of(judged)
        good = self._banner.accepted
        why = "" if good else fault_advice(judged.judgement.faults[0], self._words)
        self._sound.play("accepted" if good else "rejected")
        self._sound.say(self._words("say.accepted" if good else "say.rejected", why=why))

    # layout

    def _build(self) -> None:
        self._troubles: dict[TroubleSource, str] = {}
        self._empty = QLabel(self._words("test.no_session"))
        self._empty.setObjectName("quiet")
        self._board, self._done = Board(self._words, self._theme, self._unit), DonePage(self._words, self._theme)
        self._done.repeat_asked.connect(self.repeat)
        self._done.report_asked.connect(self.report_asked)
        self._done.next_asked.connect(self.next_asked)
        self._stack = QStackedWidget()
        self._stack.addWidget(self._board)
        self._stack.addWidget(self._done)
        self._status, self._keys = QLabel(), QLabel(self._words("test.keys"))
        foot = QHBoxLayout()
        foot.setSpacing(24)
        for label, stretch in ((self._status, 1), (self._keys, 0)):
            label.setObjectName("quiet")
            foot.addWidget(label, stretch)
        self._status.setWordWrap(True)  # with a Bluetooth sensor it says more than fits a small screen
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 6, 18, 6)
        layout.addWidget(self._empty, 1)
        layout.addWidget(self._stack, 1)
        layout.addLayout(foot)
        self._stack.hide()
        for keys, do in (
            (HALT, self.halt),
            (PAUSE, self.pause),
            (SKIP, self.skip),
            (DECIDE, self.ask_aside),
            (NOTE, self.ask_note),
            (UNDO, self.undo),
            (MINUTE, self.change_span),
            (PERSON, self.change_person_screen),
        ):
            QShortcut(QKeySequence(keys), self).activated.connect(do)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Scale the fonts with the window."""
        super().resizeEvent(event)
        height = window_height(self)
        self._board.fit_window(height)
        self._done.fit_window(height)
        for label in (self._status, self._keys):
            set_font_size(label, 0.017 * height)


def _force_of(judged: JudgedTrial) -> float | None:
    """Return what a trial gave, N: its plateau, or where it has none its peak."""
    measures = judged.judgement.measures
    return measures.peak_force_n if measures.plateau_force_n is None else measures.plateau_force_n
