"""What an audit says of each examiner: how often trials break which rule, and how their curves differ from others'.

With few trials nothing is said ("too few to tell"). Of the many comparisons some differ by chance alone, so that p
values are adjusted for all of them together, and only a difference that matters is a finding.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from acquire.values.arrays import BoolArray, FloatArray, IndexArray
from analysis.audit.ceilings import Ceiling, find_ceiling
from analysis.audit.compare import (
    LEAST_SESSIONS,
    LEAST_TRIALS,
    NumberFound,
    ShareFound,
    Totals,
    compare_number,
    compare_share,
    rank_totals,
    share_totals,
)
from analysis.audit.table import FactTable, grouped
from analysis.audit.trend import Course, course_of, deviations, residuals
from analysis.statistics.proportions import false_discovery_adjusted

REJECTED = "rejected"
"""The share of rejected trials, beside those of single faults."""

RATE = 0.05
"""Of false findings among all."""
LEAST_POINTS_PCT = 3.0
"""A share must be higher than expected by so many percentage points to be a finding."""
LEAST_QUARTERS = 0.5
"""A number's median must differ from the others' by so much of their half quartile range to be a finding."""
LEAST_PART = 0.05
"""And by so much of itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """How often something happens to one examiner."""

    found: ShareFound
    q: float
    """The p value, adjusted for all comparisons of the audit; NaN where there was none."""
    finding: bool
    """More often than chance and than matters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """One number of the technique of one examiner."""

    found: NumberFound
    q: float
    finding: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Sets:
    """How an examiner's sets go; None where there are none."""

    trials_median: float | None
    """Trials of a set."""
    spread_pct_median: float | None
    """Coefficient of variation of the accepted plateaus of a set."""
    rest_kept_pct: float | None
    """Of the rests between two efforts of the same action and side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExaminerAudit:
    """What an audit says of one examiner."""

    code: str
    trials: int
    sessions: int
    enough: bool
    """Whether anything can be told."""
    shares: dict[str, Share]
    """By `REJECTED` and the codes of faults."""
    numbers: dict[str, Number]
    """By the names of `analysis.trial.technique`."""
    sets: Sets
    ceiling: Ceiling | None
    courses: dict[str, Course]
    """Over time: `REJECTED` and `ramp_time_s`."""


def audit_examiners(table: FactTable, *, rest_least_s: float) -> tuple[ExaminerAudit, ...]:
    """Return what can be said of each examiner of an archive, in the order of their codes.

    Parameters
    ----------
    table : FactTable
        All trials.
    rest_least_s : float
        The least rest of the protocol, s.
    """
    if not len(table):
        return ()
    common = _Common(
        strata=table.strata(),
        totals=_totals(table),
        sets=grouped(table.file, table.action, table.method, table.side),
        best=_best_of_person(table),
        began=session_starts(table),
        rest_least_s=rest_least_s,
    )
    audits = [_audit(table, code, common) for code in sorted(table.examiner.words) if code]
    return _with_findings(table, audits)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Common:
    """What is the same for all examiners, found once."""

    strata: IndexArray
    """What may be compared, of each trial."""
    totals: dict[str, Totals]
    """Of what is alike, by the names of shares and numbers."""
    sets: IndexArray
    """The set of each trial."""
    best: IndexArray
    """The row of the highest plateau of each person, examiner, stratum and side."""
    began: FloatArray
    rest_least_s: float


def _conditions(table: FactTable) -> dict[str, BoolArray]:
    return {REJECTED: table.rejected, **table.faults}


def _totals(table: FactTable) -> dict[str, Totals]:
    stratum, cluster = table.strata(), table.clusters()
    shares = {name: share_totals(has, stratum, cluster) for name, has in _conditions(table).items()}
    return shares | {name: rank_totals(values, stratum, cluster) for name, values in table.technique.items()}


def _audit(table: FactTable, code: str, common: _Common) -> ExaminerAudit:
    mine = table.examiner.where(code)
    stratum, session = common.strata, table.file.codes.astype(np.intp)
    sessions = len(np.unique(session[mine]))
    shares = {
        name: Share(found=compare_share(mine, has, stratum, common.totals[name]), q=np.nan, finding=False)
        for name, has in _conditions(table).items()
    }
    numbers = {
        name: Number(found=found, q=np.nan, finding=False)
        for name, values in table.technique.items()
        if (found := compare_number(mine, values, stratum, session, common.totals[name])) is not None
    }
    return ExaminerAudit(
        code=code,
        trials=int(mine.sum()),
        sessions=sessions,
        enough=int(mine.sum()) >= LEAST_TRIALS and sessions >= LEAST_SESSIONS,
        shares=shares,
        numbers=numbers,
        sets=_sets(table, mine, common),
        ceiling=_ceiling(table, mine, common.best),
        courses=_courses(table, mine, common),
    )


def _sets(table: FactTable, mine: BoolArray, common: _Common) -> Sets:
    _, of, counts = np.unique(common.sets[mine], return_inverse=True, return_counts=True)
    good = ~table.rejected[mine] & ~np.isnan(table.plateau_n[mine])
    spreads = _spread_pct(table.plateau_n[mine][good], of[good])
    rests = table.rest_s[mine]
    known = rests[~np.isnan(rests)]
    return Sets(
        trials_median=float(np.median(counts)) if len(counts) else None,
        spread_pct_median=float(np.median(spreads)) if len(spreads) else None,
        rest_kept_pct=100.0 * float((known >= common.rest_least_s).mean()) if len(known) else None,
    )


def _spread_pct(values: FloatArray, of: IndexArray) -> FloatArray:
    """Return the coefficient of variation of each group of two or more values, %."""
    n = np.bincount(of)
    mean = np.bincount(of, weights=values) / np.maximum(n, 1)
    squares = np.bincount(of, weights=(values - mean[of]) ** 2)
    several = n > 1
    return np.asarray(100.0 * np.sqrt(squares[several] / (n[several] - 1)) / mean[several])


def _ceiling(table: FactTable, mine: BoolArray, best: IndexArray) -> Ceiling | None:
    """Look for a pile in what is held by hand, against what others find in the same actions."""
    by_hand = table.method.where("hand")
    own, others = (_by_action(table, best[which[best]]) for which in (mine & by_hand, ~mine))
    return find_ceiling(own, others)


def _by_action(table: FactTable, rows: IndexArray) -> dict[str, FloatArray]:
    """Return the plateaus of rows by action."""
    of = table.action.codes[rows]
    return {word: table.plateau_n[rows[of == number]] for number, word in enumerate(table.action.words)}


def _best_of_person(table: FactTable) -> IndexArray:
    """Return the rows of each person's highest plateau of each action and side: trials of one person are alike."""
    rows = np.flatnonzero(~np.isnan(table.plateau_n))
    of = grouped(table.person, table.examiner, table.action, table.method, table.side)[rows]
    order = np.lexsort((-table.plateau_n[rows], of))
    _, first = np.unique(of[order], return_index=True)
    return rows[order[first]]


