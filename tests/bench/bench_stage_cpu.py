"""What the place Test costs while it records 1 kHz in full HD, painted without a graphics card.

The processor time of this process, with the place shown and with nothing shown but all recorded, side by side: during
efforts and between them. Processor time, not time on the wall, so that other programs matter little. The goal is below
30 % of a core during an effort and 20 % between.
"""

import os
import tempfile
import time
from collections import defaultdict
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PyQt6.QtCore import QEventLoop, QTimer
from PyQt6.QtWidgets import QApplication

from ui.model.plan.demo_draft import demo_draft
from ui.model.plan.remembered import Remembered
from ui.model.theme import LIGHT
from ui.session.cues import TRIAL, Cue
from ui.window import app
from ui.window.stage.sound import Sound
from ui.window.widgets.style import apply_style

LENGTH_S = 30.0
LOOK_MS = 50
SIZE = (1920, 1080)


def spent(*, shown):
    """Return the share of a core during efforts and between, and the frames a second during efforts."""
    with tempfile.TemporaryDirectory() as folder:
        window = app.build_window(Remembered(Path(folder) / "r.json"), LIGHT, draft=demo_draft(Path(folder)))
        window.resize(*SIZE)
        window.show()
        window.press()
        if not shown:
            window.test.view.show_session = lambda *_: None
        found = watched(window)
        window.asks_in_trial = False
        window.close()
    return found


def watched(window):
    sums = defaultdict(lambda: [0.0, 0.0, 0])
    before = [time.monotonic(), time.process_time(), 0, None]

    def look():
        session, trace = window.test.session, window.test.view.board.trace
        wall, own, frames, phase = before
        now = [time.monotonic(), time.process_time(), trace.frames, session.engine.cue in TRIAL]
        if phase is not None:
            for at, spent_now in enumerate((now[0] - wall, now[1] - own, now[2] - frames)):
                sums[phase][at] += spent_now
        before[:] = now
        if session.engine.cue is Cue.PLACE:
            window.test.press()

    loop, timer = QEventLoop(), QTimer()
    timer.timeout.connect(look)
    timer.start(LOOK_MS)
    QTimer.singleShot(round(1000 * LENGTH_S), loop.quit)
    loop.exec()
    timer.stop()
    (effort_s, effort_cpu, frames), (rest_s, rest_cpu, _) = sums[True], sums[False]
    return effort_cpu / effort_s, rest_cpu / rest_s, frames / effort_s


def main():
    application = QApplication([])
    app.Sound = lambda words: Sound(words, volume=0.0)
    apply_style(application, LIGHT)
    bare, shown = spent(shown=False), spent(shown=True)
    print(f"{'':<10}{'recorded only':>15}{'shown':>10}{'times':>8}")
    for at, name in enumerate(("effort", "between")):
        print(f"{name:<10}{100 * bare[at]:>13.1f} %{100 * shown[at]:>8.1f} %{shown[at] / bare[at]:>8.1f}")
    print(f"{shown[2]:.0f} frames a second during efforts")


if __name__ == "__main__":
    main()
