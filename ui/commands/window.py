"""`ramphold` without a command: the window."""

from __future__ import annotations

import argparse
import os
import sys
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

from acquire.archive.atomic import replace_file
from acquire.errors import AcquireError
from acquire.simulation.scenario import EXAMINER, EXAMINER_LIMIT_N, PERSON
from ui.model.plan import PlanDraft

DEMO_ACTIONS = ("shoulder-abduction", "elbow-flexion", "knee-extension")
DEMO_REST_S = 8.0

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


def demo_draft(folder: Path) -> PlanDraft:
    """Return the invented plan, and write the protocol with its short rests beside the session."""
    folder.mkdir(parents=True, exist_ok=True)
    standard = resources.files("analysis") / "data" / "protocols" / "ramp-and-hold.toml"
    text = standard.read_text(encoding="utf-8").replace('name = "ramp-and-hold"', 'name = "demo-short-rests"')
    text = text.replace("rest_least_s = 60.0", f"rest_least_s = {DEMO_REST_S}").replace(
        "rest_s = 90.0", f"rest_s = {DEMO_REST_S}"
    )
    protocol = folder / "demo-short-rests.toml"
    replace_file(protocol, lambda aside: aside.write_text(text, encoding="utf-8"))
    stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
    return PlanDraft(
        person=PERSON,
        examiner=EXAMINER,
        examiner_limit_n=EXAMINER_LIMIT_N,
        battery="own",
        own=DEMO_ACTIONS,
        trials=2,
        rest_s=DEMO_REST_S,
        protocol=str(protocol),
        out=str(folder / f"window-{stamp}.h5"),
        # nobody is tested, so there is nobody to keep the cautions for
        cautions_acknowledged=datetime.now(UTC),
    )
