"""A whole battery in the real window, carried through by the space bar alone, with every kind of trouble."""

import re
import sys
from dataclasses import replace
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from subprocess import PIPE, Popen

import msgspec
import numpy as np
import pytest
from PyQt6.QtCore import Qt, QTimer
from PyQt6.QtWidgets import QApplication, QInputDialog, QLabel, QMessageBox, QPushButton

from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import FAULTY, GOOD
from acquire.storage.session_file import read_session
from acquire.values.records import Person
from acquire.values.units import ForceUnit
from ui.model.plan.plan import PlanDraft
from ui.model.plan.remembered import Remembered
from ui.model.theme import DARK
from ui.session.battery_progress import Result
from ui.session.crash import journal_path
from ui.session.cues import Cue
from ui.session.events import Trouble, Verdict
from ui.session.open_sensor import RESTING_S, UNLOADED, simulated_counts
from ui.session.simulated_person import STEADY, SimulatedPerson
from ui.window import app
from ui.window.stage.sound import Sound
from ui.window.stage.trace_view import EFFORT_SPAN, MINUTE_SPAN, TraceView
from ui.window.stage.trials_row import SideRow
from ui.window.widgets.ask import DecisionDialog
from ui.window.widgets.big_text import BigText

pytestmark = pytest.mark.slow

SPEED = 20.0
ACTIONS = ("shoulder-abduction", "elbow-flexion", "knee-extension")


@pytest.fixture
def draft(tmp_path):
    text = (files("analysis") / "data" / "protocols" / "ramp-and-hold.toml").read_text()
    short = text.replace("rest_least_s = 60.0", "rest_least_s = 3.0").replace('"ramp-and-hold"', '"short-rests"')
    (tmp_path / "short.toml").write_text(short)
    return PlanDraft(
        person=Person(code="P-1"),
        examiner="X1",
        battery="own",
        own=ACTIONS,
        trials=1,
        rest_s=25.0,
        protocol=str(tmp_path / "short.toml"),
        out=str(tmp_path / "session.h5"),
        cautions_acknowledged=datetime.now(UTC),
    )


@pytest.fixture
def opened(tmp_path, monkeypatch, qtbot):
    """Open the window; nothing of the real user is touched, and nothing sounds."""
    monkeypatch.setattr(app, "Sound", lambda words: Sound(words, volume=0.0))
    windows = []

    def open_window(plan, *, efforts=(STEADY,), speed=SPEED):
        window = app.build_window(
            Remembered(tmp_path / "remembered.json"), DARK, draft=plan, efforts=efforts, speed=speed
        )
        window.show()
        window.activateWindow()
        qtbot.waitUntil(window.isActiveWindow)
        window.asks_in_trial = False
        windows.append(window)
        return window

    yield open_window
    for window in windows:
        window.close()


def press(qtbot, window):
    """Press the space bar wherever the focus is."""
    qtbot.keyClick(window.focusWidget() or window, Qt.Key.Key_Space)


def go_on(qtbot, window):
    """Take the one offer to go on with a session, acknowledge the cautions anew, and begin; by the space bar alone."""
    offers = [button for button in window.findChildren(QPushButton) if button.text() == window.words("plan.go_on")]
    assert offers == [window.focusWidget()]
    press(qtbot, window)
    assert not window.plan.last.understood.isChecked()
    press(qtbot, window)
    window.plan.last.begin.setFocus()
    press(qtbot, window)


def carry_through(qtbot, window, *, until, seen=None):
    """Press space whenever the window asks for it, until something is true."""

    def step():
        if until():
            return True
        session = window.test.session
        if session is not None and seen is not None and seen[-1:] != [session.engine.cue]:
            seen.append(session.engine.cue)
        if session is not None and window.place == "test" and session.engine.cue in {Cue.PLACE, Cue.DONE}:
            press(qtbot, window)
        return False

    qtbot.waitUntil(step, timeout=60_000)


