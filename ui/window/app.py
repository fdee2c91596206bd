"""Start the window."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from PyQt6.QtGui import QGuiApplication
from PyQt6.QtWidgets import QApplication

from acquire.simulation.efforts import Effort
from ui.model.person import DEMO_EFFORTS
from ui.model.plan import PlanDraft
from ui.model.remembered import Remembered, state_file
from ui.model.theme import Theme
from ui.model.words import Words
from ui.window.audit_place import AuditPlace
from ui.window.controller import Controller
from ui.window.main_window import MainWindow
from ui.window.plan_place import PlanPlace
from ui.window.review_place import ReviewPlace
from ui.window.sound import Sound
from ui.window.style import apply_style, system_theme
from ui.window.test_place import TestPlace


def build_window(
    remembered: Remembered,
    theme: Theme,
    *,
    draft: PlanDraft | None = None,
    efforts: tuple[Effort, ...] = DEMO_EFFORTS,
    speed: float = 1.0,
) -> MainWindow:
    """Return the window with its places connected, not yet shown.

    Parameters
    ----------
    remembered : Remembered
        What is kept between starts.
    theme : Theme
        Its colours.
    draft : PlanDraft, optional
        The plan to begin with; that of the last start without one.
    efforts : tuple of Effort
        What the invented person on the simulated sensor does.
    speed : float
        How fast that person lives.
    """
    first = draft or remembered.fresh_draft()
    words = Words(first.language)
    window = MainWindow(
        words,
        plan=PlanPlace(words, theme, first.unit, remembered),
        test=TestPlace(words, theme, first.unit, Sound(words)),
        review=ReviewPlace(words, theme, first.unit),
        audit=AuditPlace(words, theme),
    )
    if draft is not None:
        window.plan.show_draft(draft)
        window.plan.last.begin.setFocus()
    Controller(window, remembered, efforts=efforts, speed=speed)
    window.resize(1280, 800)
    return window


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
    theme = system_theme(application)
    apply_style(application, theme)
    window = build_window(Remembered(state or state_file(os.environ)), theme, draft=draft)
    window.show()
    return int(application.exec())
