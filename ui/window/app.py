"""Start the window."""

from __future__ import annotations

import gc
import os
import sys
from pathlib import Path

from PyQt6.QtCore import Qt, QTimer
from PyQt6.QtGui import QGuiApplication
from PyQt6.QtWidgets import QApplication

from acquire.simulation.efforts import Effort
from acquire.values.units import ForceUnit
from ui.model.plan.plan import PlanDraft
from ui.model.plan.remembered import Remembered, state_file
from ui.model.review.review import ReviewModel
from ui.model.theme import Theme
from ui.session.recording import Asked, interrupts
from ui.session.simulated_person import DEMO_EFFORTS
from ui.window.audit.place import AuditPlace
from ui.window.controller import Controller
from ui.window.geometry import place_of, put, show_as
from ui.window.main_window import MainWindow
from ui.window.plan.place import PlanPlace
from ui.window.review.place import ReviewPlace
from ui.window.stage.place import TestPlace
from ui.window.stage.sound import Sound
from ui.window.widgets.language import speak
from ui.window.widgets.style import apply_style, follow_system, system_theme, theme_for
from ui.words.words import Words

TURN_MS = 200
"""Ctrl-C in the terminal is seen when Python gets a turn; Qt alone gives it none while the window rests."""


def build_window(
    remembered: Remembered,
    theme: Theme,
    *,
    draft: PlanDraft | None = None,
    efforts: tuple[Effort, ...] = DEMO_EFFORTS,
    speed: float = 1.0,
    finds: bool = False,
) -> MainWindow:
    """Return the window with its places connected, not yet shown.

    Parameters
    ----------
    remembered : Remembered
        What the program remembers between starts.
    theme : Theme
        Its colours.
    draft : PlanDraft, optional
        The plan to begin with; that of the last start without one.
    efforts : tuple of Effort
        What the invented person on the simulated sensor does.
    speed : float
        How fast that person lives.
    finds : bool
        Whether Plan looks for sensors by itself.
    """
    first = draft or remembered.fresh_draft()
    words = Words(first.language)
    speak(words.language)
    sound = Sound(words)
    window = MainWindow(
        words,
        plan=PlanPlace(words, theme, first.unit, remembered, finds=finds),
        test=TestPlace(words, theme, first.unit, sound),
        review=_review(remembered, words, theme, first.unit),
        audit=AuditPlace(words, theme, first.unit, remembered),
    )
    if draft is not None:
        window.plan.show_draft(draft)
        window.plan.last.begin.setFocus()
    window.plan.to_offer()
    Controller(window, remembered, efforts=efforts, speed=speed)
    put(window, remembered.window)
    window.closing.connect(lambda: remembered.keep_window(place_of(window)))
    if finds:
        _tell_of_sound(window, sound)
    return window


def _tell_of_sound(window: MainWindow, sound: Sound) -> None:
    """Start the sound while the plan is made, so that what is missing can be installed before anybody waits for it."""
    sound.changed.connect(window.plan.show_sound)
    for after_ms, do in ((SOUND_MS, sound.open), (SOUND_TOLD_MS, lambda: window.plan.show_sound(sound.state))):
        timer = QTimer(window)
        timer.setSingleShot(True)
        timer.timeout.connect(do)
        timer.start(after_ms)


def _review(remembered: Remembered, words: Words, theme: Theme, unit: ForceUnit) -> ReviewPlace:
    model = ReviewModel(own=lambda: remembered.protocols)
    return ReviewPlace(words, theme, unit, model=model, folder=remembered.folder)


SOUND_MS, SOUND_TOLD_MS = 1500, 8000
"""When the sound is started, and when it is said what there is: its processes need some seconds."""

COLLECT_MS = 200
"""What is left of a window that was replaced is collected here: in a recorder's thread that would crash Qt."""


class Shell:
    """Keeps one window open: another one takes its place when language, unit or theme change.

    Parameters
    ----------
    application : QApplication
        The running application.
    remembered : Remembered
        What the program remembers between starts.
    draft : PlanDraft, optional
        The plan to begin with.
    """

    def __init__(self, application: QApplication, remembered: Remembered, draft: PlanDraft | None) -> None:
        self._application, self._remembered = application, remembered
        self._finds = draft is None
        """A demo keeps to its invented person."""
        self._theme = system_theme(application)
        self.window: MainWindow | None = None
        apply_style(application, self._theme)
        follow_system(application, self._wear)  # a bound method: Qt does not keep the shell
        self._open(draft)

    def _open(self, draft: PlanDraft | None) -> None:
        before = self.window
        window = build_window(self._remembered, self._theme, draft=draft, finds=self._finds)
        window.plan.switched.connect(self._renewed)
        self.window = window
        kept = self._remembered.window if before is None else place_of(before)
        put(window, kept)
        show_as(window, kept)
        if before is not None:
            before.close()
            before.deleteLater()
            QTimer.singleShot(COLLECT_MS, gc.collect)

    def _renewed(self, draft: PlanDraft) -> None:
        """Open the window anew in another language or unit, once the signal has been dealt with."""
        if self.window is not None and self.window.test.session is None:
            QTimer.singleShot(0, lambda: self._open(draft))

    def _wear(self, scheme: Qt.ColorScheme) -> None:
        """Take the system's other theme; a session under way keeps its colours until the next one."""
        self._theme = theme_for(scheme)
        if self.window is not None and self.window.test.session is None:
            apply_style(self._application, self._theme)
            self._open(self.window.plan.draft)


def run_window(*, draft: PlanDraft | None = None, state: Path | None = None) -> int:
    """Show the window until it is closed.

    Parameters
    ----------
    draft : PlanDraft, optional
        The plan to begin with.
    state : Path, optional
        Where things are kept between starts; in the user's state folder by default.
    """
    application = QApplication.instance() or QApplication(sys.argv[:1])
    QGuiApplication.setApplicationDisplayName("Ramphold")
    if not isinstance(application, QApplication):
        raise TypeError("a console application is running already")
    shell = Shell(application, Remembered(state or state_file(os.environ)), draft)
    with interrupts() as asked:
        turn = QTimer()
        turn.timeout.connect(lambda: _close_if(asked))
        turn.start(TURN_MS)
        code = int(application.exec())
    del shell
    return code


def _close_if(asked: Asked) -> None:
    """Close the window as its button does; where it stays to say what is not saved, it may be asked again."""
    if asked.is_set():
        if QApplication.activeModalWidget() is None:  # a dialog goes first, and the window at the next turn
            asked.clear()
        for window in QApplication.topLevelWidgets():
            if isinstance(window, MainWindow):
                window.asks_in_trial = False  # who interrupts the program has decided
        QApplication.closeAllWindows()