def test_three_actions_both_sides_by_the_space_bar_alone(qtbot, opened, draft):
    plan = msgspec.structs.replace(draft, examiner_limit_n=230.0)
    strong = msgspec.structs.replace(STEADY, plateau_n=245.0)
    hasty = msgspec.structs.replace(FAULTY["fast-ramp"], plateau_n=200.0)
    window = opened(plan, efforts=(hasty, STEADY, STEADY, strong, *(STEADY,) * 6))
    assert window.place == "plan"
    press(qtbot, window)
    assert window.place == "test"
    seen = []
    carry_through(qtbot, window, until=lambda: window.place == "review", seen=seen)
    assert {Cue.PLACE, Cue.SET, Cue.GO, Cue.BUILD, Cue.HOLD, Cue.STOP, Cue.REST} <= set(seen)

    trials = read_session(plan.out).trials
    done = [(t.context.action, t.context.side, t.context.method, t.verdict["verdict"]) for t in trials]
    # the fast ramp was rejected and repeated
    assert done[0][3] == "rejected"
    assert [f["code"] for f in trials[0].verdict["faults"] if f["severity"] == "reject"] == ["fast-ramp"]
    assert (*done[0][:3], "accepted") in done
    # the plateau above the examiner's limit was repeated with a belt
    warned = [t for t in trials if "examiner-limit" in [f["code"] for f in t.verdict["faults"]]]
    assert [t.context.method for t in warned] == ["hand"]
    again = (warned[0].context.action, warned[0].context.side, "belt", "accepted")
    assert again in done
    # and every item has an accepted trial
    assert {d[:2] for d in done if d[3] == "accepted"} == {(a, s) for a in ACTIONS for s in ("left", "right")}
    assert not journal_path(Path(plan.out)).exists()


def test_last_trial_set_aside_in_mid_battery_is_kept_and_tried_again(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[:1], sides=("left",)))
    press(qtbot, window)
    carry_through(qtbot, window, until=lambda: window.test.session.to_set_aside == 0)
    qtbot.keyClick(window.test, Qt.Key.Key_Delete)
    (dialog,) = window.test.findChildren(DecisionDialog)
    qtbot.keyClicks(dialog.reason, "the pad slipped")
    qtbot.keyClick(dialog.reason, Qt.Key.Key_Return)
    assert window.test.session.engine.item.results == ()
    carry_through(qtbot, window, until=lambda: window.place == "review")
    first, *others = read_session(draft.out).trials
    assert (first.is_aside, first.set_aside[-1].reason, first.set_aside[-1].by) == (True, "the pad slipped", "X1")
    assert [trial.verdict["verdict"] for trial in others] == ["accepted"]


def test_escape_ends_a_trial_at_once_and_what_was_pushed_is_kept(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[:1], sides=("left",)))
    press(qtbot, window)
    session = window.test.session
    carry_through(qtbot, window, until=lambda: session.engine.cue is Cue.HOLD)
    qtbot.keyClick(window.test, Qt.Key.Key_Escape)
    assert session.engine.cue is Cue.HALTED
    qtbot.waitUntil(lambda: len(session.trials) == 1, timeout=20_000)
    assert session.engine.item.results == ()
    qtbot.keyClick(window.test, Qt.Key.Key_N)
    (dialog,) = window.test.findChildren(QInputDialog)
    assert session.busy
    dialog.setTextValue(" the knee hurt ")
    dialog.accept()
    assert not session.busy
    qtbot.waitUntil(lambda: session.engine.cue is Cue.REST, timeout=20_000)
    window.test.tick()
    assert window.test.view.board.cue.below.text() == window.words("test.halted")
    carry_through(qtbot, window, until=lambda: window.place == "review")
    first, _ = read_session(draft.out).trials
    assert [(note.text, note.by) for note in first.notes] == [("the knee hurt", "X1")]


def test_item_left_out_makes_room_for_the_next(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[:2], sides=("left",)))
    press(qtbot, window)
    first = window.test.session.engine.item.context.action
    qtbot.keyClick(window.test, Qt.Key.Key_N, Qt.KeyboardModifier.ControlModifier)
    assert window.test.session.engine.item.context.action != first
    qtbot.keyClick(window.test, Qt.Key.Key_N, Qt.KeyboardModifier.ControlModifier)
    assert window.test.session.engine.cue is Cue.DONE


def test_minute_view_shows_the_stream_and_the_effort_comes_back(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[:1], sides=("left",)))
    press(qtbot, window)
    trace = window.test.findChild(TraceView)
    for span in (MINUTE_SPAN, EFFORT_SPAN):
        qtbot.keyClick(window.test, Qt.Key.Key_M, Qt.KeyboardModifier.ControlModifier)
        assert trace.span is span
        qtbot.waitUntil(lambda: trace.has_trace, timeout=10_000)
        trace.grab()


