"""The sentences of Test, without a window."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from acquire.values.records import TrialContext
from acquire.values.units import ForceUnit
from analysis.battery.actions import load_actions
from analysis.trial.faults import Fault
from analysis.trial.number import Kind, Number
from ui.model.stage.text import NOTHING, TestText
from ui.session.battery_progress import ItemState, Result
from ui.session.cues import Cue
from ui.words.words import Words

ACTIONS = load_actions()
KNEE = TrialContext(action="knee-extension", side="left")
GOOD = Result(verdict="accepted", plateau_n=200.0, codes=())
BAD = Result(verdict="rejected", plateau_n=150.0, codes=("fast-ramp",))
CALM = SimpleNamespace(loaded=False, restless=False, contact_n=None)


def text(language="en", unit=ForceUnit.NEWTON, *, hidden=False):
    return TestText(words=Words(language), unit=unit, actions=ACTIONS, hidden=hidden)


def view(cue=Cue.SET, **changes):
    fields = {"cue": cue, "fault": None, "last": None, "halted": False, "item": ItemState(context=KNEE), "least_s": 0.0}
    return SimpleNamespace(**{**fields, **changes})


@pytest.mark.parametrize(("unit", "shown"), [("N", "✓ 200 N"), ("kgf", "✓ 20 kgf"), ("lbf", "✓ 45 lbf")])
def test_trial_that_counts_shows_its_force_in_the_unit(unit, shown):
    trial = text(unit=ForceUnit.parse(unit)).trial(0, (GOOD,))
    assert (trial.force, trial.colour) == (shown, "good")


def test_trial_that_broke_the_protocol_says_why_beside_its_colour():
    trial = text().trial(1, (GOOD, BAD))
    assert trial.colour == "warn"
    assert trial.force.startswith("↻")
    assert trial.verdict == "ramp too fast"


def test_trials_to_come_are_told_from_the_next():
    now, later = (text().trial(place, (GOOD,)) for place in (1, 2))
    assert (now.force, later.force) == ("▸", "")
    assert now.verdict != later.verdict


def test_hidden_force_is_a_dash_everywhere():
    hidden = text(hidden=True)
    assert hidden.force(123.0) == NOTHING
    assert hidden.trial(0, (GOOD,)).force == f"✓ {NOTHING}"


def test_fault_with_forces_is_its_name_and_advice_while_they_are_hidden():
    fault = Fault(
        code="examiner-limit",
        severity="warn",
        measured=314.0,
        limit=260.0,
        kind=Kind.FORCE,
    )
    shown = text().message(CALM, view(fault=fault, last=KNEE))
    assert "314 N" in shown
    hidden = text(hidden=True).message(CALM, view(fault=fault, last=KNEE))
    assert hidden
    assert not any(character.isdigit() for character in hidden)


def test_fault_of_another_action_says_which():
    length = Number("least", 1.0, Kind.SECONDS), Number("most", 2.0, Kind.SECONDS)
    numbers = {"measured": 0.4, "limit": 0.5, "kind": Kind.SECONDS, "values": length}
    fault = Fault(code="fast-ramp", severity="reject", finding="onset", **numbers)
    last = TrialContext(action="hip-abduction", side="right")
    assert text().message(CALM, view(fault=fault, last=last)).startswith("Hip abduction, right: ")
    assert text().message(CALM, view(fault=fault, last=KNEE)).startswith("The ramp took 0.40 s")


def test_loaded_sensor_comes_before_everything_else():
    loaded = SimpleNamespace(loaded=True, restless=False, contact_n=None)
    assert text().message(loaded, view(Cue.REST, least_s=12.0)) == Words("en")("test.loaded")
    assert "12" in text().message(CALM, view(Cue.REST, least_s=12.0))


def test_space_bar_is_named_only_where_it_does_something():
    assert text().message(CALM, view(Cue.PLACE))
    assert text().message(CALM, view(Cue.HOLD)) == ""


def test_other_language_and_actions_are_taken():
    german = text("de")
    assert german.named(KNEE) != text().named(KNEE)
    assert replace(german, actions={}).named(KNEE) == f"Knee extension, {Words('de')('test.left')}"
