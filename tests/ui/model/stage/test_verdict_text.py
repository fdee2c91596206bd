"""The verdict in the place of the cue."""

import pytest

from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.values.records import TrialContext
from acquire.values.units import ForceUnit
from analysis.trial.faults import CODES
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge
from ui.model.stage.verdict_text import giant_verdict
from ui.words.words import Words, languages

PROTOCOL = load_protocol()
N = ForceUnit.NEWTON


def judged(effort, context=TrialContext()):
    return judge(simulate(effort, seed=1).trace, PROTOCOL, context)


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("code", CODES)
def test_every_fault_has_one_to_three_words_and_a_short_advice(language, code):
    big, do = (Words(language)(f"verdict.{what}.{code}") for what in ("big", "do"))
    assert 1 <= len(big.split()) <= 3
    assert big == big.upper()
    assert len(do) <= 40


def test_accepted_trial_shows_its_force_in_the_unit():
    verdict = giant_verdict(judged(GOOD), Words(), N)
    force = judged(GOOD).measures.plateau_force_n
    assert (verdict.big, verdict.below, verdict.colour) == (f"{force:.0f} N", "accepted", "good")
    assert giant_verdict(judged(GOOD), Words(), ForceUnit.KILOGRAM_FORCE).big == f"{force / 9.80665:.0f} kgf"


def test_rejected_trial_says_what_was_wrong_and_what_to_do():
    verdict = giant_verdict(judged(FAULTY["fast-ramp"]), Words(), N)
    assert (verdict.big, verdict.below, verdict.colour) == ("TOO FAST", "build up more slowly", "warn")
    assert verdict.force_n == pytest.approx(judged(FAULTY["fast-ramp"]).measures.plateau_force_n)


def test_warning_accepts_and_is_named():
    warned = judged(GOOD, TrialContext(method="hand", examiner_limit_n=100.0))
    verdict = giant_verdict(warned, Words(), N)
    assert verdict.accepted
    assert verdict.below == "accepted, warning: examiner's limit"


@pytest.mark.parametrize("effort", [GOOD, FAULTY["fast-ramp"]])
@pytest.mark.parametrize("language", languages())
def test_hidden_force_is_in_no_verdict(effort, language):
    verdict = giant_verdict(judged(effort), Words(language), N, hidden=True)
    assert not any(character.isdigit() for character in verdict.big + verdict.below)
