"""What one examiner should work on: the worst habits, trials that show them, and the usual shape of their curves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from acquire.values.arrays import FloatArray
from analysis.audit.examiners import REJECTED, ExaminerAudit
from analysis.audit.table import FactTable
from analysis.trial.verdict import Judgement

MOST_HABITS = 3
EXAMPLES = 2
MOST_CURVES = 60
GRID_S = np.arange(-0.5, 8.0, 0.02)
"""Where curves are compared, seconds from the onset."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """A fault that an examiner's trials show more often than others'."""

    code: str
    share: float
    expected: float
    finding: bool
    """Whether it is more than chance; where it is not, it is merely the most frequent."""
    examples: tuple[tuple[str, int], ...]
    """File and number of trials that show it, the latest first."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UsualCurve:
    """The middle half of an examiner's curves, as shares of the plateau; arrays of shape (n,)."""

    time: FloatArray
    """Seconds from the onset."""
    low: FloatArray
    median: FloatArray
    high: FloatArray
    curves: int


def worst_habits(audit: ExaminerAudit, table: FactTable) -> tuple[Habit, ...]:
    """Return the faults that stand out most: first what is more than chance, then what is most above expected.

    Parameters
    ----------
    audit : ExaminerAudit
        Of `analysis.audit.examiners`.
    table : FactTable
        The trials.
    """
    found = {code: share for code, share in audit.shares.items() if code != REJECTED and share.found.count}

    def rank(code: str) -> tuple[bool, float]:
        share = found[code]
        return share.finding, share.found.share - np.nan_to_num(share.found.expected)

    worst = sorted(found, key=rank, reverse=True)[:MOST_HABITS]
    return tuple(
        Habit(
            code=code,
            share=found[code].found.share,
            expected=found[code].found.expected,
            finding=found[code].finding,
            examples=_examples(audit.code, code, table),
        )
        for code in worst
    )


def _examples(examiner: str, code: str, table: FactTable) -> tuple[tuple[str, int], ...]:
    rows = np.flatnonzero(table.examiner.where(examiner) & table.faults[code])
    latest = rows[np.argsort(-np.nan_to_num(table.started_s[rows]), kind="stable")][:EXAMPLES]
    return tuple((table.file.words[table.file.codes[row]], int(table.number[row])) for row in latest)


def latest_trials(examiner: str, table: FactTable, *, most: int = MOST_CURVES) -> tuple[tuple[str, int], ...]:
    """Return file and number of an examiner's latest trials, for their usual curve."""
    rows = np.flatnonzero(table.examiner.where(examiner))
    latest = rows[np.argsort(-np.nan_to_num(table.started_s[rows]), kind="stable")][:most]
    return tuple((table.file.words[table.file.codes[row]], int(table.number[row])) for row in latest)


def usual_curve(judgements: Iterable[Judgement]) -> UsualCurve | None:
    """Return the median curve and its quartiles over judged trials; None where none has an onset and a plateau.

    Each curve begins at its onset and is a share of its own plateau.
    """
    curves = [curve for judgement in judgements if (curve := _on_grid(judgement)) is not None]
    if not curves:
        return None
    low, median, high = np.nanpercentile(np.stack(curves), [25.0, 50.0, 75.0], axis=0)
    return UsualCurve(time=GRID_S, low=low, median=median, high=high, curves=len(curves))


def _on_grid(judgement: Judgement) -> FloatArray | None:
    effort, measures = judgement.effort, judgement.measures
    if effort is None or measures.onset_s is None or not measures.plateau_force_n:
        return None
    time = effort.time - measures.onset_s
    share = np.interp(GRID_S, time, effort.smooth / measures.plateau_force_n)
    # after the end of a trace the person rests: the force is 0, not unknown
    return np.asarray(np.where(time[-1] < GRID_S, 0.0, share))
