"""Puts the window where it was, within the screen at every scaling, and says where it is."""

from __future__ import annotations

from PyQt6.QtCore import QRect, Qt
from PyQt6.QtGui import QGuiApplication
from PyQt6.QtWidgets import QMainWindow, QStyle

from ui.model.window_place import Rect, WindowPlace, opening_rect

BORDER_PX = 4
"""A frame is no wider than that, on every desktop tried; how wide it is, is known only once the window is shown."""


def put(window: QMainWindow, kept: WindowPlace | None) -> None:
    """Give a window its size and place before it is shown; `show_as` then shows it as it was."""
    screens = [screen.availableGeometry() for screen in QGuiApplication.screens()]
    first = QGuiApplication.primaryScreen()
    if first is not None:
        screens.sort(key=lambda area: area != first.availableGeometry())
    if not screens:
        return
    style = window.style()
    title = 0 if style is None else style.pixelMetric(QStyle.PixelMetric.PM_TitleBarHeight)
    rect = opening_rect(kept, [_rect(area) for area in screens], title=title, border=BORDER_PX)
    window.setGeometry(rect.x, rect.y, rect.width, rect.height)


def show_as(window: QMainWindow, kept: WindowPlace | None) -> None:
    """Show a window, over all of the screen where it was so."""
    if kept is not None and kept.full_screen:
        window.showFullScreen()
    elif kept is not None and kept.maximised:
        window.showMaximized()
    else:
        window.show()


def place_of(window: QMainWindow) -> WindowPlace:
    """Return how a window is."""
    state = window.windowState()
    covers = bool(state & (Qt.WindowState.WindowFullScreen | Qt.WindowState.WindowMaximized))
    before = window.normalGeometry()
    return WindowPlace(
        rect=_rect(before if covers and not before.isEmpty() else window.geometry()),
        full_screen=bool(state & Qt.WindowState.WindowFullScreen),
        maximised=bool(state & Qt.WindowState.WindowMaximized),
    )


def _rect(area: QRect) -> Rect:
    return Rect(x=area.x(), y=area.y(), width=area.width(), height=area.height())
