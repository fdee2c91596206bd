"""The coaching sheet as a page: the usual curve over the wanted band, and the worst habits with their trials."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes

from analysis.audit.coaching import Habit, UsualCurve
from analysis.audit.examiners import REJECTED, ExaminerAudit
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.protocol import Protocol
from ui.model.audit.findings_text import advice
from ui.model.stage.band import wanted_band
from ui.papers.audit.sheet import make_plain, sheet, write_sheets
from ui.papers.picture import BLUE, GREEN, VERMILION
from ui.words.fault_text import fault_name
from ui.words.words import Words

ADVICE_LINE = 44


def write_coaching_sheet(
    path: Path,
    *,
    examiner: ExaminerAudit,
    habits: Sequence[tuple[Habit, Sequence[JudgedTrial]]],
    usual: UsualCurve | None,
    protocol: Protocol,
    words: Words,
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
    words : Words
        The language of the sheet.

    Raises
    ------
    ArchiveError
        If it cannot be written.
    """
    figure = sheet(words("audit_paper.coach.title", code=examiner.code))
    grid = figure.add_gridspec(
        4, 2, top=0.87, bottom=0.08, left=0.09, right=0.96, hspace=0.62, wspace=0.18, height_ratios=(1.5, 1, 1, 1)
    )
    figure.text(0.06, 0.915, _about(examiner, words), fontsize=10)
    _usual(figure.add_subplot(grid[0, :]), usual, protocol, words)
    for row, (habit, trials) in enumerate(habits, start=1):
        _advice(figure.add_subplot(grid[row, 0]), row, habit, words)
        _examples(figure.add_subplot(grid[row, 1]), trials, words)
    write_sheets(path, [figure], words)


def _about(examiner: ExaminerAudit, words: Words) -> str:
    return words(
        f"audit_paper.coach.{'trials_in' if examiner.enough else 'trials_few'}",
        trials=words("audit_paper.trials", count=examiner.trials),
        sessions=words("audit_paper.sessions", count=examiner.sessions),
        share=words.number(100.0 * examiner.shares[REJECTED].found.share, 0),
    )


def _usual(axis: Axes, usual: UsualCurve | None, protocol: Protocol, words: Words) -> None:
    make_plain(axis, words)
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
        title = words("audit_paper.coach.usual", count=usual.curves)
    else:
        title = words("audit_paper.coach.no_curve")
    axis.set_title(title, fontsize=9, loc="left")
    axis.set_xlabel(words("audit_paper.coach.time"), fontsize=8)
    axis.set_ylabel(words("audit_paper.coach.plateau"), fontsize=8)


def _advice(axis: Axes, place: int, habit: Habit, words: Words) -> None:
    axis.set_axis_off()
    name = words("audit_paper.coach.habit", place=place, fault=fault_name(habit.code, words))
    axis.text(0.0, 0.98, name, fontsize=11, fontweight="bold", va="top")
    axis.text(0.0, 0.74, _share(habit, words), fontsize=9, va="top")
    sentence = advice(habit.code, words)
    sentence = f"{sentence[0].upper()}{sentence[1:]}."
    axis.text(0.0, 0.52, "\n".join(textwrap.wrap(sentence, ADVICE_LINE)), fontsize=9.5, va="top")


def _share(habit: Habit, words: Words) -> str:
    share = words("audit_paper.coach.share", share=words.number(100.0 * habit.share, 0))
    if not math.isnan(habit.expected):
        expected = words.number(100.0 * habit.expected, 0)
        share = words("audit_paper.coach.expected", share=share, expected=expected)
    return share if habit.finding else words("audit_paper.coach.by_chance", share=share)


def _examples(axis: Axes, trials: Sequence[JudgedTrial], words: Words) -> None:
    make_plain(axis, words)
    for judged, style in zip(trials, ("-", "--"), strict=False):
        effort, onset = judged.judgement.effort, judged.judgement.measures.onset_s or 0.0
        if effort is not None:
            axis.plot(effort.time - onset, effort.smooth, style, color=VERMILION, linewidth=1.1)
    axis.set_title(words("audit_paper.coach.examples"), fontsize=8, loc="left")
    axis.tick_params(labelsize=7)
