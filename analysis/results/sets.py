"""A set: the trials of one action and side, and whether there are enough good ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.trial.protocol import SetRule


@dataclass(frozen=True, slots=True, kw_only=True)
class SetState:
    """Where a set stands."""

    accepted: int
    tried: int
    agreement_pct: float | None
    """How far the second-best plateau lies below the best, as a share of it; None for fewer than two."""
    complete: bool
    reason: str
    """Why it is complete, or what is still wanted, in a few words."""


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
    >>> set_state([200.0, 195.0], 3, load_protocol().set).reason
    '1 more accepted trial'
    """
    missing = rule.trials - len(plateaus)
    agreement = agreement_pct(plateaus)
    if missing <= 0 and agreement is not None and agreement <= rule.agreement_pct:
        complete, reason = True, f"the best two agree within {agreement:.1f} %"
    elif tried >= rule.most_trials:
        complete, reason = True, f"{tried} trials are the most there may be"
    elif missing > 0:
        complete, reason = False, f"{missing} more accepted trial{'s' if missing > 1 else ''}"
    else:
        complete = agreement is None
        reason = "one trial was asked for" if complete else f"the best two differ by {agreement:.0f} %: one more trial"
    return SetState(accepted=len(plateaus), tried=tried, agreement_pct=agreement, complete=complete, reason=reason)
