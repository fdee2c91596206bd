"""Test: one cue, one number, the trace and the trials, to be read from three metres."""

from __future__ import annotations

from dataclasses import replace

from PyQt6.QtCore import Qt, QTimer, pyqtSignal
from PyQt6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PyQt6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from acquire.errors import AcquireError
from acquire.values.records import SetAside
from acquire.values.units import ForceUnit
from analysis.battery.actions import Action
from analysis.trial.judged_trial import JudgedTrial
from ui.model.stage.band import wanted_band
from ui.model.stage.text import ASKS, TestText
from ui.model.stage.trouble_text import trouble_sentence
from ui.model.stage.verdict_text import Banner, banner_of
from ui.model.theme import Theme
from ui.session.cues import Cue
from ui.session.engine import View
from ui.session.live import (
    PROGRAM,
    ContactNoticed,
    CueChanged,
    LiveSession,
    SessionEvent,
    Trouble,
    TroubleSource,
    Verdict,
)
from ui.window.stage.card import ActionCard
from ui.window.stage.cue_panel import MESSAGE_SHARE, SHARE, CuePanel
from ui.window.stage.sound import Sound
from ui.window.stage.trace_view import EFFORT_SPAN, MINUTE_SPAN, TraceView
from ui.window.stage.trials_row import TrialsRow
from ui.window.widgets.ask import DecisionDialog, line_dialog
from ui.window.widgets.panels import grow
from ui.window.widgets.pieces import panel, set_font_size, window_height
from ui.words.fault_text import fault_advice
from ui.words.local_time import local_now
from ui.words.words import Words

FRAME_MS = 12
"""A little faster than a 60 Hz screen, so that a sample waits less than a frame."""
STILL = {*ASKS, Cue.LOST}
"""In these the last trial stays on the screen, in the band it had."""
HALT, PAUSE, SKIP, DECIDE, UNDO, MINUTE = "Esc", "P", "Ctrl+N", "Del", "Ctrl+Z", "Ctrl+M"
NOTE = "N"
VERDICT_MS = 4000
"""So long the verdict stands in the place of the cue, unless a key is pressed."""
AFTER = {*ASKS, Cue.STOP}
"""In these it may stand there; not when the next trial has begun."""


