"""Trials as a table of plain text, and the sentences under it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from acquire.values.units import ForceUnit, from_newtons
from analysis.trial.faults import Fault, Severity
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.number import Kind
from ui.words.fault_text import fault_sentence
from ui.words.judgement_json import aside_reason, verdict_word
from ui.words.shown import Shown
from ui.words.words import ENGLISH

NOTHING = "-"
NO_NUMBER = {NOTHING, "\u2013"}
"""What stands in the place of a number that is not known."""
HEADINGS = ("trial", "action", "side", "verdict", "plateau", "peak", "ramp s", "hold s", "spread %", "faults")


def text_table(rows: Iterable[Sequence[str]], headings: Sequence[str]) -> str:
    """Return rows as columns, the numbers to the right, under a line of headings.

    Examples
    --------
    >>> print(text_table([("a", "1.0"), ("bc", "12.5")], ("name", "value")))
    name  value
    ----  -----
    a       1.0
    bc     12.5
    """
    body = [tuple(row) for row in rows]
    widths = [max(len(row[i]) for row in [tuple(headings), *body]) for i in range(len(headings))]
    right = [bool(body) and all(_is_number(row[i]) for row in body) for i in range(len(headings))]
    lines = [tuple(headings), tuple("-" * width for width in widths), *body]
    return "\n".join(
        "  ".join(
            cell.rjust(width) if flush else cell.ljust(width)
            for cell, width, flush in zip(line, widths, right, strict=True)
        ).rstrip()
        for line in lines
    )


def trials_table(trials: Sequence[JudgedTrial], unit: ForceUnit, *, first: int = 1) -> str:
    """Return one row a trial, numbered from `first` on."""
    headings = tuple(f"{h} {unit.symbol}" if h in {"plateau", "peak"} else h for h in HEADINGS)
    return text_table([_row(number, trial, unit) for number, trial in enumerate(trials, start=first)], headings)


def fault_lines(trials: Sequence[JudgedTrial], unit: ForceUnit) -> list[str]:
    """Return one sentence for each fault, after the number of its trial, and why one is set aside."""
    return [f"trial {i + 1}: {line}" for i, trial in enumerate(trials) for line in said_of(trial, unit)]


def said_of(judged: JudgedTrial, unit: ForceUnit) -> list[str]:
    """Return the faults of a trial as lines, what rested on the pad before it, and why it is set aside."""
    aside, resting = aside_reason(judged), Shown(judged.trial.resting_n, Kind.FORCE, unit)
    return [
        *(fault_line(fault, unit) for fault in judged.faults),
        *([ENGLISH("line.resting", force=resting)] if resting.value else []),
        *([] if aside is None else [f"set aside: {aside}"]),
    ]


def fault_line(fault: Fault, unit: ForceUnit) -> str:
    """Return a fault as one line: code, weight, sentence with its forces in a unit."""
    weight = "" if fault.severity is Severity.REJECT else " (warning)"
    return f"{fault.code}{weight}: {fault_sentence(fault, ENGLISH, unit)}"


def trial_lines(number: int, judged: JudgedTrial, unit: ForceUnit) -> str:
    """Return a trial and its verdict as a line, with a line under it for each fault."""
    context, size = judged.trial.context, force(judged.judgement.measures.plateau_force_n, unit)
    what = ", ".join(w for w in ((context.action or "").replace("-", " "), context.side, context.method) if w)
    head = f"{number:3d}  {what:<42} {size:>7} {unit.symbol}  {verdict_word(judged)}"
    return "\n".join([head, *(f"     - {line}" for line in said_of(judged, unit))])


def force(value: float | None, unit: ForceUnit) -> str:
    """Return a force to a tenth of the unit."""
    return NOTHING if value is None else f"{from_newtons(value, unit):.1f}"


def _row(number: int, judged: JudgedTrial, unit: ForceUnit) -> tuple[str, ...]:
    measures, context = judged.judgement.measures, judged.trial.context
    return (
        str(number),
        context.action.replace("-", " ") if context.action else NOTHING,
        context.side or NOTHING,
        verdict_word(judged),
        force(measures.plateau_force_n, unit),
        force(measures.peak_force_n, unit),
        _number(measures.ramp_time_s, 2),
        _number(measures.hold_time_s, 1),
        _number(measures.hold_cv_pct, 1),
        ", ".join(f.code if f.severity is Severity.REJECT else f"({f.code})" for f in judged.faults),
    )


def _number(value: float | None, digits: int) -> str:
    return NOTHING if value is None else f"{value:.{digits}f}"


def _is_number(text: str) -> bool:
    return text in NO_NUMBER or text.lstrip("+-\u2212").replace(",", ".").replace(".", "", 1).isdigit()