def test_verdict_is_there_within_a_third_of_a_second_of_the_release(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[:1], sides=("left",)), speed=2.0)
    press(qtbot, window)
    session, noted = window.test.session, {}
    tick = session.tick

    def watched():
        happened = tick()
        pipeline = session.recorder.pipeline
        for happening in happened:
            if isinstance(happening, Verdict):
                noted["final" if happening.final else "first"] = (happening, pipeline.now)
        return happened

    session.tick = watched
    carry_through(qtbot, window, until=lambda: "final" in noted)
    (first, at), (last, _) = noted["first"], noted["final"]
    began = float(last.judged.trial.time[0])
    released = began + last.judged.judgement.measures.release_s
    assert 0.0 < at - released < 0.3 + 0.5 * GOOD.fall_s
    assert first.judged.judgement.verdict == last.judged.judgement.verdict == "accepted"


def test_verdict_stands_in_the_place_of_the_cue_until_the_next_press(qtbot, opened, draft):
    window = opened(
        msgspec.structs.replace(draft, own=ACTIONS[:1], sides=("left", "right")), efforts=(FAULTY["fast-ramp"],)
    )
    press(qtbot, window)
    carry_through(qtbot, window, until=lambda: window.test.banner is not None)
    assert (window.test.banner.word, window.test.banner.accepted) == ("TOO FAST", False)
    cue = window.test.view.board.cue
    window.test.tick()
    assert cue.big.text() == "TOO FAST"
    place = cue.geometry()
    press(qtbot, window)
    assert window.test.banner is None
    window.test.tick()
    assert cue.big.text() != "TOO FAST"
    assert cue.geometry() == place, "nothing moves"


def test_closing_in_mid_trial_loses_nothing_and_the_next_start_goes_on(qtbot, opened, draft):
    plan = msgspec.structs.replace(draft, own=ACTIONS[:2], sides=("left",))
    window = opened(plan)
    press(qtbot, window)
    carry_through(qtbot, window, until=lambda: len(window.test.session.trials) == 1)
    carry_through(qtbot, window, until=lambda: window.test.session.engine.cue is Cue.HOLD)
    window.close()
    trials = read_session(plan.out).trials
    assert len(trials) == 2
    assert trials[1].damage == ("the recording was stopped during the trial",)

    again = opened(msgspec.structs.replace(draft, out=plan.out + ".other"))
    go_on(qtbot, again)
    assert again.place == "test"
    assert again.test.session.engine.view().done >= 1
    carry_through(qtbot, again, until=lambda: again.place == "review")
    done = read_session(plan.out).trials
    assert {t.context.action for t in done if t.verdict["verdict"] == "accepted"} == set(ACTIONS[:2])


def start_device(folder, counts, starts, link):
    np.save(folder / "counts.npy", counts)
    command = [sys.executable, "-m", "acquire.simulation", "--profile", "packets-1k", "--link", str(link)]
    command += ["--counts", str(folder / "counts.npy"), "--speed", "5", "--starts", *map(str, starts)]
    device = Popen(command, stdin=PIPE, stdout=PIPE)
    device.stdout.readline()  # the port is there
    return device


def test_unplugged_in_mid_trial_and_back_again(qtbot, opened, draft, tmp_path):
    profile = load_profile("packets-1k")
    rest = msgspec.structs.replace(UNLOADED, rest_before_s=RESTING_S)
    short = msgspec.structs.replace(STEADY, rest_before_s=0.4, rest_after_s=0.2)
    pieces = [simulated_counts(profile, (effort,)) for effort in (rest, short)]
    link, counts, starts = tmp_path / "port", np.concatenate(pieces), [0, len(pieces[0])]
    device = start_device(tmp_path, counts, starts, link)
    try:
        plan = msgspec.structs.replace(draft, own=ACTIONS[:1], sides=("left",), sensor="packets-1k", port=str(link))
        window = opened(plan)
        press(qtbot, window)
        session, told = window.test.session, []
        session.on_cue = SimulatedPerson(session.recorder.send).on_cue
        tick = session.tick
        session.tick = lambda: told.extend(found := tick()) or found
        carry_through(qtbot, window, until=lambda: session.engine.cue is Cue.BUILD)
        device.stdin.close()
        device.wait(10)
        qtbot.waitUntil(lambda: session.engine.cue is Cue.LOST, timeout=10_000)
        qtbot.waitUntil(lambda: len(session.trials) == 1, timeout=10_000)
        assert session.trials[0].trial.damage == ("the link to the sensor was lost during the trial",)

        device.stdout.close()
        device = start_device(tmp_path, counts, starts, link)
        qtbot.waitUntil(lambda: session.engine.cue is not Cue.LOST, timeout=10_000)
        assert [t.error is None for t in told if isinstance(t, Trouble)] == [False, True]
        carry_through(qtbot, window, until=lambda: window.place == "review")
    finally:
        device.stdin.close()
        device.wait(10)
        device.stdout.close()
    trials = read_session(plan.out).trials
    assert [t.verdict["verdict"] for t in trials][-1] == "accepted"
    assert trials[0].damage


