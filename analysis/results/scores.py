"""A score: what one set of trials came to on one occasion, with all that must be the same to compare two."""

from __future__ import annotations

import datetime as dt
from typing import NamedTuple

import msgspec

from acquire.values.records import Method, Side
from analysis.results.quantities import Unit
from analysis.results.settings import ScoreOf, TrialScore


class ScoreKind(NamedTuple):
    """What was read and how; scores of the same kind can be set side by side."""

    action: str
    side: Side | None
    method: Method
    protocol: str
    unit: Unit
    trial: TrialScore = TrialScore.PLATEAU
    of: ScoreOf = ScoreOf.BEST


class Score(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One number of one person on one occasion."""

    person: str
    """The person's code."""
    when: dt.datetime
    """The beginning of the occasion, with its zone."""
    action: str
    side: Side | None = None
    method: Method = "hand"
    """What held the sensor."""
    protocol: str = "ramp-and-hold"
    """The name of the protocol it was judged by."""
    trial: TrialScore = TrialScore.PLATEAU
    """Which force of a trial it is."""
    of: ScoreOf = ScoreOf.BEST
    """Which of the trials stands for the set."""
    unit: Unit = Unit.NEWTON
    value: float
    examiner: str | None = None
    lever_arm_m: float | None = None

    @property
    def kind(self) -> ScoreKind:
        """What was read and how."""
        return ScoreKind(self.action, self.side, self.method, self.protocol, self.unit, self.trial, self.of)
