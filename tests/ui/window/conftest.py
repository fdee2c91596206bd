"""The real window on the offscreen platform, with an invented person on a real pseudo-terminal."""

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest

from ui.model.theme import DARK
from ui.window.style import apply_style


@pytest.fixture(autouse=True, scope="session")
def styled(qapp):
    """Wear the program's style before there is any widget, as the program does."""
    apply_style(qapp, DARK)
