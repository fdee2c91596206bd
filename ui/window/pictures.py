"""Pictures of every place, in both themes and languages and in three sizes: `python -m ui.window.pictures [FOLDER]`.

A short invented battery is carried through at several x real time, and the window is grabbed
on the way. No screen is needed. The folder, `pictures` by default, is not kept by git.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Callable
from itertools import product
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import msgspec
from PyQt6.QtCore import QEventLoop, QTimer
from PyQt6.QtWidgets import QApplication

from ui.model.plan.demo_draft import demo_draft
from ui.model.plan.remembered import Remembered
from ui.model.theme import DARK, LIGHT, Theme
from ui.session.cues import Cue
from ui.window.app import build_window
from ui.window.audit.tour import audit_tour, invent_archive
from ui.window.check.pictures import check_pictures
from ui.window.main_window import MainWindow
from ui.window.widgets.style import apply_style
from ui.words.words import languages

SIZES = ((1920, 1080), (1366, 768), (1280, 720))
SPEED = 6.0
LOOK_MS = 20
SETTLE_MS = 250
"""A cue is shown for so long before it is grabbed."""

SHORT = {Cue.GO, Cue.BUILD, Cue.STOP}
"""Cues that are over before that; they are grabbed at once."""

LIMIT_MS = 120_000


def main(arguments: list[str]) -> int:
    """Write the pictures and say where they are."""
    parser = argparse.ArgumentParser(prog="python -m ui.window.pictures", description=main.__doc__)
    parser.add_argument("folder", nargs="?", default="pictures", help="where to (%(default)s)")
    folder = Path(parser.parse_args(arguments).folder)
    folder.mkdir(parents=True, exist_ok=True)
    application = QApplication([])
    with tempfile.TemporaryDirectory(prefix="ramphold-archive-") as scratch:
        archive = invent_archive(Path(scratch) / "invented-archive")
        for theme in (DARK, LIGHT):
            for size, language in product(SIZES, languages()):
                apply_style(application, theme)
                for file in _tour(theme, size, language, folder, archive):
                    print(file)
            for file in check_pictures(theme, lambda name: folder / f"{name}-{theme.name}.png"):  # noqa: B023 (at once)
                print(file)
    return 0


def _tour(theme: Theme, size: tuple[int, int], language: str, folder: Path, archive: Path) -> list[Path]:
    """Carry a battery through in one theme, size and language; return the pictures taken."""
    with tempfile.TemporaryDirectory(prefix="ramphold-pictures-") as scratch:
        draft = msgspec.structs.replace(demo_draft(Path(scratch)), language=language)
        window = build_window(Remembered(Path(scratch) / "remembered.json"), theme, draft=draft, speed=SPEED)
        window.resize(*size)
        window.show()
        tour = _Tour(window, archive, lambda name: folder / f"{name}-{language}-{theme.name}-{size[0]}x{size[1]}.png")
        tour.run()
        window.close()
        window.deleteLater()
        return tour.taken


class _Tour:
    """Presses where the window waits, and grabs each cue once, each place once."""

    def __init__(self, window: MainWindow, archive: Path, file_for: Callable[[str], Path]) -> None:
        self._window, self._archive, self._file_for = window, archive, file_for
        self.taken: list[Path] = []
        self._shown: Cue | None = None
        self._shown_ms = 0
        self._loop = QEventLoop()

    def run(self) -> None:
        """Go through the battery, then through the other places."""
        self._grab("plan")
        self._window.press()
        timer = QTimer()
        timer.timeout.connect(self._look)
        timer.start(LOOK_MS)
        QTimer.singleShot(LIMIT_MS, self._loop.quit)
        self._loop.exec()
        timer.stop()
        self._window.go("review")
        self._grab("review")
        self._window.go("audit")
        audit_tour(self._window.audit, self._archive, self._grab)

    def _look(self) -> None:
        session = self._window.test.session
        if session is None or self._window.place != "test":
            self._loop.quit()
            return
        cue = session.engine.cue
        self._shown_ms = self._shown_ms + LOOK_MS if cue is self._shown else 0
        self._shown = cue
        banner = self._window.test.banner
        if banner is not None:
            self._grab(f"test-{'accepted' if banner.accepted else 'rejected'}")
            self._dismiss()
            return
        if self._shown_ms >= SETTLE_MS or cue in SHORT:
            self._grab(f"test-{cue.value}")
        if cue is Cue.DONE and self._shown_ms >= SETTLE_MS:
            self._grab_minute()
        if cue in {Cue.PLACE, Cue.DONE} and self._shown_ms >= SETTLE_MS:
            self._window.press()

    def _dismiss(self) -> None:
        if self._shown_ms >= SETTLE_MS:
            self._window.press()

    def _grab_minute(self) -> None:
        self._window.test.view.curve.change_span()
        self._window.test.tick()
        self._grab("test-minute")
        self._window.test.view.curve.change_span()

    def _grab(self, name: str) -> None:
        QApplication.processEvents()
        file = self._file_for(name)
        if file not in self.taken:
            self._window.grab().save(str(file))
            self.taken.append(file)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
