"""The pages of an audit: what the charts show is what the audit found."""

import re
from dataclasses import replace

import numpy as np
import pytest
from audited import DAY, PROTOCOL, small_audit
from matplotlib.colors import to_hex
from pypdf import PdfReader

from acquire.errors import ArchiveError
from acquire.simulation.efforts import FAULTY, GOOD, simulate
from analysis.audit.coaching import Habit, UsualCurve
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.verdict import judge
from ui.model.audit.charts import funnel_of
from ui.papers.audit import coaching_page, pages
from ui.papers.audit.coaching_page import write_coaching_sheet
from ui.papers.audit.pages import write_audit_pages
from ui.papers.picture import BLUE, GREEN, ORANGE, VERMILION
from ui.words.words import ENGLISH, Words


@pytest.fixture(scope="module")
def audit():
    return small_audit()


@pytest.fixture
def drawn(monkeypatch):
    """The figures that would be written."""
    kept = []
    monkeypatch.setattr(pages, "write_sheets", lambda _path, figures, _words: kept.extend(figures))

    def draw(audit, language="en"):
        kept.clear()
        write_audit_pages(audit, None, Words(language))
        return list(kept)

    return draw


def texts(figure):
    return [text.get_text() for text in figure.texts]


def title(axis):
    return axis.get_title(loc="left")


def test_pages_are_funnel_courses_agreement_and_words(audit, drawn):
    heads = [texts(figure)[0] for figure in drawn(audit)]
    # six series of examiners and one sensor, four on a page
    assert heads == [
        "Audit of examiners",
        *["Over time: where a moving average left its limits"] * 2,
        "Agreement of two examiners on the same persons",
        "In words",
    ]


def test_funnel_has_a_mark_for_each_examiner_and_names_findings_only(audit, drawn):
    figure = drawn(audit)[0]
    assert f"96 sessions, 222 trials, judged by ramp-and-hold ({audit.protocol.hash})" in texts(figure)
    axis, funnel = figure.axes[0], funnel_of(audit)
    marks = {
        (float(line.get_xdata()[0]), float(line.get_ydata()[0])): (line.get_marker(), line.get_color())
        for line in axis.lines
        if len(line.get_xdata()) == 1 and line.get_marker() != "s"
    }
    assert marks == {
        (float(point.trials), point.share_pct): ("^", VERMILION) if point.finding else ("o", BLUE)
        for point in funnel.points
    }
    assert [text.get_text() for text in axis.texts] == ["HASTY"]
    bars = [tuple(line.get_ydata()) for line in axis.lines if len({*line.get_xdata()}) < len(line.get_xdata()) == 2]
    assert bars == [limits for point in funnel.points for limits in point.limits_pct]
    expected = [line.get_ydata()[0] for line in axis.lines if line.get_marker() == "s"]
    assert expected == [point.expected_pct for point in funnel.points]
    level = [line for line in axis.lines if list(line.get_xdata()) == [0, 1]]
    assert [line.get_ydata()[0] for line in level] == [pytest.approx(100.0 * 78 / 222)]
    assert axis.get_ylim()[0] == 0.0


def test_ramp_times_are_boxes_over_the_wanted_band(audit, drawn):
    axis = drawn(audit)[0].axes[1]
    assert [label.get_text() for label in axis.get_xticklabels()] == ["B", "C", "HASTY", "NEW"]
    medians = [line.get_ydata()[0] for line in axis.lines if line.get_color() == BLUE]
    assert medians == [examiner.numbers["ramp_time_s"].found.quartiles[1] for examiner in audit.examiners]
    band = axis.patches[0].get_extents().transformed(axis.transData.inverted())
    assert (band.y0, band.y1) == pytest.approx((PROTOCOL.ramp.warn_below_s, PROTOCOL.ramp.warn_above_s))


def test_audit_without_ramp_times_draws_no_boxes(audit, drawn):
    unknown = {name: np.full_like(values, np.nan) for name, values in audit.table.technique.items()}
    axis = drawn(replace(audit, table=replace(audit.table, technique=unknown)))[0].axes[1]
    assert not axis.lines


def test_courses_show_values_average_limits_and_signals(audit, drawn):
    _, first, second, *_ = drawn(audit)
    axes = [axis for figure in (first, second) for axis in figure.axes if axis.axison]
    assert [title(axis) for axis in axes] == [
        "B: rejected trials",
        "B: ramp",
        "C: rejected trials",
        "C: ramp",
        "HASTY: rejected trials",
        "HASTY: ramp",
        "sensor drifting: zero, N",
    ]
    assert len(second.axes) == 4
    assert [axis.axison for axis in second.axes] == [True, True, True, False]
    course = next(each for each in audit.sensors if each.sensor == "drifting").zero
    values, average, low, high, *signals = axes[-1].lines
    for line, wanted in ((values, course.value), (average, course.average), (low, course.low), (high, course.high)):
        np.testing.assert_array_equal(line.get_ydata(), wanted)
        np.testing.assert_array_equal(line.get_xdata(), np.arange(30))
    crossings = [signal for signal in course.signals if signal.chart == "ewma"]
    assert [line.get_xdata()[0] for line in signals] == [signal.at_s / DAY for signal in crossings]


