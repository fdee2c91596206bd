"""Sessions as tidy CSV: tables of results, trials and samples, a trace for each trial, a dictionary of the columns."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import TextIO

import numpy as np

from acquire.files.atomic import Write, replace_together
from acquire.storage.csv_trace import CsvTrace, write_csv_trace
from analysis.trial.judged_trial import JudgedTrial
from ui.papers.export.columns import (
    DICTIONARY_COLUMNS,
    RESULT_COLUMNS,
    SAMPLE_COLUMNS,
    TRIAL_COLUMNS,
    CellValue,
    dictionary,
    result_facts,
    trial_facts,
)
from ui.papers.report.occasion import Occasion
from ui.words.csv_text import csv_text

RESULTS, TRIALS, SAMPLES, DICTIONARY, TRACES = "results.csv", "trials.csv", "samples.csv", "dictionary.csv", "traces"


DIGITS, FINE_DIGITS = 6, 9
"""Significant digits of what was worked out, and of times and forces of samples."""

DECIMALS = 9
"""Of seconds in a trace: far below any clock, and above what a sum of steps leaves behind. Forces keep every digit."""


def write_tidy(folder: Path, named: Sequence[tuple[str, Occasion]]) -> list[Path]:
    """Write the tables and traces of sessions, all or none; return where they are.

    Parameters
    ----------
    folder : Path
        Where to; it is there.
    named : sequence of (str, Occasion)
        Sessions with names of their own, from which those of their traces are made.
    """
    (folder / TRACES).mkdir(exist_ok=True)
    paths = [folder / name for name in (RESULTS, TRIALS, SAMPLES, DICTIONARY)]
    headings = (
        [each.name for each in RESULT_COLUMNS],
        [each.name for each in TRIAL_COLUMNS],
        [each.name for each in SAMPLE_COLUMNS],
        DICTIONARY_COLUMNS,
    )
    bodies: tuple[Iterable[Sequence[str]], ...] = (
        _result_rows(named),
        _trial_rows(named),
        _sample_rows(named),
        dictionary(),
    )
    files: list[tuple[Path, Write]] = [
        (path, partial(_write, heading, rows)) for path, heading, rows in zip(paths, headings, bodies, strict=True)
    ]
    files += [_trace(folder / TRACES, name, each) for name, occasion in named for each in occasion.trials]
    replace_together(files)
    return [path for path, _ in files]


def cell(value: CellValue, digits: int = DIGITS) -> str:
    """Return a value as a cell: nothing for what is not there, so many digits of a number as say something.

    Examples
    --------
    >>> cell(None), cell(True), cell(0.0029999999999999947), cell(7)
    ('', 'yes', '0.003', '7')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return csv_text(value)
    return str(value) if isinstance(value, int) else f"{float(value):.{digits}g}"


def _result_rows(named: Sequence[tuple[str, Occasion]]) -> Iterator[list[str]]:
    for _, occasion in named:
        for facts in result_facts(occasion.name, occasion):
            yield [cell(column.of(facts)) for column in RESULT_COLUMNS]


def _trial_rows(named: Sequence[tuple[str, Occasion]]) -> Iterator[list[str]]:
    for _, occasion in named:
        for facts in trial_facts(occasion.name, occasion):
            yield [cell(column.of(facts)) for column in TRIAL_COLUMNS]


def _sample_rows(named: Sequence[tuple[str, Occasion]]) -> Iterator[list[str]]:
    for _, occasion in named:
        for each in occasion.trials:
            yield from _samples(occasion.session.context.session, each)


def _samples(session: str, judged: JudgedTrial) -> Iterator[list[str]]:
    trace, number = judged.trial.trace(), str(judged.number)
    clipped = [None] * len(trace.time) if trace.clipped is None else trace.clipped.tolist()
    for time, force, at_limit in zip(trace.time.tolist(), trace.force.tolist(), clipped, strict=True):
        shown = "" if np.isnan(force) else cell(force, FINE_DIGITS)
        yield [cell(session), number, cell(time, FINE_DIGITS), shown, cell(at_limit)]


def _write(heading: Sequence[str], rows: Iterable[Sequence[str]], aside: Path) -> None:
    with aside.open("w", encoding="utf-8", newline="") as file:
        _fill(file, heading, rows)


def _fill(file: TextIO, heading: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(heading)
    writer.writerows(rows)


def _trace(folder: Path, name: str, judged: JudgedTrial) -> tuple[Path, Write]:
    path = folder / f"{name}-trial-{judged.number:03d}.csv"
    context = judged.trial.context
    about = ", ".join(word for word in (context.action, context.side, context.method) if word)

    def write(aside: Path) -> None:
        trace = judged.trial.trace()
        csv_trace = CsvTrace(time=np.round(trace.time, DECIMALS), force=trace.force)
        write_csv_trace(aside, csv_trace, comments=(f"{name}, trial {judged.number}: {about}",))

    return path, write
