"""Test: one cue, one number, the trace and the trials, to be read from three metres."""

from __future__ import annotations

from PyQt6.QtCore import Qt, QTimer, pyqtSignal
from PyQt6.QtGui import QColor, QFont, QKeySequence, QResizeEvent, QShortcut
from PyQt6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QProgressBar, QVBoxLayout, QWidget

from acquire.errors import AcquireError
from acquire.records import SetAside, TrialContext
from acquire.units import ForceUnit, from_newtons
from analysis.actions import Action, in_language
from analysis.faults import Fault, SaidForce
from ui.judged import JudgedTrial
from ui.model.band import wanted_band
from ui.model.cues import Cue
from ui.model.live import Ailing, CueChanged, Happening, LiveSession, Trouble, Verdict
from ui.model.local_time import local_now
from ui.model.radio_text import radio_text
from ui.model.review_text import fault_advice, fault_name, fault_sentence
from ui.model.runner import View
from ui.model.theme import Theme
from ui.model.trouble_text import trouble_sentence
from ui.model.words import Words
from ui.window.card import ActionCard
from ui.window.plan_style import grow
from ui.window.review_ask import DecisionDialog
from ui.window.sound import Sound
from ui.window.trace_view import EFFORT_SPAN, MINUTE_SPAN, TraceView

FRAME_MS = 12
"""A little faster than a 60 Hz screen, so that a sample waits less than a frame."""
NOTHING = "\u2013"
TRIALS_SHOWN = 5
ASKS = {Cue.PLACE, Cue.REST, Cue.DONE}
"""In these the space bar does something, and what it does is said."""
STILL = {*ASKS, Cue.LOST}
"""In these the last trial stays on the screen, in the band it had."""
HALT, SKIP, DECIDE, MINUTE = "Esc", "Ctrl+N", "Del", "Ctrl+M"
CUE_SHARE = 0.14
"""The cue's and the number's letters are this share of the window's height."""


