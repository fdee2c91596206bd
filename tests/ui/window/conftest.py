"""The real window on the offscreen platform, with an invented person on a real pseudo-terminal."""

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
from PyQt6.QtCore import QEvent

from ui.model.theme import DARK
from ui.window.style import apply_style


@pytest.fixture(autouse=True, scope="session")
def styled(qapp):
    """Wear the program's style before there is any widget, as the program does."""
    apply_style(qapp, DARK)


@pytest.fixture(autouse=True)
def swept(qapp):
    """Delete what a test leaves of its windows here and now.

    What waits for an event loop that never comes is collected in the end, perhaps by a recorder's thread in a later
    test: a window that is deleted in another thread crashes Qt.
    """
    yield
    qapp.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