def _courses(table: FactTable, mine: BoolArray, common: _Common) -> dict[str, Course]:
    stratum, session = common.strata, table.file.codes.astype(np.intp)
    series = {
        REJECTED: residuals(mine, table.rejected, stratum, session),
        "ramp_time_s": deviations(mine, table.technique["ramp_time_s"], stratum, session),
    }
    found = {}
    for name, (sessions, value) in series.items():
        course = _course(common.began[sessions], value, scaled=name != REJECTED)
        if course is not None:
            found[name] = course
    return found


def _course(at_s: FloatArray, value: FloatArray, *, scaled: bool) -> Course | None:
    """Chart a series in the order of time; the means of sessions vary by less than trials, so that they are scaled."""
    known = ~np.isnan(at_s)
    order = np.argsort(at_s[known], kind="stable")
    at_s, value = at_s[known][order], value[known][order]
    if len(value) < 2:
        return None
    sd = max(float(np.abs(np.diff(value)).mean()) / 1.128, 1e-9) if scaled else 1.0
    return course_of(at_s, value, sd=sd)


def session_starts(table: FactTable) -> FloatArray:
    """Return when each file's first trial began, seconds since 1970, NaN where unknown; shape (files,)."""
    starts = np.full(len(table.file.words), np.inf)
    known = ~np.isnan(table.started_s)
    np.minimum.at(starts, table.file.codes[known], table.started_s[known])
    return np.where(np.isinf(starts), np.nan, starts)


def _with_findings(table: FactTable, audits: list[ExaminerAudit]) -> tuple[ExaminerAudit, ...]:
    """Adjust all p values together, and mark what differs more than chance and than matters."""
    told = [audit for audit in audits if audit.enough]
    places = [(a.code, "shares", name) for a in told for name, s in a.shares.items() if not np.isnan(s.found.p)]
    places += [(a.code, "numbers", name) for a in told for name, n in a.numbers.items() if not np.isnan(n.found.p)]
    by_code = {audit.code: audit for audit in audits}
    p = [getattr(by_code[code], kind)[name].found.p for code, kind, name in places]
    adjusted = dict(zip(places, false_discovery_adjusted(p).tolist(), strict=True)) if p else {}
    half_range = {name: _half_range(values) for name, values in table.technique.items()}
    return tuple(_marked(audit, adjusted, half_range) for audit in audits)


def _half_range(values: FloatArray) -> float:
    known = values[~np.isnan(values)]
    return float(np.subtract(*np.percentile(known, [75.0, 25.0]))) / 2.0 if len(known) else np.nan


def _marked(
    audit: ExaminerAudit, adjusted: dict[tuple[str, str, str], float], half_range: dict[str, float]
) -> ExaminerAudit:
    shares = {}
    for name, share in audit.shares.items():
        q = adjusted.get((audit.code, "shares", name), np.nan)
        worse = 100.0 * (share.found.share - share.found.expected) >= LEAST_POINTS_PCT
        shares[name] = replace(share, q=q, finding=bool(q <= RATE and worse))
    numbers = {}
    for name, number in audit.numbers.items():
        q = adjusted.get((audit.code, "numbers", name), np.nan)
        off = abs(number.found.quartiles[1] - number.found.others)
        far = off >= max(LEAST_QUARTERS * half_range[name], LEAST_PART * abs(number.found.others))
        numbers[name] = replace(number, q=q, finding=bool(q <= RATE and far))
    return replace(audit, shares=shares, numbers=numbers)
