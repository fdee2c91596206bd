"""The scores of a session: one force and, with a lever arm, one torque for each action, side and method."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from analysis.results.action_result import ActionResult, TrialNumbers
from analysis.results.quantities import Unit
from analysis.results.scores import Score, ScoreKind
from analysis.results.settings import ScoreOf
from analysis.results.summary import SessionSummary


def session_scores(
    summary: SessionSummary, examiners: Mapping[int, str | None] | None = None
) -> dict[ScoreKind, Score]:
    """Return the scores of a session by their kind.

    Parameters
    ----------
    summary : SessionSummary
        Its settings say what the score of a trial is, and that of a set.
    examiners : mapping, optional
        Who held which trial, by its number; the session's examiner where it is not said.

    Returns
    -------
    dict
        Of actions with a name and a force above 0. Where two sensors saw one effort, the first one's score.

    Examples
    --------
    >>> import datetime as dt
    >>> from dataclasses import replace
    >>> from acquire.values.records import Session, SessionContext, TrialContext
    >>> from analysis.stored.traces import read_trials
    >>> from analysis.stored.results import summarise_session
    >>> from analysis.trial.protocol import load_protocol
    >>> (left,) = read_trials("sample_traces/good.csv")
    >>> left = replace(left, context=TrialContext(action="knee-extension", side="left"))
    >>> right = replace(left, counts=0.8 * left.counts, context=TrialContext(action="knee-extension", side="right"))
    >>> context = SessionContext(session="s-1", started=dt.datetime(2026, 3, 2, tzinfo=dt.UTC))
    >>> session = Session(context=context, trials=(left, right))
    >>> scores = session_scores(summarise_session(session, load_protocol()))
    >>> [(kind.side, round(score.value), kind.unit.value) for kind, score in scores.items()]
    [('left', 252, 'N'), ('right', 202, 'N')]
    """
    found: dict[ScoreKind, Score] = {}
    for result in summary.actions:
        for score in _scores(summary, result, examiners or {}):
            found.setdefault(score.kind, score)
    return found


def _scores(summary: SessionSummary, result: ActionResult, examiners: Mapping[int, str | None]) -> Iterator[Score]:
    of = summary.settings.score.of
    value = result.value(of)
    if result.action is None or value is None:
        return
    for unit, strength in ((Unit.NEWTON, value.force_n), (Unit.NEWTON_METRE, value.torque_nm)):
        if strength is None or not strength > 0.0:
            continue
        trials = _behind(result, unit, of)
        names = {examiners.get(each.trial) or summary.context.examiner for each in trials}
        yield Score(
            person=summary.context.person.code,
            when=summary.context.started,
            action=result.action,
            side=result.side,
            method=result.method,
            protocol=summary.protocol,
            trial=summary.settings.score.trial,
            of=of,
            unit=unit,
            value=strength,
            examiner=names.pop() if len(names) == 1 else None,
            lever_arm_m=_lever_arm(trials),
        )


def _behind(result: ActionResult, unit: Unit, of: ScoreOf) -> list[TrialNumbers]:
    """Return the trials that a score comes from."""
    spread = result.torque if unit.needs_lever_arm else result.force
    chosen = () if spread is None else spread.behind(of)
    return [each for each in result.trials if each.trial in chosen]


def _lever_arm(trials: list[TrialNumbers]) -> float | None:
    arms = [each.lever_arm_m for each in trials if each.lever_arm_m is not None]
    return sum(arms) / len(arms) if arms and len(arms) == len(trials) else None
