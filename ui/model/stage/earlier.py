"""The last trials of a set as thin curves: each from its onset, in few points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acquire.values.arrays import FloatArray
from acquire.values.records import Trial
from ui.model.columns import columns

LAST = 2
"""So many lie behind the trial under way."""

POINTS = 300


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ghost:
    """A trial that is done, behind the one under way."""

    label: str
    time: FloatArray
    """Seconds from its onset, shape (n,)."""
    force: FloatArray
    """N, shape (n,)."""

    @property
    def highest(self) -> float:
        """Its highest force, N."""
        return float(np.nanmax(self.force, initial=0.0))


def earlier_trials(trials: Sequence[tuple[int, Trial]], *, start: float, stop: float) -> tuple[Ghost, ...]:
    """Return the last trials of a set that have an onset.

    Parameters
    ----------
    trials : sequence of (int, Trial)
        Number in the set, from 1, and trial, in order.
    start, stop : float
        The part that is shown, s from the onset.
    """
    found = [_ghost(number, trial, start, stop) for number, trial in trials[-LAST:]]
    return tuple(ghost for ghost in found if ghost is not None)


def _ghost(number: int, trial: Trial, start: float, stop: float) -> Ghost | None:
    onset = None if trial.verdict is None else trial.verdict["onset_s"]
    if onset is None:
        return None
    trace = trial.trace()
    time = trace.time - trace.time[0] - onset
    x, y = columns(time, trace.force, start=start, stop=stop, width=POINTS)
    there = ~np.isnan(y)
    return Ghost(label=str(number), time=x[there], force=y[there]) if there.any() else None
