"""The words of Review: rows, measures with units, faults, what is withheld, in both languages."""

import dataclasses
import tomllib
from datetime import UTC, datetime
from importlib import resources

import numpy as np
import pytest

from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.storage.csv_trace import CsvTrace, write_csv_trace
from acquire.storage.session_file import read_session, write_session
from acquire.values.records import Note, Person, Session, SessionContext, Trial, TrialContext
from acquire.values.remarks import TrialEnd
from acquire.values.units import ForceUnit
from analysis.trial.measures import NAMES
from analysis.trial.protocol import load_protocol, protocol_json
from ui.model.review.review import ReviewModel
from ui.model.review.text import (
    COLUMNS,
    about,
    action_name,
    details,
    limits,
    rows,
)
from ui.words.fault_text import fault_sentence
from ui.words.words import Words

EN, DE = Words("en"), Words("de")
AT = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


def trial(code, context, *, verdict=None):
    profile = load_profile("simulated")
    trace = simulate(FAULTY.get(code, GOOD), rate_hz=profile.rate_hz, seed=6).trace
    stored = None
    if verdict is not None:
        stored = {"protocol": protocol_json(load_protocol()), "verdict": verdict}
    return Trial(
        time=trace.time,
        counts=np.rint(trace.force * profile.counts_per_newton).astype(np.int32),
        calibration=profile.nominal_calibration(),
        zero_counts=0.0,
        context=context,
        damage=("3 packets were lost",) if code == "jerk" else (),
        verdict=stored,
    )


@pytest.fixture
def model(tmp_path):
    """Show a session: one good trial, one fast, one good that was rejected when it was recorded."""
    context = SessionContext(
        session="ab", started=AT, person=Person(code="P-7"), examiner="EX-1", sensor="simulated", invented=True
    )
    knee = TrialContext(action="knee-extension", side="left", method="belt")
    own = TrialContext(action="toe-curl", method="hand", examiner_limit_n=40.0)
    trials = (
        trial("good", knee, verdict="accepted"),
        trial("fast-ramp", own, verdict="rejected"),
        trial("good", knee, verdict="rejected"),
        trial("jerk", knee),
    )
    write_session(tmp_path / "crew.h5", Session(context=context, trials=trials))
    model = ReviewModel()
    model.open(tmp_path / "crew.h5")
    return model


def cell(row, column):
    return row.cells[COLUMNS.index(column)]


def page(model, index, words=EN, unit=ForceUnit.NEWTON):
    model.select(index)
    return details(model, words, unit)


# the table


def test_row_says_what_the_trial_was_and_came_to(model):
    row, measures = rows(model, EN, ForceUnit.NEWTON)[0], model.trials[0].judgement.measures
    assert row.cells[:5] == ("1", "Knee extension", "left", "belt", "\u2713 accepted")
    assert cell(row, "plateau") == f"{measures.plateau_force_n:.1f}"
    assert cell(row, "ramp") == f"{measures.ramp_time_s:.2f}"
    assert cell(row, "faults") == ""
    assert (row.accepted, row.aside) == (True, False)


def test_fault_that_only_warns_is_in_brackets(model):
    names = cell(rows(model, EN, ForceUnit.NEWTON)[1], "faults").split(", ")
    assert names[0] == "ramp too fast"
    assert "(too strong for the examiner)" in names


@pytest.mark.parametrize(
    ("unit", "newtons", "digits"), [(ForceUnit.KILOGRAM_FORCE, 9.80665, 2), (ForceUnit.POUND_FORCE, 4.4482216152605, 1)]
)
def test_forces_are_in_the_unit_that_was_chosen(model, unit, newtons, digits):
    row, measures = rows(model, EN, unit)[0], model.trials[0].judgement.measures
    assert cell(row, "plateau") == f"{measures.plateau_force_n / newtons:.{digits}f}"
    assert cell(row, "peak") == f"{measures.peak_force_n / newtons:.{digits}f}"
    assert cell(row, "ramp") == f"{measures.ramp_time_s:.2f}"