def test_signal_that_comes_back_has_its_own_colour(audit, drawn):
    (b, *_) = audit.examiners
    axis = drawn(replace(audit, examiners=(b,)))[1].axes[0]
    signals = [signal for signal in b.courses["rejected"].signals if signal.chart == "ewma"]
    assert {signal.change for signal in signals} == {"below", "back"}
    colours = [line.get_color() for line in axis.lines[4:]]
    assert colours == [GREEN if signal.change == "back" else ORANGE for signal in signals]


def test_course_without_a_signal_is_not_drawn(audit, drawn):
    def quiet(course):
        return None if course is None else replace(course, signals=())

    examiners = tuple(
        replace(each, courses={name: quiet(course) for name, course in each.courses.items()})
        for each in audit.examiners
    )
    sensors = tuple(replace(each, zero=quiet(each.zero)) for each in audit.sensors)
    still = replace(audit, examiners=examiners, sensors=sensors)
    assert not [figure for figure in drawn(still) if texts(figure)[0].startswith("Over time")]


def test_agreement_shows_each_person_and_the_limits(audit, drawn):
    (figure,) = [figure for figure in drawn(audit) if texts(figure)[0].startswith("Agreement")]
    axis, *others = figure.axes
    assert [other.axison for other in others] == [False] * 3
    (study,) = audit.agreement
    limits, icc = study.numbers.agreement, study.numbers.icc["ICC(2,1)"]
    levels, points = axis.lines[:3], axis.lines[3]
    assert [line.get_ydata()[0] for line in levels] == [limits.bias, limits.low, limits.high]
    assert sorted(points.get_ydata()) == pytest.approx([2.0] * 6 + [4.0] * 6)
    assert min(points.get_xdata()) == pytest.approx(148.0)  # 150 and 146
    assert title(axis) == (
        f"B minus C: Hip flexion, left, by hand, 12 persons, ICC(2,1) {icc.value:.2f} "
        f"({icc.low:.2f} to {icc.high:.2f}), SEM {study.numbers.sem.value:.1f} N"
    )
    assert axis.get_ylim() == pytest.approx((-1.3 * limits.high_interval[1], 1.3 * limits.high_interval[1]))
    assert [text.get_text().strip() for text in axis.texts] == ["+3", "+1", "+5"]
    without = replace(audit, agreement=(replace(study, numbers=replace(study.numbers, agreement=None)),))
    assert not [figure for figure in drawn(replace(without, examiners=())) if texts(figure)[0].startswith("Agreement")]


@pytest.mark.slow
def test_five_studies_take_two_pages(audit, drawn):
    found = [f for f in drawn(replace(audit, agreement=audit.agreement * 5)) if texts(f)[0].startswith("Agreement")]
    assert [sum(axis.axison for axis in figure.axes) for figure in found] == [4, 1]


def test_words_go_on_on_the_next_page_and_no_line_is_lost(audit, drawn):
    unreadable = tuple((f"file-{number}.h5", "damaged " * 20) for number in range(100))
    said = [
        texts(figure)[1] for figure in drawn(replace(audit, unreadable=unreadable)) if texts(figure)[0] == "In words"
    ]
    assert len(said) > 2
    assert [page.count("\n") + 1 for page in said[:-1]] == [78] * (len(said) - 1)
    assert max(len(line) for page in said for line in page.splitlines()) <= 104
    whole = "\n".join(said)
    assert re.findall(r"file-\d+\.h5", whole) == [file for file, _ in unreadable]
    assert whole.count("damaged") == 100 * 20


@pytest.mark.slow
def test_pages_are_numbered_and_say_what_the_program_is_not(audit, tmp_path):
    write_audit_pages(audit, tmp_path / "audit.pdf", ENGLISH)
    read = [page.extract_text() for page in PdfReader(tmp_path / "audit.pdf").pages]
    assert len(read) == 5
    for number, text in enumerate(read, start=1):
        assert f"page {number} of 5" in text
        assert "not a medical device" in text


def test_place_that_cannot_be_written_is_told(audit, tmp_path):
    with pytest.raises(ArchiveError, match="the pages cannot be written: No such file"):
        write_audit_pages(audit, tmp_path / "none" / "audit.pdf", ENGLISH)


def shown(code, seed):
    made = simulate(FAULTY.get(code, GOOD), seed=seed)
    return JudgedTrial(trial=None, judgement=judge(made.trace, PROTOCOL))


