"""The real window on the offscreen platform, with an invented person on a real pseudo-terminal."""

import gc
import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
from PyQt6.QtCore import QEvent

from ui.model.theme import DARK
from ui.window.widgets.style import apply_style


@pytest.fixture(autouse=True, scope="session")
def styled(qapp):
    """Wear the program's style before there is any widget, as the program does."""
    apply_style(qapp, DARK)


@pytest.fixture(autouse=True)
def swept(qapp):
    """Delete what a test leaves of its windows here and now, and collect nothing before.

    Garbage is collected by whichever thread happens to make the next object, a recorder's or the test engine's, and a
    menu that is deleted in another thread crashes Qt.
    """
    gc.disable()
    yield
    qapp.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    gc.collect(0)  # all that the test has made is young
    gc.enable()


@pytest.fixture(autouse=True, scope="module")
def swept_at_last():
    """As `swept`, for what the tests of a module share."""
    yield
    gc.collect()
