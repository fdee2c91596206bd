"""A set: the trials of one action and side, and whether there are enough good ones."""

from __future__ import annotations

import enum
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.trial.protocol import SetRule


class SetReason(enum.StrEnum):
    """Why a set is complete, or what is still wanted."""

    AGREE = "agree"
    """The best two agree."""
    MOST = "most"
    """There may be no more trials."""
    ONE = "one"
    """One trial was asked for, and is there."""
    MORE = "more"
    """Accepted trials are missing."""
    DIFFER = "differ"
    """The best two differ by too much."""

    @property
    def complete(self) -> bool:
        """Whether no trial is wanted any more."""
        return self in {SetReason.AGREE, SetReason.MOST, SetReason.ONE}


@dataclass(frozen=True, slots=True, kw_only=True)
class SetState:
    """Where a set stands."""

    accepted: int
    tried: int
    agreement_pct: float | None
    """How far the second-best plateau lies below the best, as a share of it; None for fewer than two."""
    missing: int
    """How many accepted trials are wanted still, 0 or more."""
    reason: SetReason

    @property
    def complete(self) -> bool:
        """Whether no trial is wanted any more."""
        return self.reason.complete


def agreement_pct(plateaus: Sequence[float]) -> float | None:
    """Return how far the second-best plateau lies below the best, in per cent of the best.

    References
    ----------
    Gallagher 1988, Bureau of Mines OP 83-88: repeat until two maxima are within 10 % of each other.

    Examples
    --------
    >>> agreement_pct([200.0, 190.0, 150.0])
    5.0
    """
    if len(plateaus) < 2:
        return None
    second, best = np.sort(plateaus)[-2:]
    return float(100.0 * (best - second) / best)


def set_state(plateaus: Sequence[float], tried: int, rule: SetRule) -> SetState:
    """Return whether a set needs another trial.

    Parameters
    ----------
    plateaus : sequence of float
        Plateau forces of the accepted trials, N.
    tried : int
        All trials, rejected ones too.
    rule : SetRule
        Trials wanted, the most there may be, and how well the best two must agree.

    Examples
    --------
    >>> from analysis.trial.protocol import load_protocol
    >>> set_state([200.0, 195.0], 3, load_protocol().set).missing
    1
    """
    missing = max(0, rule.trials - len(plateaus))
    agreement = agreement_pct(plateaus)
    return SetState(
        accepted=len(plateaus),
        tried=tried,
        agreement_pct=agreement,
        missing=missing,
        reason=_reason(missing, agreement, tried, rule),
    )


def _reason(missing: int, agreement: float | None, tried: int, rule: SetRule) -> SetReason:
    if missing == 0 and agreement is not None and agreement <= rule.agreement_pct:
        return SetReason.AGREE
    if tried >= rule.most_trials:
        return SetReason.MOST
    if missing > 0:
        return SetReason.MORE
    return SetReason.ONE if agreement is None else SetReason.DIFFER
