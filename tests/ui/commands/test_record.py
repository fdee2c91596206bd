"""Recording from a sensor on a serial line: it ends by itself, and nothing that goes wrong costs a trial."""

import os
import pty
import re
from datetime import UTC, date, datetime, timedelta

import msgspec
import pytest

from acquire.sensor.calibration_file import save_calibration
from acquire.sensor.profile import load_profile
from acquire.storage.session_file import read_session
from acquire.values.calibration import Calibration, CalibrationPoint, fit_calibration
from acquire.values.remarks import TrialEnd
from ui.words.calibration_text import calibration_sentence
from ui.words.words import ENGLISH

SENSOR = "packets-1k"


class Bench:
    """A sensor on a port, and the session that is recorded from it."""

    def __init__(self, device, force, folder):
        self._device = device
        self._force = force
        self.port = folder / "ttySIM0"
        self.out = folder / "session.h5"
        self.journal = folder / "session.h5.journal"

    def plug(self, *codes, sensor=SENSOR, options=(), **more):
        """Plug in a sensor on which these efforts will be made; it begins when the port is opened."""
        force = self._force(*codes, rate_hz=load_profile(sensor).rate_hz)
        return self._device(sensor, force, *options, link=self.port, **more)

    def record(self, *more, sensor=SENSOR):
        """Return the command that records from it."""
        return ("record", "--sensor", sensor, "--port", self.port, "--out", self.out, *more)

    def stored(self):
        """Return the trials of a session that was closed in good order."""
        assert not self.journal.exists()
        assert [path.name for path in self.out.parent.iterdir() if path.name.endswith(".part")] == []
        return read_session(self.out).trials


@pytest.fixture
def bench(device, force, tmp_path):
    return Bench(device, force, tmp_path)


def verdicts(trials):
    return [trial.verdict["verdict"] for trial in trials]


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


@pytest.mark.slow
def test_same_command_after_kill_9_recovers_and_goes_on(started, ramphold, bench):
    first = bench.plug("good", "shake", options=("--stall-after", 16.5, "--stall-for", 1e6))
    command = bench.record("--count", 2, "--person", "P-3")
    program = started(*command)
    program.out.until("stopped sending")
    program.kill()
    program.wait()
    assert bench.journal.exists()
    before = read_session(bench.out)
    assert verdicts(before.trials) == ["accepted"]
    first.close()
    bench.plug("jerk", "good")
    result = ramphold(*command)
    assert result.code == 0
    assert "recovered 1 trial that an earlier run had not saved" in result.out
    after = read_session(bench.out)
    assert after.context == before.context
    assert verdicts(bench.stored()) == ["accepted", "rejected", "rejected"], "the one broken off is not of the two"
    assert "\n    3  " in result.out, "the table goes on with the numbers of the session"
    assert after.trials[1].damage == ("the program ended during the trial",)
    assert (after.trials[0].counts == before.trials[0].counts).all()
    assert [trial.damage for trial in after.trials[2:]] == [()]


@pytest.mark.slow
def test_journal_of_a_session_never_saved_is_recovered(started, ramphold, bench):
    first = bench.plug("good", options=("--stall-after", 6.0, "--stall-for", 1e6))
    program = started(*bench.record("--count", 1, "--action", "hip-abduction", "--side", "right"))
    program.out.until("stopped sending")
    program.kill()
    program.wait()
    assert not bench.out.exists()
    first.close()
    bench.plug("good")
    result = ramphold(*bench.record("--count", 1))
    assert result.code == 0
    cut, new = bench.stored()
    assert cut.damage == ("the program ended during the trial",)
    assert (cut.context.action, cut.context.side) == ("hip-abduction", "right")
    assert new.context.action is None


@pytest.mark.slow
def test_unplugged_in_a_trial_and_plugged_in_again(started, bench):
    bench.plug("good", "good", options=("--unplug-after", 16.5))
    program = started(*bench.record("--count", 2))
    program.out.until("was unplugged")
    bench.plug("jerk", "good")
    program.out.until("the sensor is back")
    result = program.wait()
    assert result.code == 0
    whole, cut, later = bench.stored()
    assert (whole.damage, later.damage) == ((), ())
    assert cut.damage == ("the link to the sensor was lost during the trial",)
    assert cut.trace().force.max() > 200.0, "what it sent is kept"
    assert cut.set_aside[-1].reason == TrialEnd.LINK_LOST, "and it is not of the two"
    assert verdicts((whole, later)) == ["accepted", "rejected"]
    assert "jerk" in {fault["code"] for fault in later.verdict["faults"]}
    assert whole.time[-1] < cut.time[0] < cut.time[-1] < later.time[0]


@pytest.mark.slow
def test_trial_of_an_unplugged_sensor_is_recovered_once_after_kill_9(started, ramphold, bench):
    bench.plug("good", options=("--unplug-after", 6.0))
    program = started(*bench.record())
    program.out.until("was unplugged")
    program.out.until("set aside: the link to the sensor was lost")
    program.kill()
    program.wait()
    bench.plug("good")
    assert ramphold(*bench.record("--count", 1)).code == 0
    cut, new = bench.stored()
    assert cut.damage == ("the link to the sensor was lost during the trial",)
    assert new.verdict["verdict"] == "accepted"


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


@pytest.mark.slow
def test_resume_adds_to_the_session(ramphold, bench):
    first = bench.plug("good")
    assert ramphold(*bench.record("--count", 1, "--person", "P-3")).code == 0
    context = read_session(bench.out).context
    first.close()
    bench.plug("jerk")
    result = ramphold(*bench.record("--count", 2, "--resume", "--json"))
    assert result.code == 0
    assert len(result.trials) == 1, "the JSON holds what this run recorded"
    assert read_session(bench.out).context == context, "the session is the one that was begun"
    assert verdicts(bench.stored()) == ["accepted", "rejected"]


