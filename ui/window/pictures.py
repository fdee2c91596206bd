"""Pictures of every place, in both themes and languages and in three sizes: `python -m ui.window.pictures [FOLDER]`.

A short invented battery is carried through at several x real time, and the window is grabbed on the way; then stored
sessions are looked at, an archive is audited, and a sensor is checked. No screen is needed. The folder, `pictures` by
default, is not kept by git. `--language`, `--theme` and `--size` take a part of all.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from itertools import product
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import msgspec
from PyQt6.QtWidgets import QApplication, QWidget

from ui.model.plan.demo_draft import demo_draft
from ui.model.plan.remembered import Remembered
from ui.model.theme import DARK, LIGHT, Theme
from ui.window.app import build_window
from ui.window.audit.tour import audit_tour, invent_archive
from ui.window.check.pictures import check_pictures
from ui.window.main_window import MainWindow
from ui.window.plan.tour import people_tour
from ui.window.review.tour import invent_sessions, review_tour
from ui.window.stage.tour import EFFORTS, StageTour
from ui.window.widgets.language import speak
from ui.window.widgets.style import apply_style
from ui.words.words import languages

SIZES = ("1920x1080", "1366x768", "1280x720")
THEMES = {theme.name: theme for theme in (DARK, LIGHT)}
ACTIONS = ("elbow-flexion", "knee-extension")
SPEED = 5.0


def main(arguments: list[str]) -> int:
    """Write the pictures and say where they are."""
    asked = _parser().parse_args(arguments)
    folder = Path(asked.folder)
    folder.mkdir(parents=True, exist_ok=True)
    application = QApplication([])
    with tempfile.TemporaryDirectory(prefix="ramphold-archive-") as scratch:
        archive = invent_archive(Path(scratch) / "invented-archive")
        for theme in (THEMES[name] for name in asked.theme or THEMES):
            for size, language in product(asked.size or SIZES, asked.language or languages()):
                apply_style(application, theme)
                tour = _Tour(theme, size, language, folder)
                tour.run(archive)
            for language in asked.language or languages():
                speak(language)
                check_pictures(theme, language, lambda name: _told(folder / f"{name}-{language}-{theme.name}.png"))  # noqa: B023 (at once)
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m ui.window.pictures", description=main.__doc__)
    parser.add_argument("folder", nargs="?", default="pictures", help="where to (%(default)s)")
    for name, choices in (("language", languages()), ("theme", tuple(THEMES)), ("size", SIZES)):
        parser.add_argument(f"--{name}", action="append", choices=choices, help="this alone; may be given again")
    return parser


def _told(file: Path) -> Path:
    print(file)
    return file


class _Tour:
    """Goes through all places in one theme, size and language, and grabs each state once."""

    def __init__(self, theme: Theme, size: str, language: str, folder: Path) -> None:
        self._theme, self._language, self._folder = theme, language, folder
        self._size = size
        self._taken: set[Path] = set()

    def run(self, archive: Path) -> None:
        """Take the pictures."""
        with tempfile.TemporaryDirectory(prefix="ramphold-pictures-") as scratch:
            folder = Path(scratch)
            draft = msgspec.structs.replace(
                demo_draft(folder), language=self._language, own=ACTIONS, trials=1, alternate=False
            )
            latest = invent_sessions(folder)
            window = build_window(
                Remembered(folder / "remembered.json"), self._theme, draft=draft, efforts=EFFORTS, speed=SPEED
            )
            window.resize(*map(int, self._size.split("x")))
            window.show()
            self._places(window, latest, archive)
            window.close()
            window.deleteLater()

    def _places(self, window: MainWindow, latest: Path, archive: Path) -> None:
        def grab(name: str, widget: QWidget | None = None) -> None:
            QApplication.sendPostedEvents()  # layouts, but no timers: what is shown would be over
            file = self._folder / f"{name}-{self._language}-{self._theme.name}-{self._size}.png"
            if file not in self._taken:
                (widget or window).grab().save(str(_told(file)))
                self._taken.add(file)

        grab("plan")
        window.press()
        StageTour(window.test, grab).run()
        window.test.press()
        window.go("review")
        review_tour(window.review, latest, grab)
        window.go("plan")
        people_tour(window.plan, window.words, latest.parent, grab)
        window.go("audit")
        audit_tour(window.audit, archive, grab)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