def test_window_that_hangs_for_five_seconds_loses_no_sample(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[:1], sides=("left",)), speed=2.5)
    press(qtbot, window)
    session = window.test.session
    qtbot.waitUntil(lambda: session.recorder.pipeline.ring.written > 500, timeout=10_000)
    before = session.recorder.pipeline.ring.written
    session.recorder.next_event(2.0)  # the window's thread does nothing else for five seconds of the sensor's
    after = session.recorder.pipeline.ring.written
    assert after - before > 4500
    assert session.recorder.pipeline.timebase.lost == 0


@pytest.mark.parametrize("hidden", [True, False])
def test_forces_are_in_the_unit_of_the_plan_or_hidden_wherever_they_stand(qtbot, opened, draft, hidden):
    """Beyond the examiner's limit, so that the sentence has forces in it."""
    plan = msgspec.structs.replace(draft, own=ACTIONS[1:2], sides=("left",), trials=2, examiner_limit_n=150.0)
    window = opened(msgspec.structs.replace(plan, unit=ForceUnit.POUND_FORCE, hide_number=hidden))
    press(qtbot, window)
    carry_through(qtbot, window, until=lambda: window.test.session.trials)
    window.test.tick()
    texts = [*window.test.findChildren(QLabel), *window.test.findChildren(BigText)]
    rows = [row.row.heard for row in window.test.findChildren(SideRow) if row.isVisible()]
    shown = " ".join([*(part.text() for part in texts if part.isVisible()), *rows])
    forces = re.findall(r"[\d.]+ (?:N|kgf|lbf)\b", shown)
    assert "repeat it with a belt" in window.test.view.board.cue.below.text()
    if hidden:
        assert (window.test.view.board.number.number.text(), forces) == ("\u2013", [])
    else:
        assert "33.7 lbf that" in window.test.view.board.cue.below.text()  # 150 N / 4.4482216152605 N
        assert {force.split()[1] for force in forces} == {"lbf"}
        assert len(forces) >= 3


def test_session_that_cannot_be_saved_says_so_and_closes_at_the_second_time(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[:1], sides=("left",)))
    press(qtbot, window)
    session, path = window.test.session, Path(draft.out)
    carry_through(qtbot, window, until=lambda: session.engine.cue is Cue.HOLD)
    path.mkdir()
    carry_through(qtbot, window, until=lambda: session.engine.cue is Cue.DONE and session.settled)
    assert "Not saved: " in window.test.view.board.cue.below.text()
    assert "cannot be written" in window.test.view.board.cue.below.text()
    press(qtbot, window)
    assert (window.place, window.test.session) == ("test", session)
    assert not window.close()
    assert window.isVisible()
    assert window.close()
    path.rmdir()
    go_on(qtbot, opened(msgspec.structs.replace(draft, out=f"{path}.other")))
    assert [t.verdict["verdict"] for t in read_session(path).trials] == ["accepted"]


def test_begin_while_a_session_is_recorded_says_so_and_the_session_goes_on(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[:1], sides=("left",)))
    press(qtbot, window)
    session = window.test.session
    carry_through(qtbot, window, until=lambda: session.engine.cue is Cue.HOLD)
    qtbot.keyClick(window, Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    window.plan.edit(lambda plan: msgspec.structs.replace(plan, out=f"{draft.out}.other"))
    window.plan.press()
    assert window.words("plan.recording") in window.plan.last.status.text()
    assert (window.place, window.test.session) == ("plan", session)
    window.go("test")
    carry_through(qtbot, window, until=lambda: window.place == "review")
    assert [trial.damage for trial in read_session(draft.out).trials] == [()]


def test_space_is_offered_in_a_rest_only_when_it_may_be_cut_short(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[1:2], sides=("left",), trials=2))
    press(qtbot, window)
    session = window.test.session
    carry_through(qtbot, window, until=lambda: session.engine.cue is Cue.REST)
    window.test.tick()
    press(qtbot, window)  # the verdict gives way to the cue
    assert window.test.view.board.cue.below.text().startswith("rest at least ")
    press(qtbot, window)
    assert session.engine.cue is Cue.REST
    qtbot.waitUntil(lambda: window.test.view.board.cue.below.text() == "space: begin now", timeout=10_000)
    press(qtbot, window)
    assert session.engine.cue is Cue.SET