def test_journal_that_was_only_begun_is_no_dead_end(ramphold, bench):
    bench.journal.touch()
    bench.plug("good")
    result = ramphold(*bench.record("--count", 1))
    assert result.code == 0
    assert f"a journal that an earlier run had only begun held nothing; it is {bench.journal}.empty now" in result.out
    assert verdicts(bench.stored()) == ["accepted"]


def calibration_of(bench, **changes):
    """Keep a calibration of the sensor, and return the option that names it."""
    own = load_profile(SENSOR)
    made = Calibration(
        newtons_per_count=1.0 / own.counts_per_newton, sensor=SENSOR, date=date(2026, 3, 2), serial="C-4"
    )
    path = bench.out.with_name("cal.toml")
    save_calibration(path, msgspec.structs.replace(made, **changes))
    return ("--calibration", path)


def test_session_is_gone_on_with_by_its_own_calibration_only(ramphold, bench):
    first = bench.plug("good")
    own = calibration_of(bench)
    assert ramphold(*bench.record("--count", 1, *own)).code == 0
    before = bench.out.read_bytes()
    first.close()
    bench.plug("good")
    result = ramphold(*bench.record("--count", 1, "--resume"))
    assert result.code == 1
    told = "was recorded with the calibration of C-4 of 2026-03-02, not with the nominal sensitivity"
    assert (
        f"{bench.out}: {told}: give that calibration with --calibration, or choose another session file" in result.err
    )
    assert bench.out.read_bytes() == before
    assert ramphold(*bench.record("--count", 2, "--resume", *own)).code == 0
    assert len(bench.stored()) == 2


def test_calibration_of_another_sensor_records_nothing(ramphold, bench):
    bench.plug("good")
    result = ramphold(*bench.record("--count", 1, *calibration_of(bench, sensor="bridge-80")))
    assert result.code == 1
    assert "cal.toml: is the calibration of a sensor bridge-80, and this is a packets-1k" in result.err
    assert not bench.out.exists()


def test_calibration_that_doubles_the_forces_is_asked_about(ramphold, bench):
    bench.plug("good")
    own = load_profile(SENSOR)
    doubled = calibration_of(bench, newtons_per_count=2.0 / own.counts_per_newton)
    result = ramphold(*bench.record("--count", 1, *doubled))
    assert result.code == 1
    told = "by this calibration forces are 2.00 times those of the nominal sensitivity of packets-1k: if it is of this"
    assert told in result.err
    assert not bench.out.exists()
    assert ramphold(*bench.record("--count", 1, *doubled, "--trust-calibration")).code == 0
    assert verdicts(bench.stored()) == ["accepted"]


@pytest.mark.parametrize(
    ("said", "refusal"),
    [
        (("--person", "P-9"), "is the session of a person with code P-3, not P-9"),
        (("--person", "P-3", "--sex", "male"), "is the session of a person with sex female, not male"),
        (("--sensor", "bridge-80"), "was recorded with the sensor packets-1k, not bridge-80"),
    ],
)
def test_session_of_somebody_else_is_not_gone_on_with(ramphold, bench, said, refusal):
    first = bench.plug("good")
    assert ramphold(*bench.record("--count", 1, "--person", "P-3", "--sex", "female")).code == 0
    before = bench.out.read_bytes()
    first.close()
    bench.plug("good")
    result = ramphold(*bench.record("--count", 1, "--resume", *said))
    assert result.code == 1
    assert f"{bench.out}: {refusal}; choose another session file" in result.err
    assert bench.out.read_bytes() == before


@pytest.mark.slow
def test_what_is_said_when_a_session_is_gone_on_with_is_kept_too(ramphold, bench):
    first = bench.plug("good")
    assert ramphold(*bench.record("--count", 1, "--person", "P-3")).code == 0
    first.close()
    bench.plug("good")
    assert ramphold(*bench.record("--count", 2, "--resume", "--mass", 64, "--examiner", "X-4")).code == 0
    context = read_session(bench.out).context
    assert (context.person.code, context.person.mass_kg, context.examiner) == ("P-3", 64.0, "X-4")
    assert [trial.context.examiner for trial in bench.stored()] == [None, "X-4"]


@pytest.mark.slow
def test_second_program_leaves_the_session_of_a_running_one_alone(started, ramphold, bench):
    bench.plug("good", options=("--stall-after", 6.0, "--stall-for", 1e6))
    program = started(*bench.record("--count", 1))
    program.out.until("stopped sending")
    before = bench.journal.read_bytes()
    result = ramphold("record", "--sensor", "simulated", "--speed", 100, "--out", bench.out, "--count", 1, "--resume")
    assert result.code == 1
    assert f"{bench.journal}: another program is recording into it right now" in result.err
    assert bench.journal.read_bytes() == before
    program.press_ctrl_c()
    assert program.wait().code == 0
    assert len(bench.stored()) == 1


def test_existing_session_is_refused_without_resume(ramphold, bench):
    sensor = bench.plug("good")
    assert ramphold(*bench.record("--count", 1)).code == 0
    before = bench.out.read_bytes()
    sensor.close()
    bench.plug("good")
    result = ramphold(*bench.record("--count", 1))
    assert result.code == 1
    assert result.out == ""
    assert f"{bench.out}: exists already; add --resume" in result.err
    assert bench.out.read_bytes() == before


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
