"""What the charts of an audit show: a funnel of examiners, and where on a chart a point lies."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acquire.values.arrays import FloatArray
from analysis.audit.archive_audit import Audit
from analysis.audit.examiners import REJECTED
from analysis.statistics.proportions import funnel_limits

CONFIDENCES = (0.95, 0.998)
STEPS = 60
LEAST_SIZE, USUAL_SIZE = 5, 50
ROOM = 1.15
"""The funnel goes on to so many times the trials of whoever has most."""

REACH_PX = 14.0
"""A click so near a point means the point."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FunnelPoint:
    """One examiner in the funnel."""

    code: str
    trials: int
    share_pct: float
    """Rejected, as it would be with the actions and methods of all."""
    finding: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Funnel:
    """Shares of rejected trials against the number of trials, with what chance alone lets expect."""

    overall_pct: float
    sizes: FloatArray
    """Trials, shape (n,)."""
    limits_pct: tuple[FloatArray, ...]
    """Lower and upper limits for each of `CONFIDENCES`, shape (n, 2)."""
    points: tuple[FunnelPoint, ...]
    """By their number of trials."""


def funnel_of(audit: Audit) -> Funnel:
    """Return the funnel of an audit; examiners who cannot be compared with anybody are not in it."""
    overall = float(audit.table.rejected.mean()) if len(audit.table) else 0.0
    points = [
        FunnelPoint(
            code=examiner.code,
            trials=examiner.trials,
            share_pct=100.0 * examiner.shares[REJECTED].found.standardised,
            finding=examiner.shares[REJECTED].finding,
        )
        for examiner in audit.examiners
        if not math.isnan(examiner.shares[REJECTED].found.standardised)
    ]
    most = max((point.trials for point in points), default=USUAL_SIZE)
    sizes = np.unique(np.geomspace(LEAST_SIZE, max(2 * LEAST_SIZE, ROOM * most), STEPS).astype(int))
    return Funnel(
        overall_pct=100.0 * overall,
        sizes=sizes.astype(np.float64),
        limits_pct=tuple(
            100.0 * np.array([funnel_limits(overall, int(n), confidence=confidence) for n in sizes])
            for confidence in CONFIDENCES
        ),
        points=tuple(sorted(points, key=lambda point: (point.trials, point.share_pct))),
    )


def nearest(points: Sequence[tuple[float, float]], x: float, y: float, *, reach: float = REACH_PX) -> int | None:
    """Return which of some points is nearest to a place, None where none is within reach; all in pixels.

    Examples
    --------
    >>> nearest([(0.0, 0.0), (10.0, 0.0)], 8.0, 1.0), nearest([(0.0, 0.0)], 50.0, 0.0)
    (1, None)
    """
    away = [math.hypot(px - x, py - y) for px, py in points]
    best = min(range(len(away)), key=away.__getitem__, default=None)
    return best if best is not None and away[best] <= reach else None
