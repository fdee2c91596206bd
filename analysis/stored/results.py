"""A session in numbers: its trials judged, and what they come to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from acquire.values.records import Session, Side
from analysis.results.ratios import load_pairs
from analysis.results.set_result import Tried
from analysis.results.settings import ResultSettings, load_result_settings
from analysis.results.summary import SessionSummary, summarise
from analysis.trial.protocol import Protocol
from analysis.trial.verdict import judge


def judge_session(session: Session, protocol: Protocol) -> tuple[Tried, ...]:
    """Return every trial of a session, numbered from 1 and judged by the protocol given."""
    return tuple(
        Tried(number=number, trial=trial, judgement=judge(trial.trace(), protocol, trial.context))
        for number, trial in enumerate(session.trials, start=1)
    )


def summarise_session(
    session: Session,
    protocol: Protocol,
    *,
    tried: Sequence[Tried] | None = None,
    settings: ResultSettings | None = None,
    reference: Side | None = None,
    detectable_pct: Mapping[str, float] | None = None,
) -> SessionSummary:
    """Return a session in numbers, every trial judged anew, by the protocol given.

    Parameters
    ----------
    session : Session
        As it is stored; trials that are set aside are named, and do not count.
    protocol : Protocol
        What to judge by.
    tried : sequence of Tried, optional
        The session's trials where they are judged already, see `judge_session`.
    settings : ResultSettings, optional
        Limits of error, the score, how sides are compared; the program's own when left out.
    reference, detectable_pct
        As in `analysis.results.summary.summarise`.
    """
    return summarise(
        session.context,
        judge_session(session, protocol) if tried is None else tried,
        protocol=protocol,
        settings=settings or load_result_settings(),
        pairs=load_pairs(),
        reference=reference,
        detectable_pct=detectable_pct,
    )