def test_stored_verdict_is_said_where_it_differs(model):
    cells = [cell(row, "verdict") for row in rows(model, EN, ForceUnit.NEWTON)]
    assert cells[1] == "\u2717 rejected"
    assert cells[2] == "\u2713 accepted (was rejected)"
    assert page(model, 2).stored.startswith("When recorded: rejected, by ramp-and-hold")
    assert page(model, 0).stored == ""
    assert page(model, 3).stored == ""


def test_trial_set_aside_is_marked_in_words(model):
    model.set_aside(0, "coughed", "EX-9", AT)
    row = rows(model, EN, ForceUnit.NEWTON)[0]
    assert cell(row, "verdict") == "\u2298 set aside"
    assert row.aside
    assert page(model, 0).decisions == ("set aside 2026-03-02 12:00 by EX-9: coughed",)
    model.take_back(0, "it was me", "EX-1", AT)
    assert page(model, 0).decisions[1] == "taken back 2026-03-02 12:00 by EX-1: it was me"


def test_notes_of_a_trial_are_told_with_time_and_author(model):
    path = model.opened.path
    written = Note(text="the knee hurt", by="EX-9", at=AT)
    write_session(path, read_session(path).with_note(1, written))
    model.open(path)
    assert page(model, 1).notes == ("2026-03-02 12:00 by EX-9: the knee hurt",)
    assert page(model, 0).notes == ()


def test_trace_without_a_session_is_called_by_its_file(tmp_path):
    trace = simulate(GOOD, rate_hz=250.0, seed=1).trace
    write_csv_trace(tmp_path / "pull.csv", CsvTrace(time=trace.time + 50.0, force=trace.force))
    model = ReviewModel()
    model.open(tmp_path / "pull.csv")
    (row,) = rows(model, EN, ForceUnit.NEWTON)
    assert row.cells[1:4] == ("pull", "\u2013", "\u2013")
    assert page(model, 0).title == "Trial 1, pull"


def test_moments_are_in_the_time_of_the_file(tmp_path):
    trace = simulate(GOOD, rate_hz=250.0, seed=1).trace
    write_csv_trace(tmp_path / "pull.csv", CsvTrace(time=trace.time + 50.0, force=trace.force))
    model = ReviewModel()
    model.open(tmp_path / "pull.csv")
    shown = {line.name: line.value for line in page(model, 0).measures}
    measures, origin = model.trials[0].judgement.measures, model.trials[0].origin
    assert origin >= 50.0
    assert shown["onset"] == f"{measures.onset_s + origin:.3f}"
    assert shown["release"] == f"{measures.release_s + origin:.2f}"
    assert shown["ramp"] == f"{measures.ramp_time_s:.2f}"


# one trial


def test_nothing_selected_has_no_page():
    assert details(ReviewModel(), EN, ForceUnit.NEWTON) is None


@pytest.mark.parametrize("unit", ForceUnit)
def test_every_measure_is_there_with_unit_and_meaning_or_withheld_with_a_reason(model, unit):
    shown = page(model, 0, unit=unit)
    names = {line.name for line in shown.measures} | {n for names, _ in shown.withheld for n in names.split(", ")}
    # the five rates of force development count one by one
    assert len(names) >= len(NAMES) - 1 + 5
    assert all(line.meaning and line.unit and line.value for line in shown.measures)
    units = {line.name: line.unit for line in shown.measures}
    assert units["plateau force"] == unit.symbol
    assert units["slope of the ramp"] == f"{unit.symbol}/s"
    assert units["impulse"] == f"{unit.symbol} s"
    assert units["spread of the hold"] == "%"


def test_measure_that_is_withheld_has_no_number(model):
    shown = page(model, 0)
    withheld = {name for names, _ in shown.withheld for name in names.split(", ")}
    assert "rate of the first 50 ms" in withheld
    assert not withheld & {line.name for line in shown.measures}


