"""An audit as pages to print: a funnel of examiners, their courses, agreement; and a coaching sheet for one of them."""

from __future__ import annotations

import io
import math
import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from matplotlib import rcParams
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from acquire.errors import ArchiveError
from acquire.files.atomic import replace_file
from analysis.audit.archive_audit import Audit
from analysis.audit.coaching import Habit, UsualCurve
from analysis.audit.examiners import REJECTED, ExaminerAudit
from analysis.audit.trend import Course
from analysis.reliability.retest import Reliability
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.protocol import Protocol
from ui.model.audit.charts import funnel_of
from ui.model.audit.findings_text import advice, number_name
from ui.model.stage.band import wanted_band
from ui.papers.audit.text import audit_text
from ui.papers.picture import BLUE, GREEN, GREY, ORANGE, VERMILION
from ui.words.words import ENGLISH

rcParams["text.parse_math"] = False  # a code or a file name may hold dollar signs

PAGE_INCHES = (8.27, 11.69)
"""A4, upright."""
LINES_A_PAGE = 78
COURSES_A_PAGE = 4
LINE = 104
DAY_S = 86_400.0
FOOT = "Ramphold is a research and training tool, not a medical device. A fault is of a trial, never of a person."


def write_audit_pages(audit: Audit, path: Path) -> None:
    """Write an audit as a PDF.

    Raises
    ------
    ArchiveError
        If it cannot be written.
    """
    _write(path, [_funnel_page(audit), *_course_pages(audit), *_agreement_pages(audit), *_text_pages(audit)])


def write_coaching_sheet(
    path: Path,
    *,
    examiner: ExaminerAudit,
    habits: Sequence[tuple[Habit, Sequence[JudgedTrial]]],
    usual: UsualCurve | None,
    protocol: Protocol,
) -> None:
    """Write the coaching sheet of one examiner as a PDF of one page.

    Parameters
    ----------
    path : Path
        The file.
    examiner : ExaminerAudit
        Whose sheet it is.
    habits : sequence of (Habit, sequence of JudgedTrial)
        The worst habits, each with trials that show it.
    usual : UsualCurve, optional
        The usual shape of the curves.
    protocol : Protocol
        For the wanted band.

    Raises
    ------
    ArchiveError
        If it cannot be written.
    """
    figure = _page(f"Coaching sheet: {examiner.code}")
    grid = figure.add_gridspec(
        4, 2, top=0.87, bottom=0.08, left=0.09, right=0.96, hspace=0.62, wspace=0.18, height_ratios=(1.5, 1, 1, 1)
    )
    share = examiner.shares[REJECTED].found
    figure.text(
        0.06,
        0.915,
        f"{examiner.trials} trials in {examiner.sessions} sessions, {100.0 * share.share:.0f} % rejected"
        + ("" if examiner.enough else ": too few to tell a habit from chance"),
        fontsize=10,
    )
    _usual(figure.add_subplot(grid[0, :]), usual, protocol)
    for row, (habit, trials) in enumerate(habits, start=1):
        _advice(figure.add_subplot(grid[row, 0]), row, habit)
        _examples(figure.add_subplot(grid[row, 1]), trials)
    _write(path, [figure])


def _write(path: Path, figures: Sequence[Figure]) -> None:
    made = io.BytesIO()  # on a full disk the library would leave its file open
    with PdfPages(made, metadata={"Title": "Ramphold audit"}) as pages:
        for number, figure in enumerate(figures, start=1):
            figure.text(0.06, 0.025, FOOT, fontsize=7, color=GREY)
            figure.text(0.94, 0.025, f"{number} of {len(figures)}", fontsize=7, color=GREY, ha="right")
            pages.savefig(figure)
    try:
        replace_file(path, lambda aside: aside.write_bytes(made.getvalue()))
    except OSError as error:
        raise ArchiveError(f"{path}: the pages cannot be written: {error.strerror or error}") from error


def _page(title: str) -> Figure:
    figure = Figure(figsize=PAGE_INCHES)
    figure.text(0.06, 0.95, title, fontsize=15, fontweight="bold")
    return figure


def _plain(axis: Axes) -> None:
    axis.spines[["top", "right"]].set_visible(False)
    axis.tick_params(labelsize=8)
    axis.grid(axis="y", linewidth=0.4, color="#dddddd")


