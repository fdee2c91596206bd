"""Trials as one picture: each curve with its ramp, its hold and what broke the protocol."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path

from matplotlib import rcParams
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from acquire.errors import ArchiveError
from acquire.files.atomic import replace_file
from acquire.values.records import Trace, Trial
from analysis.stored.traces import newtons_trial
from analysis.trial.faults import Severity
from analysis.trial.judged_trial import JudgedTrial, judge_trial
from analysis.trial.phases import Phases
from analysis.trial.protocol import Protocol, load_protocol
from analysis.trial.verdict import judge
from ui.progress import counted
from ui.words.judgement_json import aside_reason, verdict_word

# Okabe and Ito 2008, Color Universal Design: told apart by people with any kind of colour vision
rcParams["text.parse_math"] = False  # a code or a file name may hold dollar signs

BLUE, GREEN, ORANGE, VERMILION, GREY = "#0072B2", "#009E73", "#E69F00", "#D55E00", "#666666"

COLUMNS = 3
PANEL_INCHES = (4.6, 2.9)
PLOT_INCHES = (7.0, 4.0)
TIME_LABEL, FORCE_LABEL = "time from onset, s", "force, N"

TRIALS_A_PAGE = 30
"""Ten rows: what can be looked at, and drawn in some seconds."""


def draw_pages(trials: Sequence[JudgedTrial], path: Path, *, title: str) -> list[Path]:
    """Write trials as PNG, so many a page, and say how far it has come; return the files.

    Parameters
    ----------
    trials : sequence of JudgedTrial
        Numbered through.
    path : Path
        The first page; those after it are named like it, with ``-2``, ``-3``.

    Raises
    ------
    ArchiveError
        If one cannot be written.
    """
    starts = range(0, max(1, len(trials)), TRIALS_A_PAGE)
    files = [path if not at else path.with_stem(f"{path.stem}-{at // TRIALS_A_PAGE + 1}") for at in starts]
    for at, file in counted(list(zip(starts, files, strict=True)), "pages of the picture"):
        draw_trials(trials[at : at + TRIALS_A_PAGE], file, title=title, first=at + 1)
    return files


def draw_trials(trials: Sequence[JudgedTrial], path: Path, *, title: str, first: int = 1) -> None:
    """Write a PNG with one panel a trial, numbered from `first` on; the file appears whole or not at all.

    Raises
    ------
    ArchiveError
        If it cannot be written.
    """
    columns = min(COLUMNS, max(1, len(trials)))
    rows = max(1, -(-len(trials) // columns))
    figure = Figure(figsize=(PANEL_INCHES[0] * columns, PANEL_INCHES[1] * rows + 0.7), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.subplots(rows, columns, squeeze=False).ravel()
    for number, axis in enumerate(axes):
        if number < len(trials):
            _panel(axis, first + number, trials[number])
        else:
            axis.set_axis_off()
    figure.supxlabel(TIME_LABEL, fontsize=9)
    figure.supylabel(FORCE_LABEL, fontsize=9)
    if title:
        figure.suptitle(title, fontsize=11)
    save_figure(figure, path)


def plot_trial(trial: Trial | Trace, protocol: Protocol | None = None, *, axes: Axes | None = None) -> Axes:
    """Judge a trial and plot its force with ramp, hold and plateau, and with what broke the protocol.

    Parameters
    ----------
    trial : Trial or Trace
        One effort. A trace says nothing of method and examiner, so that the rules that need them do not apply.
    protocol : Protocol, optional
        What to judge by; the program's own when left out.
    axes : matplotlib Axes, optional
        Where to plot; a figure of its own when left out, which a notebook shows as ``axes.figure``.

    Returns
    -------
    matplotlib.axes.Axes
        Force in N over the time from the onset in s; the force alone, marked as rejected, where there is no effort.

    Examples
    --------
    >>> from acquire.simulation.efforts import GOOD, simulate
    >>> axes = plot_trial(simulate(GOOD).trace)
    >>> axes.get_title(loc="right"), axes.get_xlabel()
    ('accepted', 'time from onset, s')
    """
    limits = protocol or load_protocol()
    if isinstance(trial, Trial):
        judged = judge_trial(trial, limits)
    else:
        plain = newtons_trial(trial.time, trial.force)
        judged = JudgedTrial(trial=plain, judgement=judge(trial, limits))
    if axes is None:
        figure = Figure(figsize=PLOT_INCHES, layout="constrained")
        FigureCanvasAgg(figure)
        axes = figure.subplots()
    _draw(axes, _what(judged), judged)
    axes.set_xlabel(TIME_LABEL)
    axes.set_ylabel(FORCE_LABEL)
    return axes


def save_figure(figure: Figure, path: Path) -> None:
    """Write a figure as PNG; the file appears whole or not at all.

    Raises
    ------
    ArchiveError
        If it cannot be written.
    """
    try:
        replace_file(path, lambda aside: figure.savefig(aside, format="png", dpi=110))
    except OSError as error:
        raise ArchiveError(f"{path}: the picture cannot be written: {error.strerror or error}") from error


def _panel(axis: Axes, number: int, judged: JudgedTrial) -> None:
    _draw(axis, f"{number}  {_what(judged)}", judged)


def _what(judged: JudgedTrial) -> str:
    context = judged.trial.context
    words = [word for word in ((context.action or "").replace("-", " "), context.side or "") if word]
    return " ".join(words) or judged.name


def _draw(axis: Axes, title: str, judged: JudgedTrial) -> None:
    judgement = judged.judgement
    aside = aside_reason(judged) is not None
    colour = GREY if aside else GREEN if judgement.verdict == "accepted" else VERMILION
    axis.set_title(title, loc="left", fontsize=9)
    axis.set_title(verdict_word(judged), loc="right", fontsize=9, color=colour, fontweight="bold")
    axis.tick_params(labelsize=8)
    axis.spines[["top", "right"]].set_visible(False)
    axis.grid(axis="y", linewidth=0.4, color="#dddddd")
    effort, phases = judgement.effort, judgement.phases
    if effort is None:
        return
    zero = judgement.measures.onset_s or 0.0
    top = 1.32 * float(max(effort.fine.max(), 1.0))
    if phases is not None:
        _mark_phases(axis, judged, phases, zero, top)
        _mark_faults(axis, judged, zero)
    axis.plot(effort.time - zero, effort.fine, color=BLUE, linewidth=1.1)
    axis.set_ylim(min(-0.13 * top, 1.1 * float(effort.fine.min())), top)


def _mark_phases(axis: Axes, judged: JudgedTrial, phases: Phases, zero: float, top: float) -> None:
    effort = judged.judgement.effort
    if effort is None:
        return
    start, stop = float(effort.time[phases.hold.start]) - zero, float(effort.time[phases.hold.stop - 1]) - zero
    ramp_end = phases.ramp_end - zero
    axis.axvspan(0.0, ramp_end, color=ORANGE, alpha=0.16, linewidth=0)
    axis.axvspan(start, stop, color=GREEN, alpha=0.13, linewidth=0)
    axis.text(ramp_end / 2.0, -0.105 * top, "ramp", ha="center", fontsize=7, color=GREY)
    axis.text((start + stop) / 2.0, -0.105 * top, "hold", ha="center", fontsize=7, color=GREY)
    first, last = float(effort.time[phases.score_start]) - zero, float(effort.time[phases.score_stop - 1]) - zero
    axis.plot([first, last], [phases.plateau_force] * 2, color="black", linewidth=1.0, linestyle=(0, (4, 2)))
    axis.annotate(
        f"{phases.plateau_force:.0f} N",
        (first, phases.plateau_force),
        xytext=(2, -11),
        textcoords="offset points",
        fontsize=8,
    )


def _mark_faults(axis: Axes, judged: JudgedTrial, zero: float) -> None:
    """Name every fault, and hatch where the first one shows: the others mostly follow from it."""
    faults = judged.faults
    if faults and faults[0].start is not None and faults[0].stop is not None:
        axis.axvspan(
            faults[0].start - zero,
            faults[0].stop - zero,
            ymax=0.83,
            facecolor="none",
            edgecolor=VERMILION,
            hatch="///",
            linewidth=0.8,
            alpha=0.55,
        )
    codes = ", ".join(f.code if f.severity is Severity.REJECT else f"({f.code})" for f in faults)
    axis.text(
        0.01, 0.98, "\n".join(textwrap.wrap(codes, 46)), transform=axis.transAxes, va="top", fontsize=8, color=VERMILION
    )
