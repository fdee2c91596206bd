"""The window closes in good order when the terminal asks for it."""

import os
import signal

import pytest

from acquire.storage.session_file import read_session

pytestmark = pytest.mark.slow

BEGUN = """
import sys
from pathlib import Path
from PyQt6.QtCore import QTimer
from ui.commands.window import demo_draft
from ui.window import app

build = app.build_window
def begun(*arguments, **options):
    window = build(*arguments, **options)
    def step():
        session = window.test.session
        if session is None:
            window.press()
        elif session.engine.cue.value == "place":
            session.press()
        else:
            print(session.engine.cue.value, flush=True)
    window.timer = QTimer(window)
    window.timer.timeout.connect(step)
    window.timer.start(100)
    return window
app.build_window = begun
folder = Path(sys.argv[1])
raise SystemExit(app.run_window(draft=demo_draft(folder), state=folder / "remembered.json"))
"""
"""The window of the demo, with a session begun in it."""


DIALOG = """
import sys
from pathlib import Path
from PyQt6.QtCore import QTimer
from acquire.errors import LinkError, LinkFailure
from ui.model.plan.plan import PlanDraft
from ui.words.words import Words
from ui.window import app
from ui.window.widgets.connecting import opened_aside

build = app.build_window
def built(*arguments, **options):
    window = build(*arguments, **options)
    def work(cancelled):
        print("looking", flush=True)
        cancelled.wait(60)
        raise LinkError("ended", port="Grip", reason=LinkFailure.FAILED)
    def ask():
        try:
            opened_aside(work, PlanDraft(port="Grip", sensor="ble-lines"), Words(), window)
        except LinkError:
            print("given up", flush=True)
    QTimer.singleShot(100, ask)
    return window
app.build_window = built
raise SystemExit(app.run_window(state=Path(sys.argv[1]) / "remembered.json"))
"""
"""The window, with a dialog over it that looks for a Bluetooth sensor."""


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_signal_closes_the_dialog_and_then_the_window(started, tmp_path, monkeypatch, number):
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    (tmp_path / "looking.py").write_text(DIALOG)
    program = started(tmp_path, module="looking")
    program.out.until("looking")
    os.kill(program.process.pid, number)
    assert program.wait().code == 0
    program.out.until("given up")


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_signal_closes_the_window_and_saves_the_trial_under_way(started, tmp_path, monkeypatch, number):
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    (tmp_path / "begun.py").write_text(BEGUN)
    program = started(tmp_path, module="begun")
    program.out.until("hold")
    os.kill(program.process.pid, number)
    result = program.wait()
    assert (result.code, result.err.replace("This plugin does not support propagateSizeHints()", "").strip()) == (0, "")
    (path,) = tmp_path.glob("window-*.h5")
    assert [trial.damage for trial in read_session(path).trials] == [("the recording was stopped during the trial",)]
    assert not list(tmp_path.glob("*.journal"))