def _funnel_page(audit: Audit) -> Figure:
    figure = _page("Audit of examiners")
    judged = f"{audit.protocol.name} ({audit.protocol.hash})"
    about = f"{audit.files} sessions, {len(audit.table)} trials, judged by {judged}"
    figure.text(0.06, 0.925, about, fontsize=9)
    axes = figure.subplots(2, 1, gridspec_kw={"top": 0.88, "bottom": 0.1, "hspace": 0.32, "left": 0.1, "right": 0.95})
    _funnel(axes[0], audit)
    _ramp_times(axes[1], audit)
    return figure


def _funnel(axis: Axes, audit: Audit) -> None:
    """Draw the share of rejected trials of each examiner, as it would be in the strata of all, against its limits."""
    _plain(axis)
    funnel = funnel_of(audit)
    for limits, style in zip(funnel.limits_pct, ("--", "-"), strict=True):
        for column in limits.T:
            axis.plot(funnel.sizes, column, style, color=GREY, linewidth=0.8)
    axis.axhline(funnel.overall_pct, color=GREY, linewidth=0.8)
    for point in funnel.points:
        mark, colour = ("^", VERMILION) if point.finding else ("o", BLUE)
        at = (point.trials, point.share_pct)
        axis.plot(*at, mark, color=colour, markersize=6)
        if point.finding:  # the names of the others would lie on one another; the table has them
            axis.annotate(point.code, at, xytext=(5, 3), textcoords="offset points", fontsize=8)
    axis.set_xlabel("trials", fontsize=9)
    axis.set_ylabel("rejected, % (same mix of actions for all)", fontsize=9)
    axis.set_title("Lines: where chance alone lets 95 % and 99.8 % fall; triangle: a finding", fontsize=9, loc="left")
    axis.set_ylim(bottom=0.0)


def _ramp_times(axis: Axes, audit: Audit) -> None:
    _plain(axis)
    table, rule = audit.table, audit.protocol.ramp
    known = ~np.isnan(table.technique["ramp_time_s"])
    codes = [examiner.code for examiner in audit.examiners]
    values = [table.technique["ramp_time_s"][known & table.examiner.where(code)] for code in codes]
    told = [(code, each) for code, each in zip(codes, values, strict=True) if len(each)]
    axis.axhspan(rule.warn_below_s, rule.warn_above_s, color=GREEN, alpha=0.12, linewidth=0)
    if told:
        axis.boxplot([each for _, each in told], sym="", medianprops={"color": BLUE, "linewidth": 1.8})
        axis.set_xticks(range(1, len(told) + 1), [code for code, _ in told], rotation=40, ha="right", fontsize=8)
    axis.set_ylabel("ramp, s", fontsize=9)
    axis.set_title("Ramp times: quartiles and reach; green is what the protocol wants", fontsize=9, loc="left")


def _course_pages(audit: Audit) -> Iterator[Figure]:
    drawn = [
        (f"{e.code}: {'rejected trials' if name == REJECTED else number_name(name, ENGLISH)}", course)
        for e in audit.examiners
        for name, course in e.courses.items()
        if any(signal.chart == "ewma" for signal in course.signals)
    ]
    drawn += [
        (f"sensor {s.sensor}: {what}", course)
        for s in audit.sensors
        for what, course in (("zero, N", s.zero), ("sensitivity, N a count", s.sensitivity))
        if course is not None and course.signals
    ]
    for first in range(0, len(drawn), COURSES_A_PAGE):
        figure = _page("Over time: where a moving average left its limits")
        axes = figure.subplots(
            COURSES_A_PAGE, 1, gridspec_kw={"top": 0.9, "bottom": 0.07, "hspace": 0.5, "left": 0.1, "right": 0.95}
        )
        for axis, item in zip(axes, [*drawn[first : first + COURSES_A_PAGE], *[None] * COURSES_A_PAGE], strict=False):
            if item is None:
                axis.set_axis_off()
            else:
                _course(axis, *item)
        yield figure


def _course(axis: Axes, title: str, course: Course) -> None:
    _plain(axis)
    axis.xaxis_date()
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


def _agreement_pages(audit: Audit) -> Iterator[Figure]:
    studies = [study for study in audit.agreement if study.numbers is not None and study.numbers.agreement is not None]
    for first in range(0, len(studies), COURSES_A_PAGE):
        figure = _page("Agreement of two examiners on the same persons")
        axes = figure.subplots(
            COURSES_A_PAGE, 1, gridspec_kw={"top": 0.9, "bottom": 0.07, "hspace": 0.6, "left": 0.1, "right": 0.95}
        )
        page = studies[first : first + COURSES_A_PAGE]
        for axis, study in zip(axes, [*page, *[None] * COURSES_A_PAGE], strict=False):
            if study is None:
                axis.set_axis_off()
            else:
                _limits(axis, study)
        yield figure


