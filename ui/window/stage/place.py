"""Test: the place where a session is recorded; keys and time drive it here, the rest of the stage shows it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable

from PyQt6.QtCore import Qt, QTimer, pyqtSignal
from PyQt6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PyQt6.QtWidgets import QLabel, QVBoxLayout, QWidget

from acquire.errors import AcquireError
from acquire.stream.recorder import StreamUnfit
from acquire.values.records import SetAside, TrialContext
from acquire.values.units import ForceUnit
from analysis.battery.actions import Action
from analysis.results.settings import ResultSettings
from ui.model.stage.trouble_text import trouble_sentence
from ui.model.stage.verdict_text import Banner
from ui.model.theme import Theme
from ui.session.cues import EFFORT, Cue
from ui.session.events import ContactNoticed, CueChanged, SessionEvent, Trouble, TroubleSource, Verdict
from ui.session.live import LiveSession
from ui.session.store import PROGRAM
from ui.window.stage.announcer import Announcer
from ui.window.stage.questions import ask_aside, ask_note
from ui.window.stage.session_view import SessionView
from ui.window.stage.sound import Sound
from ui.window.widgets.pieces import window_height
from ui.words.unfit_text import unfit_sentence
from ui.words.words import Words

FRAME_MS = 12
"""A little faster than a 60 Hz screen, so that a sample waits less than a frame."""
HALT, PAUSE, SKIP, DECIDE, UNDO, MINUTE = "Esc", "P", "Ctrl+N", "Del", "Ctrl+Z", "Ctrl+M"
NOTE, PERSON = "N", "F9"


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
        self._words, self._sound = words, sound
        self._announcer = Announcer(words, sound, clock)
        self.view = SessionView(words, theme, unit, self._announcer, clock)
        self.session: LiveSession | None = None
        self._troubles: dict[TroubleSource, str] = {}
        self._build()
        self._timer = QTimer(self)
        self._timer.setInterval(FRAME_MS)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self.tick)

    # a session begins and ends

    def begin(self, session: LiveSession, actions: dict[str, Action], settings: ResultSettings | None = None) -> None:
        """Show and drive a session that has begun; its results are scored by the settings given."""
        self.session = session
        self.view.begin(actions, settings)
        self._troubles.clear()
        self._announcer.drop_banner()
        self._empty.hide()
        self.view.show()
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
                self._take(Trouble(error, TroubleSource.FILE))
                self.tick()
                return False
            self.session = None
        self._timer.stop()
        self.view.shut_person_screen()
        self.view.hide()
        self._empty.show()
        return True

    def be_silent(self) -> None:
        """End what makes the sound."""
        self._sound.close()

    def tick(self) -> None:
        """Let the session go on and show where it stands."""
        if self.session is None:
            return
        for event in self.session.tick():
            self._take(event)
        if self.session is not None:
            self.view.show_session(self.session, self._troubles.values())
            self._be_heard()

    def _be_heard(self) -> None:
        """Give the place, which has the focus while it is shown, the cue as its name: a change of it is read aloud."""
        for said, now, say in (
            (self.accessibleName(), self.view.heard, self.setAccessibleName),
            (self.accessibleDescription(), self.view.force_heard, self.setAccessibleDescription),
        ):
            if said != now:
                say(now)

    @property
    def in_trial(self) -> bool:
        """Whether a trial is under way."""
        return self.session is not None and self.session.engine.cue in EFFORT

    @property
    def banner(self) -> Banner | None:
        """The verdict that stands in the place of the cue; None while the cue does."""
        return None if self.session is None else self._announcer.banner(self.session.engine.cue)

    # what a key does

    def press(self) -> None:
        """Do the next sensible thing."""
        if self.session is None:
            return
        if self.banner is not None:
            self._announcer.drop_banner()
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
            self._take_all(self.session.undo(_examiner(self.session)))

    def skip(self) -> None:
        """Leave out what is tried now, and go on to the next."""
        if self.session is not None:
            self._take_all(self.session.skip())

    def repeat(self, context: TrialContext) -> None:
        """Try an action and side once more."""
        if self.session is not None:
            self._take_all(self.session.repeat(context))

    def ask_aside(self) -> None:
        """Ask why the last trial is set aside; no new one begins by itself until that is answered."""
        if (session := self.session) is not None:

            def decide(index: int, decision: SetAside) -> None:
                self._take_all(session.set_aside(index, decision))

            ask_aside(self, session, self.view.text, decide)

    def ask_note(self) -> None:
        """Ask for a note; it is kept with the trial under way, else with the last, and no new one begins meanwhile."""
        if (session := self.session) is not None:
            ask_note(self, session, self.view.text, lambda note: self._take_all(session.note(note, _examiner(session))))

    def tell(self, text: str) -> None:
        """Say something on the page of a battery that is done."""
        self.view.done.below.show_text(text)

    # what happened

    def _take_all(self, events: Iterable[SessionEvent]) -> None:
        for event in events:
            self._take(event)
        self.tick()

    def _take(self, event: SessionEvent) -> None:
        if isinstance(event, CueChanged):
            self._announce(event.cue)
        elif isinstance(event, ContactNoticed):
            self._announcer.contact()
        elif isinstance(event, Verdict):
            if event.changed or not event.final:
                self._announcer.verdict(event.judged, self.view.text)
        elif isinstance(event, StreamUnfit):
            sentence = "" if event.unfit is None else unfit_sentence(event, self._words)
            self._tell_trouble(TroubleSource.STREAM, sentence)
        elif isinstance(event, Trouble):
            sentence = "" if event.error is None else trouble_sentence(event.error, self._words, of=event.of)
            self._tell_trouble(event.of, sentence)

    def _tell_trouble(self, of: TroubleSource, sentence: str) -> None:
        """Keep what is in trouble, the last behind; an empty sentence ends it."""
        self._troubles.pop(of, None)
        if sentence:
            self._troubles[of] = sentence

    def _announce(self, cue: Cue) -> None:
        what = self.view.text.named(self.session.engine.item.context) if self.session else ""
        self._announcer.cue(cue, what)

    # layout

    def _build(self) -> None:
        self._empty = QLabel(self._words("test.no_session"))
        self._empty.setObjectName("quiet")
        self.setAccessibleName(self._words("place.test"))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        for asked, signal in (
            (self.view.done.report_asked, self.report_asked),
            (self.view.done.next_asked, self.next_asked),
        ):
            asked.connect(signal)
        self.view.done.repeat_asked.connect(self.repeat)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 6, 18, 6)
        layout.addWidget(self._empty, 1)
        layout.addWidget(self.view, 1)
        self.view.hide()
        for keys, do in (
            (HALT, self.halt),
            (PAUSE, self.pause),
            (SKIP, self.skip),
            (DECIDE, self.ask_aside),
            (NOTE, self.ask_note),
            (UNDO, self.undo),
            (MINUTE, self.view.curve.change_span),
            (PERSON, self.view.change_person_screen),
        ):
            QShortcut(QKeySequence(keys), self).activated.connect(do)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Scale the fonts with the window."""
        super().resizeEvent(event)
        self.view.fit_window(window_height(self))


def _examiner(session: LiveSession) -> str:
    """Return who decides: the examiner of the session, else the program."""
    return session.store.session.context.examiner or PROGRAM
