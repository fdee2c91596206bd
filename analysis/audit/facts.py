"""What an audit keeps of each trial: who, what, when, the verdict and the technique; no samples."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

import msgspec

from acquire.values.records import Method, Session, SessionContext, Side
from analysis.trial.faults import Severity
from analysis.trial.judged_trial import Exclusion, JudgedTrial, judge_session
from analysis.trial.protocol import Protocol
from analysis.trial.technique import Technique, technique_of


class TrialFacts(msgspec.Struct, frozen=True, kw_only=True):
    """One trial, judged by the protocol of the audit."""

    session: str
    number: int = 0
    """In its file, from 1."""
    person: str
    examiner: str
    """Empty where nobody is named."""
    action: str
    side: Side | None
    method: Method
    sensor: str
    """The serial number of its calibration, else the profile of the session."""
    started_s: float | None
    """Seconds since 1970; None where no time was kept."""
    accepted: bool
    aside: bool
    faults: tuple[str, ...]
    """Codes of what rejects."""
    warnings: tuple[str, ...]
    plateau_n: float | None
    lever_arm_m: float | None
    zero_n: float
    """The zero before the effort against that of the calibration, N."""
    newtons_per_count: float
    rest_s: float | None = None
    """Since the last effort of the same action and side; None for the first."""
    technique: Technique


class SessionFacts(msgspec.Struct, frozen=True, kw_only=True):
    """What an audit keeps of a session file."""

    file: str
    """Its path within the archive."""
    trials: tuple[TrialFacts, ...]


def facts_of(file: str, session: Session, protocol: Protocol) -> SessionFacts:
    """Judge every trial of a session and return what an audit keeps.

    Parameters
    ----------
    file : str
        What the session is called in the audit.
    session : Session
        With its samples.
    protocol : Protocol
        Every trial is judged by it, whatever it was judged by when recorded.
    """
    judged = judge_session(session, protocol)
    facts = tuple(_facts(session.context, each, rest) for each, rest in zip(judged, _rests(judged), strict=True))
    return SessionFacts(file=file, trials=facts)


def _facts(session: SessionContext, judged: JudgedTrial, rest_s: float | None) -> TrialFacts:
    trial, judgement = judged.trial, judged.judgement
    context, calibration = trial.context, trial.calibration
    return TrialFacts(
        session=session.session,
        number=judged.number,
        person=session.person.code,
        examiner=context.examiner or session.examiner or "",
        action=context.action or "",
        side=context.side,
        method=context.method,
        sensor=calibration.serial or session.sensor,
        started_s=_seconds(context.started),
        accepted=judgement.verdict == "accepted",
        aside=judged.excluded in {Exclusion.SET_ASIDE, Exclusion.CUT_OFF},
        faults=_codes(judged, Severity.REJECT),
        warnings=_codes(judged, Severity.WARN),
        plateau_n=judgement.measures.plateau_force_n,
        lever_arm_m=context.lever_arm_m,
        zero_n=(trial.zero_counts - calibration.zero_counts) * calibration.newtons_per_count,
        newtons_per_count=calibration.newtons_per_count,
        rest_s=rest_s,
        technique=technique_of(judgement),
    )


def _codes(judged: JudgedTrial, severity: Severity) -> tuple[str, ...]:
    return tuple(fault.code for fault in judged.faults if fault.severity is severity)


def _seconds(started: datetime | None) -> float | None:
    return None if started is None else started.timestamp()


def _rests(judged: Sequence[JudgedTrial]) -> Iterator[float | None]:
    """Yield how long each trial came after the end of the last one of its action and side, s."""
    ends: dict[tuple[str | None, Side | None], float] = {}
    for each in judged:
        context, measures = each.trial.context, each.judgement.measures
        item, started = (context.action, context.side), _seconds(context.started)
        onset, release = measures.onset_s, measures.release_s
        if started is None or onset is None or release is None:
            yield None
            continue
        yield started + onset - ends[item] if item in ends else None
        ends[item] = started + release
