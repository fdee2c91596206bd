"""A session in numbers: its trials judged, and what they come to."""

from __future__ import annotations

from collections.abc import Mapping

from acquire.records import Session, Side
from analysis.protocol import Protocol
from analysis.ratios import load_pairs
from analysis.result_settings import ResultSettings, load_result_settings
from analysis.set_result import Tried
from analysis.summary import SessionSummary, summarise
from analysis.verdict import judge


def summarise_session(
    session: Session,
    protocol: Protocol,
    *,
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
    settings : ResultSettings, optional
        Limits of error, the score, how sides are compared; the program's own when left out.
    reference, detectable_pct
        As in `analysis.summary.summarise`.
    """
    tried = [
        Tried(number=number, trial=trial, judgement=judge(trial.trace(), protocol, trial.context))
        for number, trial in enumerate(session.trials, start=1)
    ]
    return summarise(
        session.context,
        tried,
        protocol=protocol,
        settings=settings or load_result_settings(),
        pairs=load_pairs(),
        reference=reference,
        detectable_pct=detectable_pct,
    )