@pytest.fixture
def sheet(audit, monkeypatch):
    kept = []
    monkeypatch.setattr(coaching_page, "write_sheets", lambda _path, figures, _words: kept.extend(figures))

    def draw(*habits, examiner="HASTY", usual=None, language="en"):
        kept.clear()
        whose = next(each for each in audit.examiners if each.code == examiner)
        words = Words(language)
        write_coaching_sheet(None, examiner=whose, habits=habits, usual=usual, protocol=PROTOCOL, words=words)
        (figure,) = kept
        return figure

    return draw


def test_sheet_says_whose_it_is_and_of_how_many(sheet):
    assert texts(sheet()) == ["Coaching sheet: HASTY", "100 trials in 25 sessions, 75 % rejected"]
    few = texts(sheet(examiner="NEW"))[1]
    assert few.startswith("4 trials in 1 session, "), "not 1 sessions"
    assert few.endswith("0 % rejected: too few to tell a habit from chance")


def test_habits_are_numbered_with_shares_advice_and_curves(sheet):
    examples = [shown("fast-ramp", 1), shown("fast-ramp", 2)]
    figure = sheet(
        (Habit(code="fast-ramp", share=0.75, expected=0.02, finding=True, examples=()), examples),
        (Habit(code="jerk", share=0.25, expected=float("nan"), finding=False, examples=()), examples[:1]),
    )
    _, first, curves, second, single = figure.axes
    assert [text.get_text() for text in first.texts[:2]] == ["1. ramp too fast", "75 % of trials, others 2 %"]
    assert first.texts[2].get_text().replace("\n", " ").startswith("Ask the person to build up over one to two seconds")
    assert first.texts[2].get_text().endswith(".")
    assert max(map(len, first.texts[2].get_text().splitlines())) <= 44
    assert [text.get_text() for text in second.texts[:2]] == ["2. jerk", "25 % of trials (may be chance)"]
    assert (len(curves.lines), len(single.lines)) == (2, 1)
    for line, judged in zip(curves.lines, examples, strict=True):
        effort = judged.judgement.effort
        np.testing.assert_array_equal(line.get_ydata(), effort.smooth)
        np.testing.assert_allclose(line.get_xdata(), effort.time - judged.judgement.measures.onset_s)


def test_usual_curve_is_in_per_cent_over_the_band(sheet):
    time = np.linspace(0.0, 5.0, 11)
    usual = UsualCurve(time=time, low=np.full(11, 0.9), median=np.full(11, 1.0), high=np.full(11, 1.1), curves=7)
    axis = sheet(usual=usual).axes[0]
    assert "middle half of 7 trials" in title(axis)
    (line,) = axis.lines
    assert set(line.get_ydata()) == {100.0}
    (middle,) = axis.collections
    reach = middle.get_paths()[0].vertices[:, 1]
    assert (reach.min(), reach.max()) == pytest.approx((90.0, 110.0))
    assert to_hex(middle.get_facecolor()[0]) == to_hex(BLUE)
    band = axis.patches[0].get_xy()[:, 1]
    assert 99.0 < band.max() < 130.0  # in per cent
    assert title(sheet().axes[0]) == "No curve can be drawn"


def all_texts(figure):
    """Every text of a page, numbers at the axes too."""
    yield from texts(figure)
    for axis in (axis for axis in figure.axes if axis.axison or axis.texts):
        yield from (title(axis), axis.get_xlabel(), axis.get_ylabel())
        ticks = (*axis.get_xticklabels(), *axis.get_yticklabels()) if axis.axison else ()
        yield from (text.get_text() for text in (*axis.texts, *ticks))


def test_german_pages_and_sheet_hold_no_english_and_no_decimal_point(audit, drawn, sheet):
    usual = UsualCurve(time=np.linspace(0, 5, 3), low=np.ones(3), median=np.ones(3), high=np.ones(3), curves=1)
    habit = Habit(code="fast-ramp", share=0.75, expected=0.02, finding=False, examples=())
    figures = [*drawn(audit, "de"), sheet((habit, [shown("fast-ramp", 1)]), usual=usual, language="de")]
    for figure in figures:
        figure.canvas.draw()
    said = "\n".join(text for figure in figures for text in all_texts(figure))
    plain = re.sub(r"\d\d\.\d\d\.\d{4}|ramp-and-hold|.*damaged.*", "", said)
    assert re.findall(r"\d\.\d|\b(?:the|of|trials?|sessions?|others|sheet|curve|zero|ramp|rejected)\b", plain) == []
    assert "Sensor drifting: Nullpunkt, N" in said
    assert "Die \u00fcbliche Kurve: 1 Versuch, \u00fcber dem verlangten Bereich" in said
    assert "75 % der Versuche, andere 2 % (kann Zufall sein)" in said
