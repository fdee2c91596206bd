"""Review without a window: files, what is looked at, what lies under it, and decisions that are kept."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from importlib import resources
from itertools import count

import numpy as np
import pytest

from acquire.errors import ArchiveError, TraceFileError
from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import FAULTY, GOOD, recording, simulate
from acquire.storage.csv_trace import CsvTrace, write_csv_trace
from acquire.storage.session_file import read_session, write_session
from acquire.values.records import Person, Session, SessionContext, SetAside, Trial, TrialContext
from analysis.errors import ProtocolError
from analysis.stored.traces import session_trials
from analysis.trial.protocol import load_protocol
from ui.model.review.review import RateNeededError, ReviewModel
from ui.session.crash import journal_path
from ui.session.store import SessionStore

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=timezone(timedelta(hours=1)))
PLAN = (
    ("good", "knee-extension", "left"),
    ("fast-ramp", "knee-extension", "left"),
    ("good", "knee-extension", "right"),
    ("short-hold", "knee-extension", "left"),
)
SEED = count(1)


def trial(code, action, side):
    """Return an invented trial as the recorder cuts it."""
    profile = load_profile("simulated")
    trace = simulate(FAULTY.get(code, GOOD), rate_hz=profile.rate_hz, seed=next(SEED)).trace
    return Trial(
        time=trace.time,
        counts=np.rint(trace.force * profile.counts_per_newton).astype(np.int32),
        calibration=profile.nominal_calibration(),
        zero_counts=0.0,
        context=TrialContext(action=action, side=side, method="belt"),
    )


def empty_session():
    context = SessionContext(
        session="00ff00ff00ff00ff",
        started=datetime(2026, 3, 2, 10, 0, tzinfo=UTC),
        person=Person(code="P-1"),
        examiner="EX-1",
    )
    return Session(context=context)


@pytest.fixture
def store(tmp_path):
    """Return the store of a session of four trials, judged and saved one by one."""
    store = SessionStore(tmp_path / "session.h5", empty_session(), load_protocol())
    for each in PLAN:
        store.add(trial(*each))
    return store


@pytest.fixture
def path(store):
    return store.path


@pytest.fixture
def model(path):
    model = ReviewModel()
    model.open(path)
    return model


@pytest.fixture
def csv(tmp_path):
    """Write a continuous trace of two efforts that begins at 100 s."""
    trace = recording([GOOD, FAULTY["fast-ramp"]], rate_hz=250.0, seed=2)
    path = tmp_path / "continuous.csv"
    write_csv_trace(path, CsvTrace(time=trace.time + 100.0, force=trace.force))
    return path


@pytest.fixture
def strict(tmp_path):
    """Write a protocol that no ramp of two seconds keeps."""
    return protocol_file(tmp_path / "strict.toml", reject_above_s=1.0)


def protocol_file(path, *, reject_above_s):
    shipped = resources.files("analysis") / "data" / "protocols" / "ramp-and-hold.toml"
    text = shipped.read_text(encoding="utf-8")
    text = text.replace('name = "ramp-and-hold"', 'name = "strict"')
    text = text.replace("reject_above_s = 2.5", f"reject_above_s = {reject_above_s}")
    path.write_text(text.replace("warn_above_s = 2.2", "warn_above_s = 0.9"), encoding="utf-8")
    return str(path)


def verdicts(model):
    return [each.judgement.verdict for each in model.trials]


# files


def test_nothing_is_open_at_first():
    model = ReviewModel()
    assert (model.trials, model.selected, model.overlaid, model.can_decide) == ((), None, (), False)
    model.next()
    assert model.selected is None


def test_session_is_shown_with_its_first_trial(model):
    assert verdicts(model) == ["accepted", "rejected", "accepted", "rejected"]
    assert (model.selected, model.examiner) == (0, "EX-1")


def test_trial_set_aside_is_shown_all_the_same(model, path):
    model.set_aside(1, "coughed", "EX-9", NOON)
    again = ReviewModel()
    again.open(path)
    assert len(again.trials) == 4
    assert [again.is_aside(i) for i in range(4)] == [False, True, False, False]
    assert len(session_trials(path).trials) == 3  # as the command line reads it


def test_trace_is_shown_by_its_efforts(csv):
    model = ReviewModel()
    model.open(csv)
    assert verdicts(model) == ["accepted", "rejected"]
    assert model.trials[0].origin == pytest.approx(100.0, abs=1.0)
    assert model.trials[1].origin > model.trials[0].origin
    assert not model.can_decide
    assert model.examiner == ""


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("none.h5", None, r"none\.h5: there is no such file"),
        ("bad.h5", b"not a session", r"bad\.h5: is not a session file"),
        ("bad.csv", b"time_s,force_n\n0,1\n1,x\n", r"bad\.csv, line 3"),
        ("empty.csv", b"", r"empty\.csv: is empty"),
    ],
)
def test_bad_file_is_named_and_what_was_shown_stays(model, tmp_path, name, content, message):
    if content is not None:
        (tmp_path / name).write_bytes(content)
    model.select(2)
    before = model.opened, model.trials
    with pytest.raises(ArchiveError if name.endswith("h5") else TraceFileError, match=message):
        model.open(tmp_path / name)
    assert (model.opened, model.trials) == before
    assert model.selected == 2


def test_trace_of_force_alone_asks_for_its_rate(tmp_path):
    path = tmp_path / "force.csv"
    path.write_text("".join(f"{n}\n" for n in simulate(GOOD, rate_hz=250.0, seed=1).trace.force.tolist()))
    model = ReviewModel()
    with pytest.raises(RateNeededError, match=r"force\.csv: has one column, the force, so its sample rate is needed"):
        model.open(path)
    model.open(path, rate_hz=250.0)
    assert verdicts(model) == ["accepted"]


def test_rate_is_not_asked_for_where_it_would_not_help(tmp_path):
    path = tmp_path / "words.csv"
    path.write_text("force_n\n1\nx\n")
    with pytest.raises(TraceFileError, match=r"words\.csv") as raised:
        ReviewModel().open(path)
    assert not isinstance(raised.value, RateNeededError)


def test_session_without_trials_has_nothing_selected(tmp_path):
    write_session(tmp_path / "new.h5", empty_session())
    model = ReviewModel()
    model.open(tmp_path / "new.h5")
    assert (model.trials, model.selected, model.can_decide) == ((), None, True)


# what is looked at


def test_next_goes_round(model):
    seen = []
    for _ in range(5):
        model.next()
        seen.append(model.selected)
    assert seen == [1, 2, 3, 0, 1]


def test_trial_that_is_not_there_cannot_be_selected(model):
    with pytest.raises(IndexError, match="there is no trial 5: the file holds 4"):
        model.select(4)
    with pytest.raises(IndexError, match="there is no trial 0"):
        model.select(-1)


def test_like_trials_lie_under_the_selected_one(model):
    assert model.overlaid == (1, 3)
    model.select(2)
    assert model.overlaid == ()
    model.alike = False
    model.select(0)
    assert model.overlaid == ()


def test_kept_trials_lie_under_every_one(model):
    model.keep(0, True)
    model.select(2)
    assert model.overlaid == (0,)
    model.select(0)
    assert model.overlaid == (1, 3)
    model.keep(0, False)
    model.select(2)
    assert model.overlaid == ()


def test_trial_set_aside_lies_under_others_only_when_kept(model):
    model.set_aside(1, "coughed", "EX-9", NOON)
    assert model.overlaid == (3,)
    model.keep(1, True)
    assert model.overlaid == (1, 3)


# decisions


def test_decision_is_kept_timed_and_attributed(model, path):
    model.set_aside(1, "  coughed  ", " EX-9 ", NOON)
    (decision,) = read_session(path).trials[1].set_aside
    assert decision == SetAside(aside=True, reason="coughed", by="EX-9", at=NOON)
    assert decision.at.utcoffset() == timedelta(hours=1)


def test_trial_taken_back_keeps_both_decisions(model, path):
    model.set_aside(1, "coughed", "EX-9", NOON)
    model.take_back(1, "heard the recording: it was me", "EX-1", NOON + timedelta(minutes=5))
    kept = read_session(path).trials[1].set_aside
    assert [(each.aside, each.by) for each in kept] == [(True, "EX-9"), (False, "EX-1")]
    assert not model.is_aside(1)
    assert model.trials[1].trial.set_aside == kept


def test_decision_changes_nothing_else(model, path):
    before = read_session(path)
    model.set_aside(1, "coughed", "EX-9", NOON)
    after = read_session(path)
    assert after.context == before.context
    for old, new in zip(before.trials, after.trials, strict=True):
        np.testing.assert_array_equal(old.counts, new.counts)
        np.testing.assert_array_equal(old.time, new.time)
        assert (old.verdict, old.context) == (new.verdict, new.context)
    assert [len(each.set_aside) for each in after.trials] == [0, 1, 0, 0]


@pytest.mark.parametrize(("reason", "by"), [("", "EX-1"), ("  ", "EX-1"), ("coughed", " ")])
def test_decision_needs_a_reason_and_an_examiner(model, path, reason, by):
    before = path.read_bytes()
    with pytest.raises(ValueError, match="needs a reason and the code of the examiner"):
        model.set_aside(0, reason, by, NOON)
    assert path.read_bytes() == before


def test_decision_needs_a_time_with_its_zone(model, path):
    before = path.read_bytes()
    with pytest.raises(ValueError, match="at must carry its zone"):
        model.set_aside(0, "coughed", "EX-1", NOON.replace(tzinfo=None))
    assert path.read_bytes() == before
    assert not model.is_aside(0)


def test_decision_that_is_taken_already_is_refused(model):
    with pytest.raises(ValueError, match="trial 1 is not set aside already"):
        model.take_back(0, "no reason", "EX-1", NOON)
    model.set_aside(0, "coughed", "EX-1", NOON)
    with pytest.raises(ValueError, match="trial 1 is set aside already"):
        model.set_aside(0, "coughed", "EX-1", NOON)


def test_trace_keeps_no_decisions(csv):
    model = ReviewModel()
    model.open(csv)
    with pytest.raises(ArchiveError, match=r"continuous\.csv: a trace as text keeps no decisions"):
        model.set_aside(0, "coughed", "EX-1", NOON)


def test_trials_that_came_since_are_not_lost(model, store):
    store.add(trial("good", "hip-abduction", "left"))
    model.set_aside(1, "coughed", "EX-9", NOON)
    kept = read_session(store.path).trials
    assert len(kept) == 5
    assert kept[4].verdict is not None
    assert kept[1].set_aside


def test_decision_made_elsewhere_since_is_not_lost(model, path):
    other = ReviewModel()
    other.open(path)
    other.set_aside(3, "phone rang", "EX-2", NOON)
    model.set_aside(1, "coughed", "EX-9", NOON)
    assert [bool(each.set_aside) for each in read_session(path).trials] == [False, True, False, True]


def test_file_that_became_another_is_not_written(model, path):
    other = replace(empty_session(), trials=(trial("good", "hip-flexion", "left"),) * 4)
    write_session(path, other)
    before = path.read_bytes()
    with pytest.raises(ArchiveError, match="has changed since it was opened: open it again"):
        model.set_aside(1, "coughed", "EX-9", NOON)
    assert path.read_bytes() == before
    assert not model.is_aside(1)


def test_file_that_is_gone_is_said(model, path):
    path.unlink()
    with pytest.raises(ArchiveError, match=r"session\.h5: there is no such file"):
        model.set_aside(1, "coughed", "EX-9", NOON)
    assert not model.is_aside(1)


def test_session_that_another_program_records_is_left_alone(model, path):
    journal_path(path).touch()
    with pytest.raises(ArchiveError, match="its recording is under way or was cut off"):
        model.set_aside(1, "coughed", "EX-9", NOON)
    assert not model.is_aside(1)


def test_decision_during_a_recording_outlives_the_next_trial(store):
    journal_path(store.path).touch()
    model = ReviewModel()
    model.follow(store)
    model.set_aside(1, "coughed", "EX-9", NOON)
    store.add(trial("good", "hip-abduction", "left"))
    kept = read_session(store.path).trials
    assert [bool(each.set_aside) for each in kept] == [False, True, False, False, False]


def test_session_under_way_is_followed(store):
    model = ReviewModel()
    model.follow(store)
    model.select(2)
    store.add(trial("good", "hip-abduction", "left"))
    model.follow(store)
    assert len(model.trials) == 5
    assert model.selected == 2


# protocols


def test_other_protocol_changes_what_is_shown_and_not_what_is_kept(model, path, strict):
    before = path.read_bytes()
    model.judge_by(strict)
    assert model.protocol.name == "strict"
    assert verdicts(model) == ["rejected"] * 4
    assert path.read_bytes() == before
    stored = model.stored_verdict(0)
    assert (stored.verdict, stored.protocol, stored.hash) == ("accepted", "ramp-and-hold", load_protocol().hash)
    model.judge_by("ramp-and-hold")
    assert verdicts(model) == ["accepted", "rejected", "accepted", "rejected"]


def test_decision_under_another_protocol_keeps_the_stored_verdict(model, path, strict):
    model.judge_by(strict)
    model.set_aside(0, "coughed", "EX-9", NOON)
    assert read_session(path).trials[0].verdict["verdict"] == "accepted"


def test_protocol_file_is_read_anew_each_time(model, tmp_path):
    path = tmp_path / "mine.toml"
    protocol_file(path, reject_above_s=1.0)
    model.judge_by(str(path))
    assert verdicts(model)[0] == "rejected"
    protocol_file(path, reject_above_s=9.0)
    model.judge_by(str(path))
    assert verdicts(model)[0] == "accepted"


def test_unknown_protocol_is_named_and_nothing_changes(model):
    before = model.trials
    with pytest.raises(ProtocolError, match="no protocol called soft"):
        model.judge_by("soft")
    assert model.trials is before


def under(path, protocol):
    """Write a session of four trials that was recorded under a protocol; return its path."""
    store = SessionStore(path, empty_session(), load_protocol(protocol))
    for each in PLAN:
        store.add(trial(*each))
    return path


@pytest.fixture
def folder(tmp_path):
    """Make a folder where no protocol lies beside the sessions."""
    (tmp_path / "sessions").mkdir()
    return tmp_path / "sessions"


def test_protocol_beside_the_session_is_found(tmp_path, strict):
    model = ReviewModel()
    model.open(under(tmp_path / "s.h5", strict))
    assert (model.protocol.name, model.otherwise) == ("strict", 0)


def test_session_is_judged_by_the_protocol_it_was_recorded_under(tmp_path):
    model = ReviewModel()
    model.open(under(tmp_path / "brief.h5", "brief"))
    assert model.protocol == load_protocol("brief")
    assert (model.recorded.name, model.chosen, model.otherwise) == ("brief", False, 0)


def test_choice_of_a_protocol_ends_with_the_file(model, path, tmp_path):
    model.judge_by("fast")
    assert (model.chosen, model.otherwise, model.can_go_back) == (True, 4, True)
    model.open(path)
    assert (model.protocol.name, model.chosen) == ("ramp-and-hold", False)
    model.judge_by("fast")
    model.open(under(tmp_path / "brief.h5", "brief"))
    assert (model.protocol.name, model.chosen) == ("brief", False)


def test_choice_is_taken_back(model):
    model.judge_by("fast")
    model.judge_as_recorded()
    assert (model.protocol.name, model.chosen, model.otherwise) == ("ramp-and-hold", False, 0)


def test_protocol_of_the_user_is_found_by_its_limits(tmp_path, folder, strict):
    path = under(folder / "s.h5", strict)
    model = ReviewModel(own=lambda: (str(tmp_path / "gone.toml"), strict))
    model.open(path)
    assert (model.protocol.name, model.chosen, model.otherwise) == ("strict", False, 0)


def test_protocol_that_is_not_there_is_said_until_its_file_is_given(folder, strict):
    path = under(folder / "s.h5", strict)
    model = ReviewModel()
    model.open(path)
    assert (model.protocol.name, model.recorded.name) == ("ramp-and-hold", "strict")
    assert (model.chosen, model.otherwise, model.can_go_back) == (False, 4, False)
    model.judge_by(strict)
    assert (model.chosen, model.otherwise) == (False, 0)
    model.open(path)
    assert model.protocol.name == "strict"


def test_trials_under_another_protocol_are_counted(store, path):
    store.protocol = load_protocol("brief")
    store.add(trial("good", "hip-abduction", "left"))
    model = ReviewModel()
    model.open(path)
    assert (model.protocol.name, model.otherwise) == ("ramp-and-hold", 1)


def test_trace_is_judged_by_the_standard_protocol(model, csv):
    model.judge_by("fast")
    model.open(csv)
    assert (model.protocol.name, model.recorded, model.otherwise) == ("ramp-and-hold", None, 0)


def test_trial_without_a_verdict_has_none_stored(tmp_path):
    write_session(tmp_path / "raw.h5", replace(empty_session(), trials=(trial("good", "hip-flexion", "left"),)))
    model = ReviewModel()
    model.open(tmp_path / "raw.h5")
    assert model.stored_verdict(0) is None