def test_reasons_are_said_once_for_all_they_concern(model):
    shown = page(model, 0)
    reasons = [why for _, why in shown.withheld]
    assert len(reasons) == len(set(reasons))
    (early,) = [names for names, _ in shown.withheld if "rate of the first" in names]
    assert early.count("rate of the first") > 2, "of several bands, absolute and relative"


def test_trial_without_an_effort_withholds_everything(tmp_path):
    write_csv_trace(tmp_path / "rest.csv", CsvTrace(time=np.arange(500) / 100.0, force=np.full(500, 0.5)))
    model = ReviewModel()
    model.open(tmp_path / "rest.csv")
    shown = page(model, 0)
    assert [line.name for line in shown.measures] == ["zero"]
    ((names, why),) = shown.withheld
    assert why == "no rise in force was found"
    assert names.count("rate of the first") == 10


def test_fault_says_whether_it_rejects(model):
    first, *rest = page(model, 1).faults
    assert (first.name, first.rejects, first.mark) == ("ramp too fast", True, "\u2717")
    assert first.text == fault_sentence(model.trials[1].judgement.faults[0], EN, ForceUnit.NEWTON)
    assert any(line.name.endswith("(warning)") and line.mark == "!" for line in rest)


def test_damage_of_the_link_is_said(model):
    assert page(model, 3).damage == ("3 packets were lost",)


def test_nothing_is_shown_as_less_than_nothing(model):
    for index in range(4):
        assert "-0.0" not in {line.value for line in page(model, index).measures}


def test_file_is_described(model):
    phrases = about(model, EN)
    assert phrases[:5] == (
        "crew.h5",
        "person P-7",
        "2026-03-02 12:00",
        "examiner EX-1",
        "invented data",
    )
    assert phrases[5] == "judged by ramp-and-hold"
    assert load_protocol().hash in limits(model, EN)
    assert phrases[6].startswith("not calibrated")
    assert about(ReviewModel(), EN) == ()


def test_contacts_of_a_file_are_counted_and_not_judged(model):
    session = read_session(model.opened.path)
    write_session(model.opened.path, dataclasses.replace(session, contacts=session.trials[:2]))
    model.open(model.opened.path)
    assert "2 contacts, not judged" in about(model, EN)
    assert len(model.trials) == 4


# languages


def test_own_action_is_called_by_the_words_of_its_key():
    assert action_name("toe-curl", DE) == "toe curl"
    assert action_name("knee-extension", DE) == "Knieextension"
    assert action_name(None, EN) == ""


def table(language):
    text = resources.files("ui").joinpath("data", "words", language, "review.toml").read_text(encoding="utf-8")
    return flat(tomllib.loads(text))


def flat(part, before=""):
    found = {}
    for key, value in part.items():
        found |= flat(value, f"{before}{key}.") if isinstance(value, dict) else {f"{before}{key}": value}
    return found


def test_both_languages_have_the_same_words():
    english, german = table("en"), table("de")
    assert set(german) == set(english)


def test_gaps_in_the_words_are_the_same():
    english, german = table("en"), table("de")
    for key, text in english.items():
        assert gaps(text) == gaps(german[key]), key


def gaps(text):
    return {part.split("}")[0] for part in text.split("{")[1:]}


def test_trial_that_was_cut_off_is_told_as_set_aside_with_the_reason_and_no_fault(tmp_path):
    context = TrialContext(action="knee-extension", side="left")
    broken = dataclasses.replace(trial("short-hold", context), damage=(TrialEnd.LINK_LOST.value,))
    write_session(tmp_path / "s.h5", Session(context=SessionContext(session="s", started=AT), trials=(broken,)))
    model = ReviewModel()
    model.open(tmp_path / "s.h5")
    told = details(model, DE, ForceUnit.NEWTON)
    assert (told.aside, told.verdict) == (True, "\u2298 zur\u00fcckgestellt")
    assert told.cut_off == "die Verbindung zum Sensor brach w\u00e4hrend des Versuchs ab"
    assert told.faults == ()
