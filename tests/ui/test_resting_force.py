"""A limb laid on the pad before the first push is a rest level, and everybody who reads of the trial is told of it."""

import numpy as np
import pytest
from drawn import Person, draw
from made_trials import DAY

from acquire.storage.csv_trace import CsvTrace, write_csv_trace
from acquire.storage.session_file import read_session, write_session
from acquire.values.records import Session, SessionContext
from acquire.values.units import ForceUnit
from analysis.stored.traces import read_file
from analysis.trial.judged_trial import judge_trial
from analysis.trial.number import Kind
from analysis.trial.protocol import load_protocol
from ui.model.review.review import ReviewModel
from ui.model.review.text import details
from ui.model.stage.text import TestText
from ui.model.stage.verdict_text import banner_of
from ui.words.shown import Shown
from ui.words.words import Words

RESTING_N = 15.0


@pytest.fixture
def path(tmp_path):
    """Return a trace in which a limb of 15 N is laid on the pad for 13 s, and pushes with 200 N from there."""
    drawing = draw(Person(plateau=200.0), 200.0, 4)
    laid = np.interp(np.arange(0.0, 14.0, 0.005), [2.0, 2.4], [0.0, RESTING_N])
    noise = 0.1 * np.random.default_rng(1).standard_normal(len(laid))
    force = np.concatenate([laid + noise, RESTING_N + drawing.force])
    write_csv_trace(tmp_path / "laid.csv", CsvTrace(time=np.arange(len(force)) * 0.005, force=force))
    return tmp_path / "laid.csv"


def test_limb_on_the_pad_is_neither_preload_nor_zero_shift_and_is_said(path, ramphold):
    (trial,) = ramphold("analyse", path, "--json").json["files"][0]["trials"]
    assert trial["resting_force_n"] == pytest.approx(RESTING_N, abs=0.1)
    assert (trial["verdict"], trial["faults"]) == ("accepted", [])
    assert trial["plateau_force_n"] == pytest.approx(200.0, rel=0.01)
    said = Words("en")("line.resting", force=Shown(RESTING_N, Kind.FORCE))
    assert f"trial 1: {said}" in ramphold("analyse", path).out


def test_trial_without_a_limb_on_the_pad_says_nothing_of_it(ramphold):
    (trial,) = ramphold("analyse", "sample_traces/good.csv", "--json").json["files"][0]["trials"]
    assert "resting_force_n" not in trial
    assert "resting" not in ramphold("analyse", "sample_traces/good.csv").out


@pytest.mark.parametrize("language", ["en", "de"])
def test_review_and_the_verdict_on_the_screen_say_it(path, language):
    words, model = Words(language), ReviewModel()
    model.open(path)
    line = details(model, words, ForceUnit.NEWTON).measures[0]
    assert (line.name, line.unit) == (words("review.measure.resting"), "N")
    assert float(line.value.replace(",", ".")) == pytest.approx(RESTING_N, abs=0.1)
    (trial,) = read_file(path, rate_hz=None).trials
    judged = judge_trial(trial, load_protocol())
    said = {
        hidden: banner_of(judged, TestText(words=words, unit=ForceUnit.NEWTON, actions={}, hidden=hidden)).advice
        for hidden in (False, True)
    }
    assert words("test.resting", force="15 N") in said[False]
    assert "15" not in said[True], "who must see no force sees none"


def test_session_file_keeps_it(path, tmp_path):
    (trial,) = read_file(path, rate_hz=None).trials
    context = SessionContext(session="s", started=DAY)
    write_session(tmp_path / "kept.h5", Session(context=context, trials=(trial,)))
    assert read_session(tmp_path / "kept.h5").trials[0].resting_n == trial.resting_n > 0.0
