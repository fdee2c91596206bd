"""The sentences and numbers of a check, in both languages."""

import msgspec
import pytest
from check_bench import LIMITS, Bench, moved, setup, whole_check

from analysis.sensor_check import Status, find
from analysis.sensor_check.hum import Tone
from analysis.sensor_check.limits import Limit
from analysis.sensor_check.verdict import CODES, graded
from ui.model.check.text import asked, facts, finding_name, finding_phrase, rows, seen, value
from ui.model.check.trend import trends
from ui.session.check_setup import Step
from ui.words.words import Words, languages

replace = msgspec.structs.replace
LIMIT = Limit(warn_pct=0.2, fail_pct=0.5)
NEVER_UNSURE = {"lost-samples", "hum", "uncertainty"}


def with_tone(mains):
    tone = Tone(frequency_hz=50.0, rms_n=0.3, mains_hz=mains)
    return replace(whole_check(), unloaded=replace(whole_check().unloaded, tone=tone))


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("code", CODES)
def test_every_finding_has_a_name_and_its_sentences(code, language):
    words, texts = Words(language), set()
    for pct in (0.1, 0.3, 0.9):
        finding = graded(code, pct, LIMIT, measured_n=0.1)
        texts.add(finding_phrase(finding, with_tone(50.0)).said(words))
    assert len(texts) == 3
    assert not any("{" in text or "  " in text for text in texts)
    assert finding_name(graded(code, 0.1, LIMIT), words)
    if code not in NEVER_UNSURE:
        unsure = graded(code, 0.1, LIMIT, expanded_pct=0.9)
        assert f"{words.number(0.9, 1)} %" in finding_phrase(unsure, whole_check()).said(words)


def test_sentence_names_the_limit_that_was_passed():
    warned, failed = (graded("creep", pct, LIMIT, measured_n=1.0) for pct in (0.3, 0.9))
    assert "more than 0.2 %" in finding_phrase(warned, whole_check()).said(Words())
    assert "more than 0.5 %" in finding_phrase(failed, whole_check()).said(Words())


@pytest.mark.parametrize(("mains", "text"), [(50.0, "The 50 Hz mains are in the signal"), (None, "A tone at 50 Hz is")])
def test_hum_is_told_from_another_tone(mains, text):
    finding = graded("hum", 0.3, LIMIT, measured_n=1.5)
    assert finding_phrase(finding, with_tone(mains)).said(Words()).startswith(text)


def test_finding_without_weights_speaks_all_the_same():
    look = replace(whole_check(), loaded=None)
    assert finding_phrase(graded("noise", 0.9, LIMIT), look).said(Words())


@pytest.mark.parametrize(
    ("code", "newtons", "pct", "text"),
    [
        ("noise", 0.25, 0.05, "0.25 N (0.050 %)"),
        ("zero", 0.25, 0.05, "+0.25 N (+0.050 %)"),
        ("rate", None, -1.5, "-1.50 %"),
    ],
)
def test_value_has_a_sign_where_it_can_go_either_way(code, newtons, pct, text):
    assert value(graded(code, pct, LIMIT, measured_n=newtons)) == text


@pytest.mark.parametrize("language", languages())
def test_all_that_was_measured_has_a_name(language):
    words = Words(language)
    found = rows(with_tone(50.0), Words())
    assert len({words(f"check.figure.{row.key}") for row in found}) == len(found) == 11
    assert all(row.newtons and row.percent for row in found)
    texts = [fact.said(words) for fact in facts(whole_check())]
    assert len(texts) == 4
    assert not any("{" in text for text in texts)


def test_unknown_rate_is_said():
    look = replace(whole_check(), loaded=None, unloaded=replace(whole_check().unloaded, rate_hz=None))
    assert [fact.key for fact in facts(look)] == ["check.fact.rate_unknown", "check.fact.lost"]


# what is asked and seen


@pytest.mark.parametrize("language", languages())
def test_every_step_asks_something(language):
    words = Words(language)
    asks = {
        asked(Step("look", 0.0, 1.0), 0.0).said(words),
        asked(Step("up", 5.0, 1.0, 1), 0.0).said(words),
        asked(Step("down", 0.0, 1.0, 1), 5.0).said(words),
        asked(Step("zero", 0.0, 1.0, 1), 0.0).said(words),
        asked(Step("hold", 5.0, 1.0), 0.0).said(words),
    }
    assert len(asks) == 5


@pytest.mark.parametrize("language", languages())
def test_every_state_says_something(language):
    words = Words(language)
    said = {}
    bench = Bench(setup(5.0, full=True), hands=lambda step: 9.0 if step.purpose == "up" else step.mass_kg, noise_n=0.05)
    for _ in range(4000):
        bench.play(0.1)
        said[bench.routine.state.value] = seen(bench.routine, words("check.space")).said(words)
        if bench.routine.state.value == "wrong":
            bench.hang(5.0)
    assert set(said) == {"looking", "change", "moving", "wrong", "holding", "done"}
    assert len(set(said.values())) == 6


def test_overload_is_said_before_anything_else():
    bench = Bench(setup(20.0), hands=lambda step: 3.0 * step.mass_kg).play(26.0)
    assert seen(bench.routine, "").said(Words()) == "Too much for this sensor: take it off at once."


def test_weight_left_on_is_said_as_such():
    bench = Bench(setup(10.0, full=True), hands=lambda step: 2.0 if not step.mass_kg else step.mass_kg).play(40.0)
    assert seen(bench.routine, "Enter").said(Words()).startswith("This looks like 2.0 kg: take it off.")


# over time


def test_trends_are_from_the_first_check():
    first = whole_check()
    later = moved(first, 3.0, noise_n=0.5)
    stiffer = replace(first.loaded, counts_per_newton=1.01 * first.loaded.counts_per_newton)
    curves = {trend.key: trend.points for trend in trends([first, replace(later, loaded=stiffer), later])}
    assert [point.value for point in curves["zero"]] == pytest.approx([0.0, 3.0, 3.0])
    assert [point.value for point in curves["sensitivity"]] == pytest.approx([0.0, 1.0, 0.0])
    assert [point.value for point in curves["noise"]] == pytest.approx([first.unloaded.noise_n, 0.5, 0.5])
    assert {point.status for point in curves["zero"]} == {Status.PASS}


def test_trend_of_looks_has_no_sensitivity():
    look = replace(whole_check(), loaded=None)
    assert [len(trend.points) for trend in trends([look, look])] == [2, 0, 2]
    assert [len(trend.points) for trend in trends([])] == [0, 0, 0]


def test_other_calibration_in_use_makes_no_step():
    first = whole_check()
    other = replace(first, calibration=replace(first.calibration, zero_counts=5000.0))
    assert [point.value for point in trends([first, other])[0].points] == [0.0, 0.0]


def test_findings_of_a_whole_check_are_in_order():
    codes = [finding.code for finding in whole_check().findings]
    assert codes == [code for code in CODES if code in codes]
    again = find(
        whole_check().unloaded,
        whole_check().loaded,
        calibration=whole_check().calibration,
        rated_force_n=500.0,
        limits=LIMITS,
        before=whole_check(),
    )
    assert {"zero-moved", "sensitivity-moved"} <= {finding.code for finding in again}
