"""A trial with its judgement, and whether it counts: what results, tables, pictures and papers are made of."""

from __future__ import annotations

import enum
from dataclasses import dataclass
from typing import Any

from acquire.values.records import Session, Trial
from acquire.values.remarks import TrialEnd
from analysis.trial.faults import Fault
from analysis.trial.protocol import Protocol
from analysis.trial.verdict import Judgement, judge

UNDONE = frozenset({"no-effort", "short-hold"})
"""What a trial lacks that was ended before the person had finished it."""

TIMES = ("onset_s", "plateau_start_s", "plateau_end_s", "release_s")
"""The measures that are moments, not lengths."""


class Exclusion(enum.StrEnum):
    """Why a trial does not count."""

    SET_ASIDE = "set-aside"
    """By a person, with a reason."""
    CUT_OFF = "cut-off"
    """By the program: the recording ended before the hold was long enough, and nobody knows what it would have been."""
    REJECTED = "rejected"
    """By the protocol."""
    WITHHELD = "withheld"
    """It was accepted, but its plateau force could not be measured."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JudgedTrial:
    """One trial and its judgement."""

    trial: Trial
    judgement: Judgement
    number: int = 0
    """Its place in the session, from 1; 0 where it is judged by itself."""
    name: str = ""
    """What to call it where its context does not say."""
    origin: float = 0.0
    """The file's time at the trial's first sample, s; 0 where a trial has a record of its own."""

    @property
    def excluded(self) -> Exclusion | None:
        """Why it does not count, a person's decision first; None when it counts."""
        if self.trial.is_aside:
            return Exclusion.SET_ASIDE
        if self.cut_off is not None:
            return Exclusion.CUT_OFF
        if self.judgement.verdict == "rejected":
            return Exclusion.REJECTED
        return Exclusion.WITHHELD if self.judgement.measures.plateau_force_n is None else None

    @property
    def cut_off(self) -> TrialEnd | None:
        """What ended the recording before the hold was long enough; None when nothing did, or somebody took it back.

        What was done by then is judged as ever: a fast ramp is one, whatever came after a hold that was long enough.
        """
        undone = any(fault.code in UNDONE for fault in self.judgement.rejecting)
        taken_back = bool(self.trial.set_aside) and not self.trial.is_aside
        return self.trial.broken_off if undone and not taken_back else None

    @property
    def faults(self) -> tuple[Fault, ...]:
        """What there is to say of the trial: its faults; nothing where the recording ended before it did."""
        return () if self.cut_off is not None else self.judgement.faults

    @property
    def counts(self) -> bool:
        """Whether it is accepted, not set aside, and has a plateau force."""
        return self.excluded is None

    @property
    def plateau_n(self) -> float:
        """The plateau force, N; NaN where it is withheld."""
        force = self.judgement.measures.plateau_force_n
        return float("nan") if force is None else force

    def as_json(self) -> dict[str, Any]:
        """Return the judgement as plain JSON values, with moments in the file's time."""
        content = self.judgement.as_json()
        for name in TIMES:
            if content[name] is not None:
                content[name] += self.origin
        return content


def judge_trial(
    trial: Trial, protocol: Protocol, *, number: int = 0, name: str = "", origin: float = 0.0
) -> JudgedTrial:
    """Return a trial with its judgement, by the protocol given and by what the trial's context says of it.

    Parameters
    ----------
    trial : Trial
        Its counts, calibration and zero give the force.
    protocol : Protocol
        The limits.
    number, name, origin
        Stored with the result: its number in the session, the file it comes from, where it begins there, s.

    Examples
    --------
    >>> import numpy as np
    >>> from acquire.values.calibration import Calibration
    >>> from analysis.trial.protocol import load_protocol
    >>> time = np.arange(0.0, 11.0, 0.01)
    >>> counts = np.interp(time, [2.0, 3.5, 7.5, 7.7], [0.0, 2000.0, 2000.0, 0.0])
    >>> known = Calibration(newtons_per_count=0.1, rated_force_n=500.0)
    >>> trial = Trial(time=time, counts=counts, calibration=known, zero_counts=0.0)
    >>> judged = judge_trial(trial, load_protocol())
    >>> judged.counts, round(judged.plateau_n)
    (True, 200)
    """
    judgement = judge(trial.trace(), protocol, trial.context)
    return JudgedTrial(trial=trial, judgement=judgement, number=number, name=name, origin=origin)


def judge_session(session: Session, protocol: Protocol) -> tuple[JudgedTrial, ...]:
    """Return every trial of a session, numbered from 1 and judged by the protocol given.

    Examples
    --------
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
    >>> [(judged.number, judged.counts) for judged in judge_session(session, load_protocol())]
    [(1, True), (2, True)]
    """
    return tuple(judge_trial(trial, protocol, number=number) for number, trial in enumerate(session.trials, start=1))
