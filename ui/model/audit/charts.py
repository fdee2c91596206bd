"""What the charts of an audit show: a funnel of examiners, and where on a chart a point lies."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.audit.archive_audit import Audit
from analysis.audit.examiners import REJECTED, Share
from analysis.statistics.proportions import funnel_limits

CONFIDENCES = (0.95, 0.998)

REACH_PX = 14.0
"""A click so near a point means the point."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FunnelPoint:
    """One examiner in the funnel."""

    code: str
    trials: int
    share_pct: float
    """Rejected, as the table says."""
    expected_pct: float
    """Of all others, in this examiner's actions and methods."""
    limits_pct: tuple[tuple[float, float], ...]
    """For each of `CONFIDENCES`: where the share lies if this examiner is like all others."""
    finding: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Funnel:
    """Shares of rejected trials against the number of trials, with what chance alone lets expect of each."""

    overall_pct: float
    points: tuple[FunnelPoint, ...]
    """By their number of trials."""


def funnel_of(audit: Audit) -> Funnel:
    """Return the funnel of an audit; examiners who cannot be compared with anybody are not in it."""
    found = [(examiner, examiner.shares[REJECTED]) for examiner in audit.examiners]
    points = [_point(examiner.code, share) for examiner, share in found if not math.isnan(share.found.expected)]
    return Funnel(
        overall_pct=100.0 * float(audit.table.rejected.mean()) if len(audit.table) else 0.0,
        points=tuple(sorted(points, key=lambda point: (point.trials, point.share_pct))),
    )


def _point(code: str, share: Share) -> FunnelPoint:
    found = share.found
    effective = max(1, round(found.effective))
    limits = [funnel_limits(found.expected, effective, confidence=confidence) for confidence in CONFIDENCES]
    return FunnelPoint(
        code=code,
        trials=found.trials,
        share_pct=100.0 * found.share,
        expected_pct=100.0 * found.expected,
        limits_pct=tuple((100.0 * low, 100.0 * high) for low, high in limits),
        finding=share.finding,
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
