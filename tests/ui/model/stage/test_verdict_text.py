"""The verdict in giant letters: one to three words, and what to do, for every fault and in both languages."""

import pytest
from made_trials import made_trial

from acquire.values.units import ForceUnit
from analysis.trial.faults import CODES
from analysis.trial.judged_trial import judge_trial
from analysis.trial.protocol import load_protocol
from ui.model.stage.text import TestText
from ui.model.stage.verdict_text import Banner, banner_of
from ui.words.fault_text import fault_name
from ui.words.words import Words

PROTOCOL = load_protocol()


def text(language="en", unit=ForceUnit.NEWTON, *, hidden=False):
    return TestText(words=Words(language), unit=unit, actions={}, hidden=hidden)


def banner(*, said=None, **made):
    return banner_of(judge_trial(made_trial(205.0, **made), PROTOCOL), said or text())


@pytest.mark.parametrize(
    ("unit", "force"),
    [(ForceUnit.NEWTON, "205 N"), (ForceUnit.KILOGRAM_FORCE, "21 kgf"), (ForceUnit.POUND_FORCE, "46 lbf")],
)
def test_accepted_trial_is_its_force(unit, force):
    assert banner(said=text(unit=unit)) == Banner(force, "accepted", accepted=True)


def test_warning_stands_beside_accepted():
    warned = banner(method="hand", examiner_limit_n=180.0)
    assert warned == Banner("205 N", "accepted: too strong for the examiner", accepted=True)


def test_rejected_trial_is_what_was_wrong_and_what_to_do():
    assert banner(ramp_s=0.3) == Banner("TOO FAST", "build up over one to two seconds", accepted=False)
    german = banner(said=text("de"), ramp_s=0.3)
    assert german == Banner("ZU SCHNELL", "in ein bis zwei Sekunden aufbauen", accepted=False)


def test_force_is_hidden_from_the_person_tested():
    assert banner(said=text(hidden=True)) == Banner("ACCEPTED", "", accepted=True)


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("code", CODES)
def test_every_fault_has_up_to_three_words_in_capitals_and_an_advice(language, code):
    words = Words(language)
    word, advice = words(f"verdict.word.{code}"), words(f"verdict.advice.{code}")
    assert 1 <= len(word.split()) <= 3
    assert word == word.upper()
    assert len(word) <= 25
    assert all(part in fault_name(code, words).upper() for part in word.split()), "one word for one thing"
    assert 1 < len(advice) <= 50
