"""An audit as pages to print: a funnel of examiners, their courses, agreement, and all of it in words."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from analysis.audit.archive_audit import Audit
from analysis.audit.examiners import REJECTED
from analysis.audit.trend import Course
from analysis.reliability.retest import Reliability, ReliabilityNumbers
from ui.model.audit.charts import funnel_of
from ui.model.audit.findings_text import day, number_name
from ui.papers.audit.sheet import make_plain, sheet, write_sheets
from ui.papers.audit.text import about_line, audit_text, kind_text
from ui.papers.picture import BLUE, GREEN, GREY, ORANGE, VERMILION
from ui.words.words import Words

LINES_A_PAGE = 78
COURSES_A_PAGE = 4
DATES_AN_AXIS = 6
LINE = 104
DAY_S = 86_400.0


def write_audit_pages(audit: Audit, path: Path, words: Words) -> None:
    """Write an audit as a PDF in a language.

    Raises
    ------
    ArchiveError
        If it cannot be written.
    """
    pages = (_course_pages, _agreement_pages, _text_pages)
    write_sheets(path, [_funnel_page(audit, words), *(page for make in pages for page in make(audit, words))], words)


def _funnel_page(audit: Audit, words: Words) -> Figure:
    figure = sheet(words("audit_paper.title"))
    figure.text(0.06, 0.925, about_line(audit, words), fontsize=9)
    axes = figure.subplots(2, 1, gridspec_kw={"top": 0.88, "bottom": 0.1, "hspace": 0.32, "left": 0.1, "right": 0.95})
    _funnel(axes[0], audit, words)
    _ramp_times(axes[1], audit, words)
    return figure


def _funnel(axis: Axes, audit: Audit, words: Words) -> None:
    """Draw the share of rejected trials of each examiner against what chance lets expect in the same actions."""
    make_plain(axis, words)
    funnel = funnel_of(audit)
    for point in funnel.points:
        for limits, width in zip(point.limits_pct, (3.0, 0.9), strict=True):
            axis.plot([point.trials] * 2, limits, color=GREY, alpha=0.45, linewidth=width, zorder=1)
        axis.plot(point.trials, point.expected_pct, "s", color=GREY, markersize=3, zorder=2)
    axis.axhline(funnel.overall_pct, color=GREY, linewidth=0.8)
    for point in funnel.points:
        mark, colour = ("^", VERMILION) if point.finding else ("o", BLUE)
        at = (point.trials, point.share_pct)
        axis.plot(*at, mark, color=colour, markersize=6)
        if point.finding:  # the names of the others would lie on one another; the table has them
            axis.annotate(point.code, at, xytext=(5, 3), textcoords="offset points", fontsize=8)
    axis.set_xlabel(words("audit.funnel.trials"), fontsize=9)
    axis.set_ylabel(words("audit_paper.funnel.share"), fontsize=9)
    axis.set_title(words("audit_paper.funnel.about"), fontsize=9, loc="left")
    axis.set_ylim(bottom=0.0)


def _ramp_times(axis: Axes, audit: Audit, words: Words) -> None:
    make_plain(axis, words)
    table, rule = audit.table, audit.protocol.ramp
    known = ~np.isnan(table.technique["ramp_time_s"])
    codes = [examiner.code for examiner in audit.examiners]
    values = [table.technique["ramp_time_s"][known & table.examiner.where(code)] for code in codes]
    told = [(code, each) for code, each in zip(codes, values, strict=True) if len(each)]
    axis.axhspan(rule.warn_below_s, rule.warn_above_s, color=GREEN, alpha=0.12, linewidth=0)
    if told:
        axis.boxplot([each for _, each in told], sym="", medianprops={"color": BLUE, "linewidth": 1.8})
        axis.set_xticks(range(1, len(told) + 1), [code for code, _ in told], rotation=40, ha="right", fontsize=8)
    axis.set_ylabel(words("audit_paper.ramp.seconds"), fontsize=9)
    axis.set_title(words("audit_paper.ramp.about"), fontsize=9, loc="left")


def _course_pages(audit: Audit, words: Words) -> Iterator[Figure]:
    drawn = [*_examiner_courses(audit, words), *_sensor_courses(audit, words)]
    for first in range(0, len(drawn), COURSES_A_PAGE):
        figure = sheet(words("audit_paper.course_title"))
        axes = figure.subplots(
            COURSES_A_PAGE, 1, gridspec_kw={"top": 0.9, "bottom": 0.07, "hspace": 0.5, "left": 0.1, "right": 0.95}
        )
        for axis, item in zip(axes, [*drawn[first : first + COURSES_A_PAGE], *[None] * COURSES_A_PAGE], strict=False):
            if item is None:
                axis.set_axis_off()
            else:
                _course(axis, *item, words)
        yield figure


def _examiner_courses(audit: Audit, words: Words) -> Iterator[tuple[str, Course]]:
    """Yield what a moving average of an examiner left its limits in, each with its title."""
    for examiner in audit.examiners:
        for name, course in examiner.courses.items():
            if any(signal.chart == "ewma" for signal in course.signals):
                what = words("audit_paper.course.rejected") if name == REJECTED else number_name(name, words)
                yield words("audit_paper.course.of", code=examiner.code, what=what), course


def _sensor_courses(audit: Audit, words: Words) -> Iterator[tuple[str, Course]]:
    """Yield what has moved of a sensor, each with its title."""
    for sensor in audit.sensors:
        for what, course in (("zero", sensor.zero), ("sensitivity", sensor.sensitivity)):
            if course is not None and course.signals:
                yield words(f"audit_paper.course.sensor_{what}", sensor=sensor.sensor), course


def _course(axis: Axes, title: str, course: Course, words: Words) -> None:
    make_plain(axis, words)
    axis.xaxis.set_major_locator(MaxNLocator(DATES_AN_AXIS, integer=True))
    axis.xaxis.set_major_formatter(FuncFormatter(lambda days, _: words.day(day(days * DAY_S))))
    days = course.at_s / DAY_S  # matplotlib counts days since 1970
    axis.plot(days, course.value, ".", color=GREY, markersize=4)
    axis.plot(days, course.average, color=BLUE, linewidth=1.4)
    for limit in (course.low, course.high):
        axis.plot(days, limit, "--", color=VERMILION, linewidth=0.9)
    for signal in course.signals:
        if signal.chart == "ewma":
            axis.axvline(
                signal.at_s / DAY_S,
                color=GREEN if signal.change == "back" else ORANGE,
                linewidth=1.0,
                linestyle=":",
            )
    axis.set_title(title, fontsize=9, loc="left")


def _agreement_pages(audit: Audit, words: Words) -> Iterator[Figure]:
    studies = [study for study in audit.agreement if study.numbers is not None and study.numbers.agreement is not None]
    for first in range(0, len(studies), COURSES_A_PAGE):
        figure = sheet(words("audit_paper.agreement_title"))
        axes = figure.subplots(
            COURSES_A_PAGE, 1, gridspec_kw={"top": 0.9, "bottom": 0.07, "hspace": 0.6, "left": 0.1, "right": 0.95}
        )
        page = studies[first : first + COURSES_A_PAGE]
        for axis, study in zip(axes, [*page, *[None] * COURSES_A_PAGE], strict=False):
            if study is None:
                axis.set_axis_off()
            else:
                _limits(axis, study, words)
        yield figure


def _limits(axis: Axes, study: Reliability, words: Words) -> None:
    numbers = study.numbers
    if numbers is None or numbers.agreement is None:
        return
    make_plain(axis, words)
    limits = numbers.agreement
    for value, style in ((limits.bias, "-"), (limits.low, "--"), (limits.high, "--")):
        axis.axhline(value, color=BLUE, linestyle=style, linewidth=1.0)
        axis.text(
            1.0,
            value,
            f" {words.number(value, 0, signed=True)}",
            transform=axis.get_yaxis_transform(),
            fontsize=8,
            va="center",
        )
    for band in (limits.low_interval, limits.high_interval):
        axis.axhspan(*band, color=ORANGE, alpha=0.15, linewidth=0)
    pairs = np.array(study.values)
    axis.plot(pairs.mean(axis=1), pairs[:, 0] - pairs[:, 1], "o", color=BLUE, markersize=4)
    axis.set_title(_study_title(study, numbers, words), fontsize=9, loc="left")
    axis.set_ylabel(words("audit_paper.study.difference"), fontsize=9)
    axis.set_xlabel(words("audit_paper.study.mean"), fontsize=9)
    reach = 1.3 * max(abs(limits.low_interval[0]), abs(limits.high_interval[1]))
    axis.set_ylim(-reach, reach)


def _study_title(study: Reliability, numbers: ReliabilityNumbers, words: Words) -> str:
    icc = numbers.icc["ICC(2,1)"]
    return words(
        "audit_paper.study.title",
        one=study.ratings[0],
        other=study.ratings[-1],
        what=kind_text(study.kind, words),
        persons=len(study.persons),
        icc=words.number(icc.value, 2),
        low=words.number(icc.low, 2),
        high=words.number(icc.high, 2),
        sem=words.number(numbers.sem.value, 1),
    )


def _text_pages(audit: Audit, words: Words) -> Iterator[Figure]:
    lines = [part for line in audit_text(audit, words).splitlines() for part in textwrap.wrap(line, LINE) or [""]]
    for first in range(0, len(lines), LINES_A_PAGE):
        figure = sheet(words("audit_paper.words_title"))
        figure.text(
            0.06, 0.92, "\n".join(lines[first : first + LINES_A_PAGE]), fontsize=7, family="monospace", va="top"
        )
        yield figure
