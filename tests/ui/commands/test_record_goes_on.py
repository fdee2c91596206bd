"""Recording goes on: after a kill, after a lost sensor, with a session that there is, and only where it belongs."""

from datetime import date

import msgspec
import pytest
from record_bench import SENSOR, verdicts

from acquire.sensor.calibration_file import save_calibration
from acquire.sensor.profile import load_profile
from acquire.storage.session_file import read_session
from acquire.values.calibration import Calibration
from acquire.values.remarks import TrialEnd


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