class TestPlace(QWidget):
    """The place where a session is recorded.

    `finished` is emitted when the battery is done and its last trial is saved.
    """

    __test__ = False  # not a test, whatever its name
    finished = pyqtSignal()

    def __init__(self, words: Words, theme: Theme, unit: ForceUnit, sound: Sound) -> None:
        super().__init__()
        self._words, self._theme, self._unit = words, theme, unit
        self._actions: dict[str, Action] = {}
        self._sound = sound
        self.session: LiveSession | None = None
        self.number_hidden = False
        self._shown_item: object = None
        self._build()
        self._timer = QTimer(self)
        self._timer.setInterval(FRAME_MS)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self.tick)

    # what the main window calls

    def begin(self, session: LiveSession, actions: dict[str, Action]) -> None:
        """Show and drive a session that has begun."""
        self.session, self._actions = session, actions
        self._troubles.clear()
        self._trace.clear()
        self._shown_item = None
        self._empty.hide()
        self._body.show()
        self._timer.start()
        self._sound.open()
        self._announce(session.runner.cue)

    def end(self) -> bool:
        """End the session; what was under way is saved.

        Where that fails, the session stays and says why, and saving is tried again; return whether it has ended.
        """
        if self.session is not None:
            try:
                self.session.close()
            except AcquireError as error:
                self._tell(Trouble(error, Ailing.FILE))
                self.tick()
                return False
            self.session = None
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
        if self.session.complete:
            self.finished.emit()
            return
        self.session.press()
        self.tick()

    def halt(self) -> None:
        """End the trial under way at once: somebody is in pain, say."""
        if self.session is not None and self.session.runner.trial_began is not None:
            self._sound.play(Cue.STOP.value)
            self._sound.say(self._words("say.stop", what=""))
            self.session.halt()
            self.tick()

    def skip(self) -> None:
        """Leave out what is tried now, and go on to the next."""
        if self.session is not None:
            for happening in self.session.skip():
                self._tell(happening)
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
        dialog.finished.connect(lambda _: self._pause(session, paused=False))
        self._pause(session, paused=True)
        grow(dialog, self.font().pixelSize())
        dialog.open()

    def _set_aside(self, session: LiveSession, index: int, reason: str, by: str) -> None:
        decision = SetAside(aside=True, reason=reason.strip(), by=by.strip(), at=local_now())
        for happening in session.set_aside(index, decision):
            self._tell(happening)
        self.tick()

    @staticmethod
    def _pause(session: LiveSession, *, paused: bool) -> None:
        session.paused = paused

    def change_span(self) -> None:
        """Show the last minute of the stream, or the effort again."""
        self._trace.show_span(EFFORT_SPAN if self._trace.span is MINUTE_SPAN else MINUTE_SPAN)

    def hide_number(self, hidden: bool) -> None:
        """Hide every force, in figures and on the trace's scale, from the person tested."""
        self.number_hidden = hidden
        self._trace.hide_scale(hidden)

    @property
    def number_text(self) -> str:
        """The number as it is shown."""
        return self._number.text()

    @property
    def message(self) -> str:
        """The sentence as it is shown."""
        return self._message.text()

    def tick(self) -> None:
        """Let the session go on and show where it stands."""
        if self.session is None:
            return
        for happening in self.session.tick():
            self._tell(happening)
        if self.session is not None:
            self._show(self.session.runner.view())

    # what is shown

    def _show(self, view: View) -> None:
        session = self.session
        if session is None:
            return
        if view.item.context is not self._shown_item:
            self._shown_item = view.item.context
            action = self._actions.get(view.item.context.action or "")
            self._card.show_context(view.item.context, action)
        self._time.setText(self._words("test.seconds", seconds=view.seconds) if view.seconds > 0.05 else "")
        self._show_cue(self._words(f"cue.{view.cue.value}"))
        self._bar.setValue(int(1000 * view.fraction))
        self._message.setText(self._message_for(view))
        force_n = None if self.number_hidden else session.force_now_n
        self._number.setText(NOTHING if force_n is None else f"{round(from_newtons(force_n, self._unit))}")
        self._show_trace(view)
        self._show_trials(view)
        self._status.setText(self._status_for(view))

    def _show_cue(self, text: str) -> None:
        """Show the cue, in letters as large as there is room for."""
        if text == self._cue.text():
            return
        self._cue.setText(text)
        self._fit_cue()

    def _fit_cue(self) -> None:
        wanted = CUE_SHARE * _height_of(self)
        _size(self._cue, wanted, bold=True)
        room = self._bar.width() - (self._time.sizeHint().width() + 8 if self._time.text() else 0)
        needed = self._cue.fontMetrics().horizontalAdvance(self._cue.text())
        if needed > room > 0:
            _size(self._cue, wanted * room / needed, bold=True)

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

    def _message_for(self, view: View) -> str:
        if self._troubles:
            return " ".join(self._troubles.values())
        session = self.session
        if session is not None and (session.loaded or session.restless):
            return self._words("test.loaded" if session.loaded else "test.restless")
        if view.fault is not None:
            return self._of_which(view) + self._sentence(view.fault)
        if view.cue is Cue.REST and view.least_s > 0.0:
            return self._words("test.rest_least", seconds=view.least_s)
        key = f"test.space_{view.cue.value}"
        return self._words("test.space", what=self._words(key)) if view.cue in ASKS else ""

    def _sentence(self, fault: Fault) -> str:
        """Return what a fault was and what to do; without its forces while they are hidden from the person."""
        if self.number_hidden and fault.forces:
            return f"{fault_name(fault.code, self._words)}: {fault_advice(fault, self._words)}"
        return fault_sentence(fault, self._words, self._unit)

    def _of_which(self, view: View) -> str:
        """Return which trial the sentence is about, where the next one is another's."""
        last, now = view.last, view.item.context
        if last is None or (last.action, last.side) == (now.action, now.side):
            return ""
        return f"{self._named(last)}: "

    def _named(self, context: TrialContext) -> str:
        """Return the action and the side."""
        action = self._actions.get(context.action or "")
        side = self._words(f"test.{context.side}") if context.side else ""
        return ", ".join(
            word for word in (in_language(action, self._words.language).name if action else "", side) if word
        )

    def _show_trials(self, view: View) -> None:
        """Show the trials of the set, and which is next; the last ones, where there is no room for all."""
        results = view.item.results
        shown = len(results) if view.cue is Cue.DONE else max(3, len(results) + 1)
        for place, (box, edge, title, big, small) in enumerate(self._boxes, start=max(0, shown - TRIALS_SHOWN)):
            box.setVisible(place < shown)
            title.setText(self._words("test.trial", number=place + 1))
            if place < len(results):
                done = results[place]
                force = NOTHING
                if done.plateau_n is not None and not self.number_hidden:
                    force = f"{from_newtons(done.plateau_n, self._unit):.0f} {self._unit.symbol}"
                good = done.verdict == "accepted"
                big.setText(("\u2713 " if good else "\u21bb ") + force)
                why = f": {fault_name(done.codes[0], self._words)}" if done.codes else ""
                small.setText(self._words("test.accepted" if good else "test.rejected") + why)
                colour = self._theme.good if good else self._theme.warn
            else:
                now = place == len(results)
                big.setText("\u25b8" if now else "")
                small.setText(self._words("test.now" if now else "test.to_come"))
                colour = self._theme.curve if now else self._theme.edge
            edge.show_colour(colour)

    def _status_for(self, view: View) -> str:
        session = self.session
        if session is None:
            return ""
        pipeline = session.recorder.pipeline
        rate = pipeline.timebase.rate
        zero = (pipeline.zero_counts - pipeline.calibration.zero_counts) * pipeline.calibration.newtons_per_count
        sensor = (
            self._words("test.sensor_waiting")
            if rate is None
            else self._words("test.sensor_ok", rate=rate.rate_hz, lost=pipeline.timebase.lost)
        )
        if rate is not None and not self.number_hidden:
            sensor += self._words(
                "test.zero", zero=SaidForce(round(zero, 1) + 0.0, digits=1, signed=True).written(self._unit)
            )
        if radio := radio_text(session.recorder.link.radio, self._words):
            sensor += ", " + radio.replace(" dBm", "\u00a0dBm")  # the line may wrap, but not there
        person = session.store.session.context.person.code
        sound = self._words(f"test.sound_{self._sound.state}")
        done = self._words("test.done_of", done=view.done, items=view.items)
        return "     ".join(word for word in (person, done, sensor, sound) if word)

    # what is told

    def _tell(self, happening: Happening) -> None:
        if isinstance(happening, CueChanged):
            self._announce(happening.cue)
        elif isinstance(happening, Verdict):
            if happening.changed or not happening.final:
                self._tell_verdict(happening.judged)
        elif isinstance(happening, Trouble):
            self._troubles.pop(happening.of, None)
            if happening.error is not None:
                self._troubles[happening.of] = trouble_sentence(happening.error, self._words, of=happening.of)

    def _announce(self, cue: Cue) -> None:
        self._sound.play(cue.value)
        what = self._named(self.session.runner.item.context) if self.session else ""
        if cue is not Cue.BUILD:
            self._sound.say(self._words(f"say.{cue.value}", what=what))

    def _tell_verdict(self, judged: JudgedTrial) -> None:
        good = judged.judgement.verdict == "accepted"
        why = "" if good else fault_advice(judged.judgement.faults[0], self._words)
        self._sound.play("accepted" if good else "rejected")
        self._sound.say(self._words("say.accepted" if good else "say.rejected", why=why))

    # layout

    def _build(self) -> None:
        self._troubles: dict[Ailing, str] = {}
        self._empty = QLabel(self._words("test.no_session"))
        self._empty.setObjectName("quiet")
        self._body = QWidget()
        grid = QGridLayout(self._body)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setSpacing(14)
        self._card = ActionCard(self._words, self._theme)
        self._trace = TraceView(self._words, self._theme, self._unit)
        grid.addWidget(_panel(self._card), 0, 0, 2, 1)
        grid.addWidget(self._cue_panel(), 0, 1)
        grid.addWidget(self._number_panel(), 0, 2)
        grid.addWidget(_panel(self._trace), 1, 1, 1, 2)
        grid.addWidget(self._trials_panel(), 2, 0, 1, 3)
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
        self._status.setWordWrap(True)  # with a radio sensor it says more than fits a small screen
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 8, 18, 14)
        layout.addLayout(top)
        layout.addWidget(self._empty, 1)
        layout.addWidget(self._body, 1)
        self._body.hide()
        for keys, do in ((HALT, self.halt), (SKIP, self.skip), (DECIDE, self.ask_aside), (MINUTE, self.change_span)):
            QShortcut(QKeySequence(keys), self).activated.connect(do)

    def _cue_panel(self) -> QFrame:
        self._cue, self._time, self._message = QLabel(), QLabel(), QLabel()
        self._cue.setAccessibleName(self._words("test.cue_name"))
        self._cue.setObjectName("cue")
        self._message.setWordWrap(True)
        self._message.setObjectName("quiet")
        self._bar = QProgressBar()
        self._bar.setRange(0, 1000)
        self._bar.setTextVisible(False)
        self._bar.setFixedHeight(14)
        top = QHBoxLayout()
        top.addWidget(self._cue, 1)
        top.addWidget(self._time)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(top, 1)
        column.addWidget(self._bar)
        column.addWidget(self._message)
        return _panel(inside)

    def _number_panel(self) -> QFrame:
        self._number = QLabel("0")
        self._number.setAccessibleName(self._words("test.force_name"))
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
        return _panel(inside)

    def _trials_panel(self) -> QWidget:
        inside = QWidget()
        row = QHBoxLayout(inside)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(14)
        self._boxes: list[tuple[QFrame, Edge, QLabel, QLabel, QLabel]] = []
        for _ in range(TRIALS_SHOWN):
            title, big, small = QLabel(), QLabel(), QLabel()
            title.setObjectName("quiet")
            small.setWordWrap(True)
            edge, content = Edge(), QWidget()
            beside = QHBoxLayout(content)
            beside.setContentsMargins(0, 0, 0, 0)
            beside.setSpacing(14)
            column = QVBoxLayout()
            column.setSpacing(2)
            for label in (title, big, small):
                column.addWidget(label)
            beside.addWidget(edge)
            beside.addLayout(column, 1)
            box = _panel(content)
            row.addWidget(box, 1)
            self._boxes.append((box, edge, title, big, small))
        return inside

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Let the letters grow with the window."""
        super().resizeEvent(event)
        height = _height_of(self)
        self._fit_cue()
        _size(self._number, CUE_SHARE * height, bold=True)
        _size(self._time, 0.045 * height)
        for label in (self._status, self._keys):
            _size(label, 0.019 * height)
        for label in (self._message, self._unit_label):
            _size(label, 0.024 * height)
        for _, _, title, big, small in self._boxes:
            _size(title, 0.020 * height)
            _size(big, 0.036 * height, bold=True)
            _size(small, 0.020 * height)


class Edge(QFrame):
    """A strip of colour beside a trial; what it means stands beside it in words."""

    def __init__(self) -> None:
        super().__init__()
        self.setFixedWidth(6)
        self.setAutoFillBackground(True)

    def show_colour(self, colour: str) -> None:
        """Take another colour; a style sheet here would undo the letters' sizes."""
        palette = self.palette()
        palette.setColor(self.backgroundRole(), QColor(colour))
        self.setPalette(palette)


def _height_of(widget: QWidget) -> int:
    """Return the height of the window that a widget is in."""
    window = widget.window()
    return widget.height() if window is None else window.height()


def _panel(inside: QWidget) -> QFrame:
    frame = QFrame()
    frame.setObjectName("panel")
    layout = QVBoxLayout(frame)
    layout.setContentsMargins(16, 10, 16, 10)
    layout.addWidget(inside)
    return frame


def _size(label: QLabel, pixels: float, *, bold: bool = False) -> None:
    font = QFont(label.font())
    font.setPixelSize(max(11, int(pixels)))
    font.setBold(bold)
    label.setFont(font)