class TestPlace(QWidget):
    """The place where a session is recorded.

    `finished` is emitted when the battery is done and its last trial is saved.
    """

    __test__ = False  # not a test, whatever its name
    finished = pyqtSignal()

    def __init__(self, words: Words, theme: Theme, unit: ForceUnit, sound: Sound) -> None:
        super().__init__()
        self._words, self._theme, self._unit = words, theme, unit
        self._text = TestText(words=words, unit=unit, actions={})
        self._sound = sound
        self.session: LiveSession | None = None
        self._shown_item: object = None
        self._build()
        self._timer = QTimer(self)
        self._timer.setInterval(FRAME_MS)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self.tick)

    # what the main window calls

    def begin(self, session: LiveSession, actions: dict[str, Action]) -> None:
        """Show and drive a session that has begun."""
        self.session = session
        self._text = replace(self._text, actions=actions)
        self._troubles.clear()
        self._trace.clear()
        self._shown_item = None
        self._empty.hide()
        self._body.show()
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
        self._end_verdict()
        self._timer.stop()
        self._body.hide()
        self._empty.show()
        return True

    def be_silent(self) -> None:
        """End what makes the sound."""
        self._sound.close()

    def press(self) -> None:
        """Do the next sensible thing."""
        if self.session is None:
            return
        self._end_verdict()
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
            title=self._words("review.ask.aside", number=index + 1),
            examiner=session.store.session.context.examiner or "",
            parent=self,
        )
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.accepted.connect(lambda: self._set_aside(session, index, dialog.reason.text(), dialog.by.text()))
        dialog.finished.connect(lambda _: self._keep_busy(session, busy=False))
        self._keep_busy(session, busy=True)
        grow(dialog, self.font().pixelSize())
        dialog.open()

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
        self._trace.show_span(EFFORT_SPAN if self._trace.span is MINUTE_SPAN else MINUTE_SPAN)

    def hide_number(self, hidden: bool) -> None:
        """Hide every force, in figures and on the trace's scale, from the person tested."""
        self._text = replace(self._text, hidden=hidden)
        self._trace.hide_scale(hidden)

    @property
    def number_hidden(self) -> bool:
        """Whether forces are hidden from the person tested."""
        return self._text.hidden

    @property
    def number_text(self) -> str:
        """The number as it is shown."""
        return self._number.text()

    @property
    def banner(self) -> Banner | None:
        """The verdict that stands in the place of the cue, if one does."""
        return self._cue.banner

    @property
    def message(self) -> str:
        """The sentence as it is shown."""
        return self._cue.message.text()

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
        if view.item.context is not self._shown_item:
            self._shown_item = view.item.context
            action = self._text.actions.get(view.item.context.action or "")
            self._card.show_context(view.item.context, action)
        if view.cue not in AFTER:
            self._end_verdict()
        self._cue.show_cue(
            self._words(f"cue.{view.cue.value}"),
            time=self._words("test.seconds", seconds=view.seconds) if view.seconds > 0.05 else "",
            fraction=view.fraction,
            message=" ".join(self._troubles.values()) or self._text.message(session, view),
        )
        self._number.setText(self._text.force(session.force_now_n))
        self._show_trace(view)
        self._trials.show_trials(view.item.results, self._text, done=view.cue is Cue.DONE)
        self._status.setText(self._text.status(session, view, sound=self._sound.state))

    def _show_trace(self, view: View) -> None:
        session = self.session
        if session is None:
            return
        if self._trace.span is MINUTE_SPAN:
            self._trace.show_trace(*session.recent(MINUTE_SPAN.length))
            return
        if view.cue in STILL and self._trace.has_trace:
            return
        self._trace.show_band(wanted_band(session.store.protocol, view.item.plateaus()))
        time, force = session.recent(EFFORT_SPAN.length)
        time = time + session.into_effort()
        kept = time >= EFFORT_SPAN.start
        self._trace.show_trace(time[kept], force[kept])

    # what happened

    def _show_event(self, event: SessionEvent) -> None:
        if isinstance(event, CueChanged):
            self._announce(event.cue)
        elif isinstance(event, ContactNoticed):
            self._sound.say(self._words("test.contact"))
        elif isinstance(event, Verdict):
            if event.changed or not event.final:
                self._announce_verdict(event.judged)
        elif isinstance(event, Trouble):
            self._troubles.pop(event.of, None)
            if event.error is not None:
                self._troubles[event.of] = trouble_sentence(event.error, self._words, of=event.of)

    def _announce(self, cue: Cue) -> None:
        self._sound.play(Cue.STOP.value if cue is Cue.HALTED else cue.value)
        what = self._text.named(self.session.engine.item.context) if self.session else ""
        if cue is not Cue.BUILD:
            self._sound.say(self._words(f"say.{cue.value}", what=what))

    def _end_verdict(self) -> None:
        self._verdict_timer.stop()
        self._cue.show_banner(None)

    def _announce_verdict(self, judged: JudgedTrial) -> None:
        self._cue.show_banner(banner_of(judged, self._text))
        self._verdict_timer.start()
        good = judged.judgement.verdict == "accepted"
        why = "" if good else fault_advice(judged.judgement.faults[0], self._words)
        self._sound.play("accepted" if good else "rejected")
        self._sound.say(self._words("say.accepted" if good else "say.rejected", why=why))

    # layout

    def _build(self) -> None:
        self._troubles: dict[TroubleSource, str] = {}
        self._empty = QLabel(self._words("test.no_session"))
        self._empty.setObjectName("quiet")
        self._body = QWidget()
        grid = QGridLayout(self._body)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setSpacing(14)
        self._card = ActionCard(self._words, self._theme)
        self._trace = TraceView(self._words, self._theme, self._unit)
        self._trials = TrialsRow(self._theme)
        self._cue = CuePanel()
        self._verdict_timer = QTimer(self)
        self._verdict_timer.setSingleShot(True)
        self._verdict_timer.setInterval(VERDICT_MS)
        self._verdict_timer.timeout.connect(self._end_verdict)
        grid.addWidget(panel(self._card, wide=True), 0, 0, 2, 1)
        grid.addWidget(panel(self._cue, wide=True), 0, 1)
        grid.addWidget(self._number_panel(), 0, 2)
        grid.addWidget(panel(self._trace, wide=True), 1, 1, 1, 2)
        grid.addWidget(self._trials, 2, 0, 1, 3)
        grid.setColumnStretch(0, 23)
        grid.setColumnStretch(1, 50)
        grid.setColumnStretch(2, 27)
        grid.setRowStretch(1, 1)
        self._status, self._keys = QLabel(), QLabel(self._words("test.keys"))
        top = QHBoxLayout()
        top.setSpacing(24)
        for label, stretch in ((self._status, 1), (self._keys, 0)):
            label.setObjectName("quiet")
            top.addWidget(label, stretch)
        self._status.setWordWrap(True)  # with a Bluetooth sensor it says more than fits a small screen
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 8, 18, 14)
        layout.addLayout(top)
        layout.addWidget(self._empty, 1)
        layout.addWidget(self._body, 1)
        self._body.hide()
        for keys, do in (
            (HALT, self.halt),
            (PAUSE, self.pause),
            (SKIP, self.skip),
            (DECIDE, self.ask_aside),
            (NOTE, self.ask_note),
            (UNDO, self.undo),
            (MINUTE, self.change_span),
        ):
            QShortcut(QKeySequence(keys), self).activated.connect(do)

    def _number_panel(self) -> QFrame:
        self._number = QLabel("0")
        self._number.setAccessibleDescription(self._words("test.force_name"))
        unit = QLabel(self._words({"N": "test.newtons", "kgf": "test.kgf", "lbf": "test.lbf"}[self._unit.symbol]))
        unit.setObjectName("quiet")
        self._unit_label = unit
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.addStretch(1)
        for label in (self._number, unit):
            row = QHBoxLayout()
            row.addStretch(1)
            row.addWidget(label)
            column.addLayout(row)
        column.addStretch(1)
        return panel(inside, wide=True)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Scale the font with the window."""
        super().resizeEvent(event)
        height = window_height(self)
        self._cue.fit_window()
        set_font_size(self._number, SHARE * height, bold=True)
        for label in (self._status, self._keys):
            set_font_size(label, 0.019 * height)
        set_font_size(self._unit_label, MESSAGE_SHARE * height)
        self._trials.fit_window(height)
