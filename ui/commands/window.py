"""`ramphold` without a command: the window."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from acquire.errors import AcquireError
from ui.model.plan.demo_draft import demo_draft
from ui.model.plan.plan import PlanDraft

DEBIAN_PACKAGES = "libegl1 libgl1 libxkbcommon-x11-0 libxcb-cursor0 libxcb-icccm4 libxcb-keysyms1 libdbus-1-3"
"""What Qt needs of a bare Debian to open a window."""


class NoScreenError(AcquireError):
    """There is no screen to open a window on."""


def run(options: argparse.Namespace) -> int:
    """Open the window."""
    del options
    return open_window(None)


def run_demo(folder: Path) -> int:
    """Open the window with an invented plan: nothing plugged in, short rests, the space bar for everything."""
    return open_window(demo_draft(folder), state=folder / "remembered.json")


def open_window(draft: PlanDraft | None, *, state: Path | None = None) -> int:
    """Open the window, or say what it lacks.

    Raises
    ------
    NoScreenError
        If there is no screen, or Qt cannot be loaded.
    """
    wanted = os.environ.get("QT_QPA_PLATFORM") or os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    if sys.platform == "linux" and not wanted:
        raise NoScreenError("there is no screen to open a window on: log in at one, or use 'ramphold --help'")
    try:
        from ui.window.app import run_window  # noqa: PLC0415 (the command line works where Qt does not)
    except ImportError as error:
        raise NoScreenError(
            f"the window needs a library that is not there ({error}): on Debian, install {DEBIAN_PACKAGES}"
        ) from error
    return run_window(draft=draft, state=state)
