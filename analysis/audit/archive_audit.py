"""A whole audit: what was measured of an archive, and what it says."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from acquire.values.arrays import FloatArray
from analysis.audit.agreement import agreement_studies
from analysis.audit.archive import Measured
from analysis.audit.examiners import ExaminerAudit, audit_examiners, session_starts
from analysis.audit.facts import TrialFacts
from analysis.audit.table import FactTable, WordColumn, fact_table
from analysis.audit.trend import Course, drift_of
from analysis.reliability.retest import Reliability
from analysis.trial.protocol import Protocol


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorAudit:
    """How one sensor drifts over its sessions."""

    sensor: str
    sessions: int
    zero: Course | None
    """N, against its first sessions; None where they are few."""
    sensitivity: Course | None
    """Newtons a count, against its first sessions."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Audit:
    """What an archive says of those who filled it."""

    protocol: Protocol
    files: int
    """That could be read."""
    unreadable: tuple[tuple[str, str], ...]
    """File, and why it is left out."""
    table: FactTable
    paths: tuple[str, ...]
    """Where each word of `table.file` is in the archive, to read traces again: names, even where the audit is blind."""
    examiners: tuple[ExaminerAudit, ...]
    sensors: tuple[SensorAudit, ...]
    agreement: tuple[Reliability, ...]


def audit_of(measured: Iterable[Measured], protocol: Protocol, *, blind: bool = False) -> Audit:
    """Return the audit of what was measured of an archive.

    Parameters
    ----------
    measured : iterable of Measured
        As `analysis.audit.archive.measured_sessions` yields them.
    protocol : Protocol
        What every trial was judged by.
    blind : bool
        Whether codes of examiners and persons, and names of files, are replaced by numbers.
    """
    unreadable: list[tuple[str, str]] = []
    table = fact_table(_readable(measured, unreadable))
    paths = table.file.words
    if blind:
        table = blinded(table)
        unreadable = [(f"file {number}", "left out") for number, _ in enumerate(unreadable, start=1)]
    return Audit(
        protocol=protocol,
        files=len(paths),
        unreadable=tuple(unreadable),
        table=table,
        paths=paths,
        examiners=audit_examiners(table, rest_least_s=protocol.set.rest_least_s),
        sensors=tuple(_sensors(table)),
        agreement=agreement_studies(table),
    )


def _readable(
    measured: Iterable[Measured], unreadable: list[tuple[str, str]]
) -> Iterator[tuple[str, tuple[TrialFacts, ...]]]:
    """Yield the sessions that can be read, each once: an archive may hold copies."""
    seen: dict[str, str] = {}
    for each in measured:
        if each.facts is None:
            unreadable.append((each.file, each.error))
            continue
        session = each.facts.trials[0].session if each.facts.trials else each.file
        if session in seen:
            unreadable.append((each.file, f"holds the same session as {seen[session]}: left out"))
            continue
        seen[session] = each.file
        yield each.file, each.facts.trials


def blinded(table: FactTable) -> FactTable:
    """Return the table without codes of people and names of files.

    Numbers are given in an order that the codes do not show: that of the first trial in the archive, by the time of
    day.
    """
    return replace(
        table,
        examiner=_numbered(table.examiner, "examiner", table.started_s),
        person=_numbered(table.person, "person", table.started_s),
        file=_numbered(table.file, "session", table.started_s),
    )


def _numbered(column: WordColumn, what: str, started_s: FloatArray) -> WordColumn:
    day = 86_400.0
    first = [float(np.nan_to_num(np.nanmin(started_s[column.codes == n] % day, initial=day))) for n in _range(column)]
    order = sorted(_range(column), key=lambda n: (first[n], n))
    numbers = {n: place for place, n in enumerate(order, start=1)}
    words = tuple(f"{what} {numbers[n]}" if word else "" for n, word in enumerate(column.words))
    return WordColumn(words=words, codes=column.codes)


def _range(column: WordColumn) -> range:
    return range(len(column.words))


def _sensors(table: FactTable) -> Iterator[SensorAudit]:
    starts = session_starts(table)
    for number, sensor in enumerate(table.sensor.words):
        rows = np.flatnonzero(table.sensor.codes == number)
        files, first = np.unique(table.file.codes[rows], return_index=True)
        at = starts[files]
        order = np.flatnonzero(~np.isnan(at))
        order = order[np.argsort(at[order], kind="stable")]
        rows = rows[first][order]
        yield SensorAudit(
            sensor=sensor,
            sessions=len(files),
            zero=drift_of(at[order], table.zero_n[rows]),
            sensitivity=drift_of(at[order], table.newtons_per_count[rows]),
        )
