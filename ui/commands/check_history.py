"""The checks of one sensor over time: a table, and a picture of zero, sensitivity and noise."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.figure import Figure

from acquire.sensor.profile import load_profile
from analysis.sensor_check import SensorCheck, Status
from ui.model.check.log import CheckLog, CheckLogError
from ui.model.check.trend import CheckTrend, trends
from ui.papers.picture import BLUE, GREEN, GREY, ORANGE, VERMILION, save_figure
from ui.papers.tables import NOTHING, text_table
from ui.words.words import Words

COLOURS = {Status.PASS: GREEN, Status.WARN: ORANGE, Status.FAIL: VERMILION}
MARKERS = {Status.PASS: "o", Status.WARN: "^", Status.FAIL: "X"}
INCHES = (8.0, 6.4)
HEADINGS = ("made", "by", "verdict", "zero N", "noise N", "drift N/min", "counts/N", "known to %", "findings")


def show_history(options: argparse.Namespace, log: CheckLog) -> int:
    """Print the checks of a sensor, and draw them into a picture.

    Raises
    ------
    CheckLogError
        If there is no check of this sensor.
    """
    sensor = load_profile(options.sensor).name
    checks = log.all(sensor, options.serial)
    for path in log.unread:
        print(f"ramphold: {path} cannot be read and is left out", file=sys.stderr)
    if not checks:
        raise CheckLogError(_none(log, sensor, options.serial))
    who = f"{sensor}{f' {options.serial}' if options.serial else ''}"
    picture = Path(options.picture or f"{sensor}-checks.png")
    draw_history(checks, picture, title=f"{who}, {len(checks)} check{'' if len(checks) == 1 else 's'}")
    if options.json:
        print(json.dumps({"sensor": sensor, "serial": options.serial, "checks": [_json(c) for c in checks]}, indent=1))
    else:
        print(f"{who}\n\n{history_table(checks)}\n")
    print(f"picture: {picture}", file=sys.stderr)
    return 0


def _none(log: CheckLog, sensor: str, serial: str) -> str:
    if serial or not (serials := log.serials(sensor)):
        which = f" {serial}" if serial else ""
        return f"there is no check of {sensor}{which} yet: make one with 'ramphold check {sensor}'"
    return f"there is no check of {sensor} without a serial number; name one with --serial: {', '.join(serials)}"


def history_table(checks: Sequence[SensorCheck]) -> str:
    """Return one row a check, the oldest first."""
    return text_table([_row(check) for check in checks], HEADINGS)


def _row(check: SensorCheck) -> tuple[str, ...]:
    loaded, seen = check.loaded, check.unloaded
    return (
        _local(check.made).strftime("%Y-%m-%d %H:%M"),
        check.by or NOTHING,
        check.verdict.value,
        f"{seen.zero_n:+.2f}",
        f"{seen.noise_n:.3f}",
        f"{seen.drift_n_per_min:+.2f}",
        NOTHING if loaded is None else f"{loaded.counts_per_newton:.3f}",
        NOTHING if loaded is None else f"{loaded.budget.expanded_pct:.2f}",
        ", ".join(finding.code for finding in check.findings if finding.status is not Status.PASS),
    )


def _local(made: datetime) -> datetime:
    return made.astimezone()


def _json(check: SensorCheck) -> dict[str, object]:
    loaded = check.loaded
    return {
        "made": check.made.isoformat(),
        "by": check.by,
        "verdict": check.verdict.value,
        "zero_counts": check.unloaded.zero_counts,
        "zero_n": check.unloaded.zero_n,
        "noise_n": check.unloaded.noise_n,
        "drift_n_per_min": check.unloaded.drift_n_per_min,
        "counts_per_newton": None if loaded is None else loaded.counts_per_newton,
        "expanded_pct": None if loaded is None else loaded.budget.expanded_pct,
    }


def draw_history(checks: Sequence[SensorCheck], path: Path, *, title: str) -> None:
    """Write a PNG with zero, sensitivity and noise over time; the file appears whole or not at all.

    Raises
    ------
    ArchiveError
        If it cannot be written.
    """
    figure = Figure(figsize=INCHES, layout="constrained")
    FigureCanvasAgg(figure)
    words = Words()
    axes = figure.subplots(3, 1, sharex=True)
    for axis, trend in zip(axes, trends(checks), strict=True):
        _panel(axis, trend, words(f"check.history_{trend.key}"))
    locator = AutoDateLocator(minticks=2, maxticks=8)  # type: ignore[no-untyped-call]
    axes[-1].xaxis.set_major_locator(locator)
    axes[-1].xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
    axes[0].legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3, fontsize=8, frameon=False)
    figure.suptitle(title, fontsize=11)
    save_figure(figure, path)


def _panel(axis: Axes, trend: CheckTrend, name: str) -> None:
    axis.set_ylabel(name, fontsize=9)
    axis.tick_params(labelsize=8)
    axis.spines[["top", "right"]].set_visible(False)
    axis.grid(axis="y", linewidth=0.4, color="#dddddd")
    when = [_local(point.made) for point in trend.points]
    values = [point.value for point in trend.points]
    axis.plot(when, values, color=BLUE, linewidth=1.0)  # type: ignore[arg-type]
    doubts = [point.doubt for point in trend.points]
    axis.errorbar(when, values, yerr=doubts, fmt="none", ecolor=GREY, elinewidth=0.8, capsize=3)  # type: ignore[arg-type]
    for status, marker in MARKERS.items():
        chosen = [point for point in trend.points if point.status is status]
        if not chosen:
            continue
        axis.plot(
            [_local(point.made) for point in chosen],  # type: ignore[arg-type]
            [point.value for point in chosen],
            marker=marker,
            linestyle="none",
            color=COLOURS[status],
            label=status.value,
        )
    if not trend.points:
        axis.text(0.5, 0.5, "no known weights yet", transform=axis.transAxes, ha="center", fontsize=8, color=GREY)
