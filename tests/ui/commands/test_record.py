"""Recording from a sensor on a serial line: it ends by itself, and says and keeps what was pushed."""

import os
import pty
import re
from datetime import UTC, datetime, timedelta

import pytest
from record_bench import SENSOR, verdicts

from acquire.sensor.calibration_file import save_calibration
from acquire.sensor.profile import load_profile
from acquire.storage.session_file import read_session
from acquire.values.calibration import CalibrationPoint, fit_calibration
from ui.words.calibration_text import calibration_sentence
from ui.words.words import ENGLISH


@pytest.mark.slow
def test_count_ends_the_recording_by_itself(ramphold, bench):
    bench.plug("good", "fast-ramp", "good", "good")
    result = ramphold(*bench.record("--count", 2, "--json"))
    assert result.code == 0
    assert set(result.json) == {"protocol", "files"}
    (file,) = result.json["files"]
    assert set(file) == {"file", "calibration", "trials", "contacts"}
    assert [trial["verdict"] for trial in file["trials"]] == ["accepted", "rejected"]
    assert verdicts(bench.stored()) == ["accepted", "rejected"], "not one trial more than was asked for"
    assert "2 trials saved" in result.err


@pytest.mark.slow
def test_recorded_verdicts_are_those_of_analyse(ramphold, bench):
    bench.plug("shake", "good")
    recorded = ramphold(*bench.record("--count", 2, "--json", "--examiner-limit", 200))
    assert ramphold("analyse", bench.out, "--json").json == recorded.json
    assert [trial["faults"][-1]["code"] for trial in recorded.trials] == ["examiner-limit"] * 2


@pytest.mark.slow
def test_text_lines_are_recorded_like_packets(started, bench):
    sensor = bench.plug("good", "jerk", sensor="bridge-320", options=("--held",))
    program = started(*bench.record("--count", 2, sensor="bridge-320"))
    program.out.until("now: ")
    sensor.process.stdin.write("go\n")
    sensor.process.stdin.flush()
    result = program.wait()
    assert result.code == 0
    good, jerk = bench.stored()
    assert verdicts((good, jerk)) == ["accepted", "rejected"]
    assert good.verdict["plateau_force_n"] == pytest.approx(250.0, rel=0.02)
    assert "0 samples lost, 0 damaged data packets" in result.out


def test_what_was_said_of_the_person_and_the_trial_is_kept(ramphold, bench):
    bench.plug("good")
    who = ("--person", "P-3", "--sex", "female", "--age", 31, "--mass", 64, "--height", 1.7, "--dominant", "left")
    what = ("--action", "knee-extension", "--side", "left", "--method", "belt", "--lever-arm", 0.33)
    what = (*what, "--resting-force", -7.5)
    before = datetime.now(UTC)
    result = ramphold(*bench.record("--count", 1, *who, *what, "--examiner", "X-4", "--examiner-limit", 240))
    assert result.code == 0
    session = read_session(bench.out)
    person = session.context.person
    assert (person.code, person.sex, person.age_years, person.mass_kg) == ("P-3", "female", 31.0, 64.0)
    assert (person.height_m, person.dominant_side) == (1.7, "left")
    assert (session.context.sensor, session.context.examiner) == (SENSOR, "X-4")
    assert session.context.invented is False
    context = session.trials[0].context
    assert (context.action, context.side, context.method) == ("knee-extension", "left", "belt")
    assert (context.lever_arm_m, context.resting_force_n) == (0.33, -7.5)
    assert (context.examiner, context.examiner_limit_n) == ("X-4", 240.0)
    # The trial's ten seconds, counted back from its end, took half a second of this sensor's fast life.
    assert before - timedelta(seconds=15.0) < context.started < datetime.now(UTC)


def test_cautions_are_shown_and_nobody_acknowledged_them_without_a_terminal(ramphold, bench):
    bench.plug("good")
    result = ramphold(*bench.record("--count", 1))
    assert "Stop at once on pain" in result.err
    assert read_session(bench.out).context.cautions_acknowledged is None


@pytest.mark.slow
@pytest.mark.parametrize("answer", [b"\n", b"\x04"], ids=["enter", "end of input"])
def test_cautions_in_a_terminal_wait_for_an_answer(started, bench, answer):
    bench.plug("good")
    ours, theirs = pty.openpty()
    try:
        program = started(*bench.record("--count", 1, "--json"), stdin=theirs)
        program.err.until("Local rules and licensed practice decide")
        os.write(ours, answer)
        result = program.wait()
    finally:
        os.close(ours)
        os.close(theirs)
    assert result.code == 0
    assert len(result.trials) == 1, "standard output holds the JSON and no question"
    acknowledged = read_session(bench.out).context.cautions_acknowledged
    assert (acknowledged is not None) is (answer == b"\n")


def test_uncalibrated_sensor_is_said_to_be_so(ramphold, bench):
    bench.plug("good")
    result = ramphold(*bench.record("--count", 1))
    assert "not calibrated: newtons come from the nominal sensitivity of the profile" in result.out.splitlines()
    assert bench.stored()[0].calibration.points == ()


def test_calibration_turns_the_counts_into_newtons(ramphold, bench, tmp_path):
    nominal = load_profile(SENSOR).counts_per_newton
    points = [CalibrationPoint(load_n=n, counts=500.0 + n * nominal / 1.1) for n in (0.0, 100.0, 300.0)]
    made = fit_calibration(points, rated_force_n=1000.0, serial="LC-9", date=datetime.now(UTC).date(), by="X-4")
    save_calibration(tmp_path / "cell.toml", made)
    bench.plug("good")
    result = ramphold(*bench.record("--count", 1, "--calibration", tmp_path / "cell.toml"))
    statement = calibration_sentence(made, datetime.now(UTC).date(), ENGLISH)
    assert "LC-9" in statement
    assert statement in result.out.splitlines()
    (trial,) = bench.stored()
    assert trial.calibration == made
    assert trial.verdict["plateau_force_n"] == pytest.approx(1.1 * 250.0, rel=0.02)


