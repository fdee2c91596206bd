"""Why a measure is withheld: a sentence with all its numbers, in every language."""

import re

import pytest

from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.values.records import Trace
from analysis.trial.number import Kind, Number
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge
from analysis.trial.withheld import Reason, Why, slow_sensor
from ui.words.withheld_text import withheld_sentence
from ui.words.words import Words, languages

EN, DE = Words("en"), Words("de")
WORDS = pytest.mark.parametrize("words", [Words(language) for language in languages()], ids=languages())
LEAST = Number("least", 3.0, Kind.COUNT)
MADE = {
    Why.FEW_IN_HOLD: (LEAST,),
    Why.SHORT_HOLD: (Number("least", 0.5, Kind.SECONDS),),
    Why.FEW_IN_RAMP: (LEAST, Number("low", 20.0, Kind.PERCENT), Number("high", 80.0, Kind.PERCENT)),
    Why.SLOW_SENSOR: slow_sensor(1000.0, 250.0).values,
    Why.NOISE: (Number("window", 0.02, Kind.SECONDS),),
    Why.UNSURE_ONSET: (Number("measured", 0.151, Kind.SECONDS), Number("share", 20.0, Kind.PERCENT)),
}
"""The numbers of each code that has some."""


def given(trace):
    return list(judge(trace, load_protocol()).withheld.values())


@WORDS
@pytest.mark.parametrize("why", Why)
def test_every_code_has_a_sentence_with_all_its_numbers(why, words):
    text = withheld_sentence(Reason(why, MADE.get(why, ())), words)
    assert len(re.findall(r"\d+(?:[.,]\d+)?", text)) == len(MADE.get(why, ()))
    assert "{" not in text
    assert words.language == "en" or text != withheld_sentence(Reason(why, MADE.get(why, ())), EN)


@pytest.mark.parametrize("rate_hz", [8.0, 60.0, 400.0, 1000.0])
@pytest.mark.parametrize("code", ["good", *FAULTY])
def test_what_is_given_has_the_numbers_that_its_sentence_names(code, rate_hz):
    for reason in given(simulate(FAULTY.get(code, GOOD), rate_hz=rate_hz, seed=3).trace):
        assert [(each.name, each.kind) for each in reason.values] == [
            (each.name, each.kind) for each in MADE.get(reason.why, ())
        ]


def test_cut_traces_have_many_reasons():
    trace = simulate(GOOD, rate_hz=1000.0, seed=3).trace
    cuts = [slice(0, 2900), slice(0, 2200), slice(2600, None), slice(3000, 3400), slice(0, 12), slice(0, 1)]
    found = {each for cut in cuts for each in given(Trace(time=trace.time[cut], force=trace.force[cut]))}
    assert {each.why for each in found} >= {Why.NO_EFFORT, Why.NO_ONSET, Why.NO_RELEASE, Why.SHORT_HOLD}
    for each in found:
        assert "{" not in withheld_sentence(each, DE)


@pytest.mark.parametrize(
    ("reason", "english", "german"),
    [
        (slow_sensor(1000.0, 249.96), "needs 1000 Hz or more, the sensor gave 250 Hz", "braucht 1000 Hz oder mehr"),
        (Reason(Why.SHORT_HOLD, MADE[Why.SHORT_HOLD]), "the hold is shorter than 0.5 s", "kürzer als 0,5 s"),
        (Reason(Why.NOISE, MADE[Why.NOISE]), "too large for the slope of 20 ms", "Steigung über 20 ms"),
        (Reason(Why.UNSURE_ONSET, MADE[Why.UNSURE_ONSET]), "unsure by 151 ms, more than 20 % of", "um 151 ms unsicher"),
    ],
)
def test_numbers_are_written_by_the_language(reason, english, german):
    assert english in withheld_sentence(reason, EN)
    assert german in withheld_sentence(reason, DE)
