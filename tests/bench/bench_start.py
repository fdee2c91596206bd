"""Start-up against a bare interpreter: help, and the window to its first paint."""

import os
import subprocess
import sys
from functools import partial

from ratios import ratio, seconds

WINDOW = """
import tempfile
from pathlib import Path
from PyQt6.QtCore import QTimer
from PyQt6.QtWidgets import QApplication
from ui.model.plan.remembered import Remembered
from ui.window.app import Shell
application = QApplication([])
with tempfile.TemporaryDirectory() as folder:
    shell = Shell(application, Remembered(Path(folder) / "remembered.json"), None)
    QTimer.singleShot(0, application.quit)
    application.exec()
    shell.window.grab()
"""


def run(*arguments):
    subprocess.run(
        [sys.executable, *arguments],
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
    )


def main():
    bare = partial(run, "-c", "pass")
    print(f"{'what':<28}{'s':>8}{'times a bare interpreter':>28}")
    for what, started in (
        ("ramphold --help", partial(run, "-m", "ui", "--help")),
        ("window painted", partial(run, "-c", WINDOW)),
    ):
        print(f"{what:<28}{seconds(started):>8.2f}{ratio(started, bare, repeats=5):>28.1f}")


if __name__ == "__main__":
    main()