@pytest.mark.slow
def test_ctrl_c_in_a_trial_keeps_it_and_says_so(started, bench):
    bench.plug("good", "good", options=("--stall-after", 16.5, "--stall-for", 1e6))
    program = started(*bench.record())
    program.out.until("stopped sending")  # in the hold of the second effort, 16.5 s into the stream
    assert bench.journal.exists()
    program.press_ctrl_c()
    result = program.wait()
    assert result.code == 0
    assert "2 trials saved" in result.err + result.out
    whole, cut = bench.stored()
    assert whole.damage == ()
    assert whole.verdict["verdict"] == "accepted"
    assert cut.damage == ("the recording was stopped during the trial",)
    assert cut.verdict["release_s"] is None


@pytest.mark.slow
def test_polite_kill_ends_in_good_order_too(started, bench):
    bench.plug("good")
    program = started(*bench.record())
    program.out.until("  accepted")
    program.process.terminate()
    assert program.wait().code == 0
    assert verdicts(bench.stored()) == ["accepted"]


@pytest.mark.slow
def test_ctrl_c_before_any_effort_writes_nothing(started, bench):
    bench.plug("no-effort")
    program = started(*bench.record())
    program.out.until("stopped sending")
    program.press_ctrl_c()
    result = program.wait()
    assert result.code == 0
    assert "no trial was recorded" in result.err + result.out
    assert not bench.out.exists()
    assert not bench.journal.exists()


def battery(tmp_path):
    path = tmp_path / "two.toml"
    path.write_text(
        '[[item]]\naction = "knee-extension"\nside = "left"\nmethod = "belt"\nlever_arm_m = 0.31\n\n'
        '[[item]]\naction = "elbow-flexion"\nside = "right"\nmethod = "hand"\n'
    )
    return path


KNEE = ("knee-extension", "left", "belt", 0.31)

ELBOW = ("elbow-flexion", "right", "hand", None)


def items(trials):
    return [(t.context.action, t.context.side, t.context.method, t.context.lever_arm_m) for t in trials]


@pytest.mark.slow
def test_battery_ends_by_itself_and_names_its_trials(ramphold, bench, tmp_path):
    bench.plug("jerk", "good", "good", "good", speed=20)
    result = ramphold(*bench.record("--battery", battery(tmp_path), "--trials", 1))
    assert result.code == 0
    trials = bench.stored()
    assert verdicts(trials) == ["rejected", "accepted", "accepted"]
    assert items(trials) == [KNEE, KNEE, ELBOW]
    assert result.out.index("now: knee extension, left, belt") < result.out.index("now: elbow flexion, right, hand")


@pytest.mark.slow
def test_battery_goes_on_after_kill_9_where_it_stopped(started, ramphold, bench, tmp_path):
    first = bench.plug("good")
    command = bench.record("--battery", battery(tmp_path), "--trials", 1)
    program = started(*command)
    program.out.until("now: elbow flexion")
    program.kill()
    program.wait()
    first.close()
    bench.plug("good", "good")
    result = ramphold(*command)
    assert result.code == 0
    assert "now: knee extension" not in result.out
    assert items(bench.stored()) == [KNEE, ELBOW]


@pytest.mark.slow
def test_battery_that_is_done_is_not_begun_again(ramphold, bench, tmp_path):
    command = bench.record("--battery", battery(tmp_path), "--trials", 1)
    first = bench.plug("good", "good", speed=20)
    assert ramphold(*command).code == 0
    first.close()
    bench.plug("good")
    result = ramphold(*command, "--resume")
    assert result.code == 0
    assert "all that was asked for is in" in result.err + result.out
    assert len(bench.stored()) == 2


def test_count_within_a_battery_ends_it_early(ramphold, bench, tmp_path):
    bench.plug("good", "good")
    result = ramphold(*bench.record("--battery", battery(tmp_path), "--trials", 1, "--count", 1))
    assert result.code == 0
    assert items(bench.stored()) == [KNEE]


def test_damaged_packets_are_counted_and_noted_with_their_trial(ramphold, bench):
    bench.plug("good", options=("--corrupt-every", 100))
    result = ramphold(*bench.record("--count", 1))
    assert result.code == 0
    (trial,) = bench.stored()
    assert trial.damage
    assert trial.trace().lost > 0
    assert "lost-samples" in {fault["code"] for fault in trial.verdict["faults"]}
    lost, damaged = map(int, re.search(r"(\d+) samples lost, (\d+) damaged data packets", result.out).groups())
    assert lost == 10 * damaged > 0, "ten samples a packet"


@pytest.mark.slow
def test_simulated_sensor_needs_no_port(ramphold, bench):
    result = ramphold("record", "--sensor", "simulated", "--speed", 100, "--out", bench.out, "--count", 3)
    assert result.code == 0
    assert verdicts(bench.stored()) == ["accepted", "accepted", "rejected"]


@pytest.mark.slow
def test_without_battery_or_count_it_goes_on_until_ctrl_c(started, bench):
    bench.plug(*["good"] * 6, speed=50)
    program = started(*bench.record())
    program.out.until("  accepted", times=5)  # the three of a set do not end it
    program.press_ctrl_c()
    assert program.wait().code == 0
    assert len(bench.stored()) >= 5
