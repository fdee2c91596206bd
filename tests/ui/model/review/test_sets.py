"""The card of a set: both sides, the difference, and last time."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from acquire.values.records import Session, SessionContext, TrialContext
from acquire.values.units import ForceUnit
from analysis.stored.results import summarise_session
from analysis.stored.traces import read_trials
from analysis.trial.protocol import load_protocol
from ui.model.review.sets import LastTime, set_card
from ui.words.words import Words

STARTED = datetime(2026, 3, 2, tzinfo=UTC)
KNEE = TrialContext(action="knee-extension", side="left")


@pytest.fixture(scope="module")
def good():
    (trial,) = read_trials("sample_traces/good.csv")
    return trial


@pytest.fixture(scope="module")
def rejected():
    (trial,) = read_trials("sample_traces/fast-ramp.csv")
    return trial


def summary(*trials, days=0):
    """Return what trials come to, each with its side and its share of the force."""
    given = tuple(
        replace(trial, counts=share * trial.counts, context=replace_context(side)) for trial, side, share in trials
    )
    context = SessionContext(session=f"s-{days}", started=STARTED + timedelta(days=days))
    return summarise_session(Session(context=context, trials=given), load_protocol())


def replace_context(side):
    return TrialContext(action="knee-extension", side=side)


def lines(card):
    return {line.label: line.values for line in card.lines}


def card_of(now, last=None, language="en", unit=ForceUnit.NEWTON):
    before = None if last is None else LastTime(started=last.context.started, actions=last.actions)
    return set_card(now, KNEE, before, Words(language), unit)


def test_sides_stand_side_by_side_with_what_counts(good, rejected):
    card = card_of(summary((good, "left", 1.0), (good, "left", 0.9), (rejected, "left", 1.0), (good, "right", 0.8)))
    found = lines(card)
    assert card.sides == ("left", "right")
    assert found["accepted"] == ("2 of 3", "1 of 1")
    assert found["best two apart, %"] == ("10", "\u2013")
    assert card.difference.startswith("Right ")
    assert "20 %" in card.difference
    assert card.last_time == "No earlier session with this action in this folder."


def test_last_time_and_the_change_since(good):
    now, before = summary((good, "left", 1.1), (good, "right", 1.0)), summary((good, "left", 1.0), days=-9)
    card = card_of(now, before, "de")
    found = lines(card)
    assert found["\u00c4nderung, %"] == ("+10", "\u2013")
    assert found["letztes Mal, N"][1] == "\u2013"
    assert card.last_time == "Letztes Mal: 21.02.2026."
    assert "links letztes Mal, N: 252" in card.heard


def test_rejected_side_has_no_score(good, rejected):
    card = card_of(summary((good, "left", 1.0), (rejected, "right", 1.0)))
    assert lines(card)["score, N"][1] == "\u2013"
    assert lines(card)["accepted"] == ("1 of 1", "0 of 1")
    assert card.difference == ""


def test_trial_of_no_action_has_no_card(good):
    assert set_card(summary((good, "left", 1.0)), TrialContext(), None, Words(), ForceUnit.NEWTON) is None