def boxes(window):
    return [box.title for box in window.test.view.board.trials.rows[0].boxes]


def test_of_many_trials_the_last_are_shown(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[1:2], sides=("left",), trials=8))
    press(qtbot, window)
    engine = window.test.session.engine
    window.test.tick()
    assert boxes(window) == [f"trial {number}" for number in range(1, 9)]
    done = Result(verdict="accepted", plateau_n=200.0, codes=())
    for count, titles in ((4, range(1, 9)), (9, range(3, 11))):
        engine.items[0] = replace(engine.items[0], results=(done,) * count)
        window.test.tick()
        assert boxes(window) == [f"trial {number}" for number in titles]


def test_language_and_unit_stay_while_a_session_is_recorded(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[:1], sides=("left",)))
    sensor = window.plan.sensor
    assert sensor.language.isEnabled()
    press(qtbot, window)
    assert not sensor.language.isEnabled()
    assert not sensor.unit.isEnabled()
    assert "being recorded" in sensor.language.toolTip()
    qtbot.keyClick(window.test, Qt.Key.Key_N, Qt.KeyboardModifier.ControlModifier)
    press(qtbot, window)
    assert window.place == "review"
    assert sensor.language.isEnabled()


@pytest.mark.slow
def test_page_of_a_battery_that_is_done_repeats_reports_and_goes_on_to_the_next_person(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[:1], sides=("left",)))
    press(qtbot, window)
    session, page = window.test.session, window.test.view.done
    carry_through(qtbot, window, until=page.isVisible)
    assert [page.table.item(0, column).text() for column in (0, 1)] == ["Shoulder abduction", "left, by hand"]
    assert page.table.item(0, 2).text().split()[1] in {"N,", "±"}
    qtbot.keyClick(window, Qt.Key.Key_R)
    assert session.engine.cue in {Cue.REST, Cue.PLACE}
    assert not page.isVisible()
    carry_through(qtbot, window, until=lambda: len(session.trials) == 2 and page.isVisible())
    qtbot.keyClick(window, Qt.Key.Key_F6)
    report = Path(draft.out).with_name("session-report.pdf")
    assert report.exists()
    assert "session-report.pdf" in page.below.text()
    made = report.read_bytes()
    QTimer.singleShot(0, lambda: QApplication.activeModalWidget().reject())
    qtbot.keyClick(window, Qt.Key.Key_F6)
    assert report.read_bytes() == made, "nothing is replaced unasked"
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    qtbot.keyClick(window, Qt.Key.Key_F7)
    assert window.place == "plan"
    assert window.test.session is None
    assert window.plan.draft.person == Person()
    assert len(read_session(draft.out).trials) == 2


@pytest.mark.slow
def test_closing_in_mid_trial_asks_once_and_keeps_all(qtbot, opened, draft):
    window = opened(msgspec.structs.replace(draft, own=ACTIONS[:1], sides=("left",)))
    window.asks_in_trial = True
    press(qtbot, window)
    window.test.view.change_person_screen()
    carry_through(qtbot, window, until=lambda: window.test.session.engine.cue is Cue.HOLD)
    window.test.tick()
    person = window.test.view.person
    assert person.isVisible()
    assert (person.cue.big.text(), person.number.number.text()) == ("HOLD", window.test.view.board.number.number.text())
    assert person.trace.has_trace
    # a screen reader hears cue, force and curve
    board = window.test.view.board
    assert board.cue.big.accessibleName() == "what to do now: HOLD"
    assert re.fullmatch(r"force now: -?\d+ newtons", board.number.number.accessibleName())
    assert board.trace.accessibleName() == "force over time"
    assert re.fullmatch(r"-?\d+ N now, \d+ N at the most", board.trace.accessibleDescription())
    window.close()
    (box,) = window.findChildren(QMessageBox)
    assert window.isVisible()
    assert box.text() == window.words("stage.close_ask")
    next(button for button in box.buttons() if button.text() == window.words("stage.close_yes")).click()
    qtbot.waitUntil(lambda: not window.isVisible())
    assert window.test.view.person is None
    assert len(read_session(draft.out).trials) == 1
