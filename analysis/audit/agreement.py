"""Where two examiners tested the same persons: how far their scores agree.

A score is the best accepted plateau of an action, side and method on one occasion. The first score of each examiner
counts, and both must lie within two weeks (`analysis.reliability.retest`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import combinations

import numpy as np

from analysis.audit.table import FactTable, grouped
from analysis.reliability.retest import Reliability, examiner_reliability
from analysis.results.scores import Score

LEAST_PERSONS = 9
"""With fewer the study would have no numbers."""


def agreement_studies(table: FactTable) -> tuple[Reliability, ...]:
    """Return a study of each kind of score for each two examiners who share enough persons; those with numbers only.

    Parameters
    ----------
    table : FactTable
        All trials; persons without a code and trials without a time take no part.
    """
    scores = tuple({(score.person, score.when, score.kind): score for score in _scores(table)}.values())
    tested: dict[str, set[str]] = {}
    for score in scores:
        tested.setdefault(score.examiner or "", set()).add(score.person)
    pairs = [
        pair for pair in combinations(sorted(tested), 2) if len(tested[pair[0]] & tested[pair[1]]) >= LEAST_PERSONS
    ]
    studies = (study for pair in pairs for study in examiner_reliability(_of(scores, pair), pair))
    return tuple(study for study in studies if study.numbers is not None)


def _of(scores: tuple[Score, ...], pair: tuple[str, str]) -> list[Score]:
    return [score for score in scores if score.examiner in pair]


def _scores(table: FactTable) -> Iterator[Score]:
    """Yield the best accepted plateau of each file's examiner, stratum and side."""
    good = ~table.rejected & ~np.isnan(table.plateau_n) & ~np.isnan(table.started_s)
    rows = np.flatnonzero(good)
    of = grouped(table.file, table.examiner, table.action, table.method, table.side)[rows]
    order = np.lexsort((-table.plateau_n[rows], of))
    _, first = np.unique(of[order], return_index=True)
    for row in rows[order[first]]:
        score = _score(table, int(row))
        if score is not None:
            yield score


def _score(table: FactTable, row: int) -> Score | None:
    person = table.person.words[table.person.codes[row]]
    examiner = table.examiner.words[table.examiner.codes[row]]
    action, method = table.action.words[table.action.codes[row]], table.method.words[table.method.codes[row]]
    side = table.side.words[table.side.codes[row]]
    if not person or not examiner:
        return None
    return Score(
        person=person,
        when=dt.datetime.fromtimestamp(float(table.started_s[row]), dt.UTC),
        action=action,
        side="left" if side == "left" else "right" if side == "right" else None,
        method="belt" if method == "belt" else "hand",
        value=float(table.plateau_n[row]),
        examiner=examiner,
    )
