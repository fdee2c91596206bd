"""A session in numbers: its trials judged, and what they come to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from acquire.values.records import Method, Session, Side
from analysis.results.action_result import ActionResult
from analysis.results.ratios import load_pairs
from analysis.results.settings import ResultSettings, load_result_settings
from analysis.results.summary import SessionSummary, summarise
from analysis.trial.judged_trial import JudgedTrial, judge_session
from analysis.trial.protocol import Protocol


def summarise_session(
    session: Session,
    protocol: Protocol,
    *,
    trials: Sequence[JudgedTrial] | None = None,
    settings: ResultSettings | None = None,
    affected: Side | None = None,
    detectable_pct: Mapping[tuple[str, Method], float] | None = None,
    others: Iterable[ActionResult] = (),
) -> SessionSummary:
    """Return a session in numbers, every trial judged anew, by the protocol given.

    Parameters
    ----------
    session : Session
        As it is stored; trials that are set aside are named, and do not count.
    protocol : Protocol
        What to judge by.
    trials : sequence of JudgedTrial, optional
        The session's trials where they are judged already, see `judge_session`.
    settings : ResultSettings, optional
        Limits of error, the score, how sides are compared; the program's own when left out.
    affected, detectable_pct, others
        As in `analysis.results.summary.summarise`.

    Examples
    --------
    The right knee has 80 % of the force of the left one.

    >>> import datetime as dt
    >>> from dataclasses import replace
    >>> from acquire.values.records import Session, SessionContext, TrialContext
    >>> from analysis.stored.traces import read_trials
    >>> from analysis.trial.protocol import load_protocol
    >>> (left,) = read_trials("sample_traces/good.csv")
    >>> left = replace(left, context=TrialContext(action="knee-extension", side="left"))
    >>> right = replace(left, counts=0.8 * left.counts, context=TrialContext(action="knee-extension", side="right"))
    >>> context = SessionContext(session="s-1", started=dt.datetime(2026, 3, 2, tzinfo=dt.UTC))
    >>> session = Session(context=context, trials=(left, right))
    >>> (sides,) = summarise_session(session, load_protocol()).sides
    >>> sides.weaker, round(sides.difference_pct)
    ('right', 20)
    """
    return summarise(
        session.context,
        judge_session(session, protocol) if trials is None else trials,
        protocol=protocol,
        settings=settings or load_result_settings(),
        pairs=load_pairs(),
        affected=affected,
        detectable_pct=detectable_pct,
        others=others,
    )
