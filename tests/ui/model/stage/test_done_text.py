"""The page of a battery that is done, on made trials: scores, differences, and what is worth repeating."""

import datetime as dt
from dataclasses import replace

import pytest
from made_trials import made_trial

from acquire.values.records import Session, SessionContext, TrialContext
from acquire.values.units import ForceUnit
from analysis.battery.actions import load_actions
from analysis.results.sets import set_state
from analysis.stored.results import summarise_session
from analysis.trial.protocol import load_protocol
from ui.model.stage.done_text import done_rows
from ui.model.stage.text import NOTHING, TestText
from ui.session.battery_progress import ItemState, Result
from ui.words.words import Words

PROTOCOL = load_protocol()
LEFT, RIGHT = (TrialContext(action="knee-extension", side=side, method="belt") for side in ("left", "right"))


def page(*sides, language="en", hidden=False, unit=ForceUnit.NEWTON, skipped=False):
    """Return the rows of a session with these forces a side."""
    trials, items = [], []
    for context, forces in zip((LEFT, RIGHT), sides, strict=True):
        trials += [replace(made_trial(force), context=context) for force in forces]
        results = tuple(Result(verdict="accepted", plateau_n=force, codes=()) for force in forces)
        items.append(ItemState(context=context, results=results, skipped=skipped and not forces))
    began = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)
    session = Session(context=SessionContext(session="s", started=began), trials=tuple(trials))
    text = TestText(words=Words(language), unit=unit, actions=load_actions(), hidden=hidden)
    states = [(item, set_state(item.plateaus(), len(item.results), PROTOCOL.set)) for item in items]
    return done_rows(states, summarise_session(session, PROTOCOL), text, agreement_pct=PROTOCOL.set.agreement_pct)


def test_each_side_has_its_score_and_the_weaker_one_the_difference_with_its_uncertainty():
    left, right = page((200.0, 198.0, 199.0), (160.0, 158.0, 159.0))
    assert left.score.startswith("200 ± ")
    assert left.score.endswith(" N")
    assert left.difference == ""
    assert right.difference.startswith("20 % less (±")
    assert (left.remark, right.remark) == ("", "")


@pytest.mark.parametrize(("forces", "remark"), [((), "no accepted trial"), ((200.0, 150.0, 150.0), "best two 25 %")])
def test_what_is_missing_or_worth_repeating_is_said(forces, remark):
    _, right = page((200.0, 198.0, 199.0), forces)
    assert right.remark.startswith(remark)
    assert "worth repeating" in right.remark


@pytest.mark.parametrize(("language", "said"), [("en", "200 N, error not known"), ("de", "200 N, Fehler unbekannt")])
def test_score_whose_error_is_not_known_stands_alone(language, said):
    assert page((200.0,), (), language=language)[0].score == said


def test_set_with_too_few_trials_says_how_many_there_are():
    assert page((200.0, 199.0), ())[0].remark == "accepted trials: 2, worth repeating"


def test_item_left_out_is_named():
    assert page((200.0,), (), skipped=True)[1].remark == "skipped"


def test_forces_are_in_the_unit_and_german_has_decimal_commas():
    left, _ = page((200.0, 198.0, 199.0), (), language="de", unit=ForceUnit.KILOGRAM_FORCE)
    assert left.score.startswith("20,4")


def test_hidden_forces_are_on_no_page():
    for row in page((200.0, 198.0, 199.0), (160.0, 158.0, 159.0), hidden=True):
        assert (row.score, row.difference) == (NOTHING, "")
