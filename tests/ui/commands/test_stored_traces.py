"""Stored traces as trials: what is left out, what is cut, and in whose time."""

from dataclasses import replace
from datetime import UTC, datetime

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.errors import ArchiveError, TraceFileError
from acquire.simulation.efforts import FAULTY, GOOD, recording
from acquire.storage.session_file import read_session, write_session
from acquire.values.records import SetAside
from analysis.stored.traces import (
    Samples,
    cut_samples,
    looks_like_session,
    newtons_trial,
    read_file,
    read_samples,
    without_effort,
)
from analysis.trial.protocol import load_protocol
from ui.commands.replay import DetectionRule, play

AT = datetime(2026, 3, 3, tzinfo=UTC)


def decision(*, aside):
    return SetAside(aside=aside, reason="the phone rang", by="X-1", at=AT)


def with_decisions(path, *decisions):
    """Store decisions on the first trial of a session."""
    session = read_session(path)
    first = replace(session.trials[0], set_aside=decisions)
    write_session(path, replace(session, trials=(first, *session.trials[1:])))


def test_trial_set_aside_is_left_out(ramphold, session_file):
    whole = ramphold("analyse", session_file, "--json").trials
    with_decisions(session_file, decision(aside=True))
    assert ramphold("analyse", session_file, "--json").trials == whole[1:]
    assert ramphold("replay", session_file, "--speed", "max", "--json").trials == whole[1:]
    assert len(read_session(session_file).trials) == 3, "nothing is deleted"


@pytest.mark.parametrize(("verdict", "known"), [("rejected", True), ("accepted", True), ("accepted", False)])
def test_trial_that_is_judged_otherwise_now_says_what_it_was(ramphold, session_file, verdict, known):
    session, usual = read_session(session_file), load_protocol()
    by = {"name": usual.name, "hash": usual.hash if known else "0" * 8}
    first = session.trials[0].judged({"verdict": verdict, "protocol": by})
    write_session(session_file, replace(session, trials=(first, *session.trials[1:])))
    trial = ramphold("analyse", session_file, "--json").trials[0]
    said = "trial 1: when recorded: " in ramphold("analyse", session_file).out
    if verdict == trial["verdict"] and known:
        assert ("recorded" in trial, said) == (False, False)
    else:
        assert trial["recorded"] == {"verdict": verdict, "protocol": by}
        assert said
    assert read_session(session_file).trials[0].verdict == first.verdict, "what is stored stays"


def test_trial_taken_back_counts_again(ramphold, session_file):
    whole = ramphold("analyse", session_file, "--json").trials
    with_decisions(session_file, decision(aside=True), decision(aside=False))
    assert ramphold("analyse", session_file, "--json").trials == whole


def test_session_of_trials_that_are_all_set_aside_has_none(ramphold, session_file):
    session = read_session(session_file)
    aside = tuple(replace(trial, set_aside=(decision(aside=True),)) for trial in session.trials)
    write_session(session_file, replace(session, trials=aside))
    result = ramphold("analyse", session_file, "--json")
    assert (result.code, result.trials) == (0, [])
    assert "no trials" in ramphold("analyse", session_file).out
    assert ramphold("replay", session_file, "--speed", "max", "--json").out == result.out


def test_session_keeps_its_own_method_and_limit(session_file):
    assert {trial.context.method for trial in read_file(session_file, rate_hz=None).trials} == {"belt"}


def test_what_the_caller_says_overrules_the_session(session_file):
    told = read_file(session_file, rate_hz=None, method="hand", limit_n=90.0)
    assert {trial.context.method for trial in told.trials} == {"hand"}
    assert {trial.context.examiner_limit_n for trial in told.trials} == {90.0}
    changed = {"method": "belt", "examiner_limit_n": None}
    own = [msgspec.structs.replace(trial.context, **changed) for trial in read_session(session_file).trials]
    rest = [msgspec.structs.replace(trial.context, **changed) for trial in told.trials]
    assert rest == own, "the rest stays"
    assert told.trials[0].context.action == "knee-extension"


def test_session_has_no_time_of_its_own(session_file):
    stored = read_file(session_file, rate_hz=None)
    assert stored.start is None
    assert [stored.origin(trial) for trial in stored.trials] == [0.0] * 3


