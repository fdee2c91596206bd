"""The sentences of faults: in every language each says all its numbers, and what to do."""

import re

import msgspec
import pytest

from acquire.simulation.efforts import FAULTY, GOOD, simulate
from acquire.values.records import TrialContext
from acquire.values.units import ForceUnit
from analysis.trial.faults import CODES, VARIANTS, Fault, Severity, Variants
from analysis.trial.number import Kind, Number
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge
from ui.words.fault_text import fault_advice, fault_finding, fault_name, fault_sentence
from ui.words.words import Words, languages

EN, DE = Words("en"), Words("de")
WORDS = pytest.mark.parametrize("words", [Words(language) for language in languages()], ids=languages())
CUT = {"short-hold": (0.0, 5.0), "no-effort": (0.0, 1.0)}


def fault_of(code, *, limit_n=150.0, rate_hz=1000.0, seed=1, effort=None):
    rate_hz = 8.0 if code == "slow-sensor" else rate_hz
    trace = simulate(effort or FAULTY.get(code, GOOD), rate_hz=rate_hz, seed=seed).trace
    found = judge(trace, load_protocol(), TrialContext(method="hand", examiner_limit_n=limit_n)).faults
    return next(fault for fault in found if fault.code == code)


def made(code="gave-way", measured=3.0, limit=2.0, kind=Kind.COUNT, **more):
    return Fault(code=code, severity=Severity.WARN, measured=measured, limit=limit, kind=kind, **more)


def numbers(text):
    return [float(found.replace(",", ".").lstrip("+")) for found in re.findall(r"[+-]?\d+(?:[.,]\d+)?", text)]


@WORDS
@pytest.mark.parametrize("code", CODES)
def test_every_sentence_of_every_code_is_there(code, words):
    variants = VARIANTS.get(code, Variants())
    for finding in variants.finding:
        for advice in variants.advice:
            values = tuple(
                Number(name, 2.0, Kind.COUNT if name == "lost" else Kind.SECONDS)
                for name in ("depth", "gap", "least", "longest_gap", "lost", "low", "high", "most")
            )
            more = tuple(Number(name, 2.0, Kind.FORCE) for name in ("moved", "most_share", "share", "top"))
            fault = made(code, kind=Kind.COUNT, values=values + more, finding=finding, advice=advice)
            text = fault_sentence(fault, words, ForceUnit.NEWTON)
            assert text == f"{fault_finding(fault, words, ForceUnit.NEWTON)}: {fault_advice(fault, words)}."
            assert "{" not in text
            assert "\n" not in text
    assert fault_name(code, words)
    assert words is EN or words.language == "en" or fault_name(code, words) != fault_name(code, EN)


@WORDS
@pytest.mark.parametrize("code", CODES)
def test_sentence_holds_every_number_of_its_fault(code, words):
    fault = fault_of(code)
    said = numbers(fault_sentence(fault, words, ForceUnit.NEWTON))
    for number in (fault.measured, fault.limit, *(each.value for each in fault.values)):
        assert any(
            each == pytest.approx(abs(number), abs=0.51) or each == pytest.approx(number, abs=0.51) for each in said
        )
    assert len(set(said)) >= 2


@WORDS
@pytest.mark.parametrize("code", CODES)
def test_decimal_sign_is_that_of_the_language_and_a_sentence_is_short(code, words):
    text = fault_sentence(fault_of(code), words, ForceUnit.KILOGRAM_FORCE)
    wrong = r"\d,\d" if words.language == "en" else r"\d\.\d"
    assert not re.search(wrong, text)
    assert len(text) < 240
    assert text.endswith(".")


@WORDS
@pytest.mark.parametrize("code", CODES)
def test_forces_are_in_the_unit_and_the_advice_names_none(code, words):
    fault = fault_of(code)
    forces = (fault.kind is Kind.FORCE) * 2 + sum(each.kind is Kind.FORCE for each in fault.values)
    assert fault.names_force is (forces > 0)
    assert len(re.findall(r"\d N\b", fault_sentence(fault, words, ForceUnit.NEWTON))) == forces
    assert len(re.findall(r"\d lbf\b", fault_sentence(fault, words, ForceUnit.POUND_FORCE))) == forces
    assert not re.search(r"\d N\b", fault_sentence(fault, words, ForceUnit.POUND_FORCE))
    assert not re.search(r"\d (N|kgf|lbf)\b", fault_advice(fault, words))


def test_german_lost_samples_keep_their_numbers():
    effort = msgspec.structs.replace(GOOD, lost_s=((2.0, 0.012),))
    said = fault_finding(fault_of("lost-samples", effort=effort), DE, ForceUnit.NEWTON)
    assert said.startswith(
        "Beim Halten gingen 12 Messwerte verloren (0,2 % des Haltens, längste Lücke 0,01 s; 5 % oder 0,1"
    )


@pytest.mark.parametrize(
    ("words", "count", "said"),
    [
        (EN, 1.0, "came back once, where 2 is the limit"),
        (EN, 3.0, "came back 3 times, where 2 is the limit"),
        (DE, 1.0, "einmal um mehr als 8 % ein"),
        (DE, 3.0, "3-mal um mehr als 8 % ein"),
    ],
)
def test_a_count_takes_its_plural_form(words, count, said):
    fault = made(measured=count, values=(Number("depth", 8.0, Kind.PERCENT),))
    assert said in fault_finding(fault, words, ForceUnit.NEWTON)


@pytest.mark.parametrize(
    ("count", "said"), [(1.0, "1 sample, fewer"), (2.0, "2 samples, fewer"), (0.0, "0 samples, fewer")]
)
def test_samples_are_counted_in_english(count, said):
    fault = made("no-effort", measured=count, limit=10.0, finding="few-samples")
    assert said in fault_finding(fault, EN, ForceUnit.NEWTON)


@WORDS
@pytest.mark.parametrize("measured", [115.3, 115.04, 115.6, 130.0])
def test_a_number_never_looks_like_its_limit(measured, words):
    fault = made("overshoot", measured=measured, limit=115.0, kind=Kind.PERCENT)
    said, limit = numbers(fault_finding(fault, words, ForceUnit.NEWTON))
    assert said > limit == 115.0


@pytest.mark.parametrize("unit", list(ForceUnit))
def test_two_forces_that_are_close_are_written_with_the_same_digits(unit):
    fault = made("examiner-limit", measured=245.34, limit=245.3, kind=Kind.FORCE)
    first, second = re.findall(r"\d+(?:\.\d+)?", fault_finding(fault, EN, unit))
    assert float(first) > float(second)
    assert len(first) == len(second)


def test_a_fall_is_said_by_how_much():
    fault = made("fading", measured=-6.25, limit=-5.0, kind=Kind.PERCENT_PER_S)
    assert "sank by 6.2 % per second" in fault_finding(fault, EN, ForceUnit.NEWTON)
    assert "mehr als 5 %" in fault_finding(fault, DE, ForceUnit.NEWTON)