def _limits(axis: Axes, study: Reliability) -> None:
    numbers = study.numbers
    if numbers is None or numbers.agreement is None:
        return
    _plain(axis)
    limits, kind = numbers.agreement, study.kind
    for value, style in ((limits.bias, "-"), (limits.low, "--"), (limits.high, "--")):
        axis.axhline(value, color=BLUE, linestyle=style, linewidth=1.0)
        axis.text(1.0, value, f" {value:+.0f}", transform=axis.get_yaxis_transform(), fontsize=8, va="center")
    for band in (limits.low_interval, limits.high_interval):
        axis.axhspan(*band, color=ORANGE, alpha=0.15, linewidth=0)
    pairs = np.array(study.values)
    axis.plot(pairs.mean(axis=1), pairs[:, 0] - pairs[:, 1], "o", color=BLUE, markersize=4)
    icc = numbers.icc["ICC(2,1)"]
    what = ", ".join(word for word in (kind.action.replace("-", " "), kind.side or "", kind.method) if word)
    axis.set_title(
        f"{' minus '.join(study.ratings)}: {what}, {len(study.persons)} persons, ICC(2,1) {icc.value:.2f} "
        f"({icc.low:.2f} to {icc.high:.2f}), SEM {numbers.sem.value:.1f} N",
        fontsize=9,
        loc="left",
    )
    axis.set_ylabel("difference, N", fontsize=9)
    axis.set_xlabel("mean of the two, N", fontsize=9)
    reach = 1.3 * max(abs(limits.low_interval[0]), abs(limits.high_interval[1]))
    axis.set_ylim(-reach, reach)


def _text_pages(audit: Audit) -> Iterator[Figure]:
    lines = [part for line in audit_text(audit).splitlines() for part in textwrap.wrap(line, LINE) or [""]]
    for first in range(0, len(lines), LINES_A_PAGE):
        figure = _page("In words")
        figure.text(
            0.06, 0.92, "\n".join(lines[first : first + LINES_A_PAGE]), fontsize=7, family="monospace", va="top"
        )
        yield figure


def _usual(axis: Axes, usual: UsualCurve | None, protocol: Protocol) -> None:
    _plain(axis)
    band = wanted_band(protocol, [1.0])
    axis.fill(
        np.concatenate([band.time, band.time[::-1]]),
        100.0 * np.concatenate([band.high, band.low[::-1]]),
        color=GREEN,
        alpha=0.14,
        linewidth=0,
    )
    if usual is not None:
        axis.fill_between(usual.time, 100.0 * usual.low, 100.0 * usual.high, color=BLUE, alpha=0.22, linewidth=0)
        axis.plot(usual.time, 100.0 * usual.median, color=BLUE, linewidth=1.6)
        title = f"The usual curve: median and middle half of {usual.curves} trials, over the wanted band"
    else:
        title = "No curve can be drawn"
    axis.set_title(title, fontsize=9, loc="left")
    axis.set_xlabel("time from onset, s", fontsize=8)
    axis.set_ylabel("% of plateau", fontsize=8)


def _advice(axis: Axes, place: int, habit: Habit) -> None:
    axis.set_axis_off()
    expected = "" if math.isnan(habit.expected) else f", others {100.0 * habit.expected:.0f} %"
    weight = "" if habit.finding else " (may be chance)"
    axis.text(0.0, 0.98, f"{place}. {habit.code}", fontsize=11, fontweight="bold", va="top")
    axis.text(0.0, 0.74, f"{100.0 * habit.share:.0f} % of trials{expected}{weight}", fontsize=9, va="top")
    sentence = f"{advice(habit.code, ENGLISH).capitalize()}."
    axis.text(0.0, 0.52, "\n".join(textwrap.wrap(sentence, 44)), fontsize=9.5, va="top")


def _examples(axis: Axes, trials: Sequence[JudgedTrial]) -> None:
    _plain(axis)
    for judged, style in zip(trials, ("-", "--"), strict=False):
        effort, onset = judged.judgement.effort, judged.judgement.measures.onset_s or 0.0
        if effort is not None:
            axis.plot(effort.time - onset, effort.smooth, style, color=VERMILION, linewidth=1.1)
    axis.set_title("trials that show it, N", fontsize=8, loc="left")
    axis.tick_params(labelsize=7)