@pytest.mark.parametrize("name", ["session.h5", "SESSION.H5", "old.hdf5"])
def test_name_of_a_session_file_is_enough_to_take_it_for_one(tmp_path, name):
    (tmp_path / name).write_text("0,1\n1,2\n")
    assert looks_like_session(tmp_path / name)
    with pytest.raises(ArchiveError, match=f"{name}: is not a session file"):
        read_file(tmp_path / name, rate_hz=None)


def test_text_is_no_session(tmp_path):
    (tmp_path / "trace.csv").write_text("0,1\n1,2\n")
    assert not looks_like_session(tmp_path / "trace.csv")


def test_rows_without_a_force_leave_a_gap(tmp_path):
    (tmp_path / "x.csv").write_text("5.0,1\n5.1,2\n5.2,\n5.3,4\n")
    samples = read_samples(tmp_path / "x.csv", None)
    assert samples.start == 5.0
    assert samples.time.tolist() == pytest.approx([0.0, 0.1, 0.3])
    assert samples.force.tolist() == [1.0, 2.0, 4.0]


def test_first_rows_without_a_force_do_not_begin_the_trace(tmp_path):
    (tmp_path / "x.csv").write_text("5.0,\n5.1,2\n5.2,3\n")
    assert read_samples(tmp_path / "x.csv", None).start == 5.1


def test_trace_without_any_force_is_refused(tmp_path):
    (tmp_path / "x.csv").write_text("5.0,\n5.1,\n")
    with pytest.raises(TraceFileError, match=r"x\.csv: no row holds a force"):
        read_samples(tmp_path / "x.csv", None)


def test_trial_of_a_trace_lies_at_its_place_in_the_file(tmp_path, force):
    rows = [f"{100.0 + i / 100.0:.2f},{f:.3f}" for i, f in enumerate(force("good", "good", rate_hz=100.0))]
    (tmp_path / "x.csv").write_text("\n".join(rows))
    stored = read_file(tmp_path / "x.csv", rate_hz=None)
    first, second = stored.trials
    assert 100.0 <= stored.origin(first) < 101.5
    assert 110.0 < stored.origin(second) < 113.0
    assert stored.origin(second) == pytest.approx(100.0 + second.time[0])


def test_trace_without_an_effort_is_one_trial():
    rest = Samples(time=np.arange(300) / 100.0, force=np.zeros(300), start=0.0)
    (trial,) = cut_samples(rest)
    assert len(trial.time) == 300


def test_trace_without_an_effort_is_its_longest_stretch_whatever_the_gaps():
    """A logger that was left on for four months; each lost sample filled in would be 80 GB."""
    rest = np.arange(1000) / 1000.0
    samples = Samples(time=np.concatenate([rest, 1e7 + rest[:300]]), force=np.zeros(1300), start=0.0)
    (trial,) = cut_samples(samples)
    assert (len(trial.time), trial.time[-1]) == (1000, 0.999)
    assert trial.trace().lost == 0


def played(samples):
    """Return the trials that the live path finds in samples."""
    found = list(play(newtons_trial(samples.time, samples.force), float("inf"), rule=DetectionRule()))
    return found or [without_effort(samples)]


@pytest.mark.slow
@settings(max_examples=25, deadline=None)
@given(
    codes=st.lists(st.sampled_from(["good", *FAULTY]), min_size=1, max_size=3),
    rate_hz=st.sampled_from([10.0, 62.5, 80.0, 100.0, 333.0, 1000.0]),
    seed=st.integers(0, 1000),
    cut=st.tuples(st.integers(0, 400), st.integers(0, 400)),
    lost=st.lists(st.integers(0, 2000), max_size=30),
)
def test_live_path_finds_the_very_trials_that_are_cut_from_the_whole(codes, rate_hz, seed, cut, lost):
    """Property: the same samples, the same trials, whether they come at once or as lines of a sensor."""
    trace = recording([FAULTY.get(code, GOOD) for code in codes], rate_hz=rate_hz, seed=seed)
    keep = ~np.isnan(trace.force)
    keep[: cut[0]] = False
    keep[len(keep) - cut[1] :] = False
    keep[[index for index in lost if index < len(keep)]] = False
    if not keep.any():
        return
    time = trace.time[keep]
    samples = Samples(time=time - time[0], force=trace.force[keep], start=float(time[0]))
    whole, live = cut_samples(samples), played(samples)
    assert [trial.time.tolist() for trial in live] == [trial.time.tolist() for trial in whole]
    assert [trial.counts.tolist() for trial in live] == [trial.counts.tolist() for trial in whole]
