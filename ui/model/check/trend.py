"""How a sensor has been over time: zero, sensitivity and noise of its checks, as curves."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import NamedTuple

from analysis.sensor_check import SensorCheck, Status


class Point(NamedTuple):
    """One check in a curve."""

    made: dt.datetime
    value: float
    doubt: float
    """Expanded uncertainty, k = 2."""
    status: Status
    """Of the whole check."""


class CheckTrend(NamedTuple):
    """One curve; the words ``check.history_KEY`` name it and its unit."""

    key: str
    points: tuple[Point, ...]


def trends(checks: Sequence[SensorCheck]) -> tuple[CheckTrend, ...]:
    """Return the curves of some checks of one sensor, the oldest first.

    The zero is in newtons from that of the first check, and the sensitivity in % from that of the first with weights:
    both by counts, so that another calibration in use makes no step.
    """
    return (
        CheckTrend("zero", _points(checks, _zero(checks))),
        CheckTrend("sensitivity", _points(checks, _sensitivity(checks))),
        CheckTrend(
            "noise", _points(checks, lambda check: (check.unloaded.noise_n, check.unloaded.noise_uncertainty_n))
        ),
    )


Measure = Callable[[SensorCheck], tuple[float, float] | None]


def _points(checks: Sequence[SensorCheck], measure: Measure) -> tuple[Point, ...]:
    found = ((check, measure(check)) for check in checks)
    return tuple(Point(check.made, *value, check.verdict) for check, value in found if value is not None)


def _zero(checks: Sequence[SensorCheck]) -> Measure:
    first = checks[0] if checks else None

    def measure(check: SensorCheck) -> tuple[float, float] | None:
        if first is None:
            return None
        off = check.unloaded.zero_counts - first.unloaded.zero_counts
        return off * first.calibration.newtons_per_count, check.unloaded.zero_uncertainty_n

    return measure


def _sensitivity(checks: Sequence[SensorCheck]) -> Measure:
    first = next((check.loaded for check in checks if check.loaded is not None), None)

    def measure(check: SensorCheck) -> tuple[float, float] | None:
        if first is None or check.loaded is None:
            return None
        off = 100.0 * (check.loaded.counts_per_newton / first.counts_per_newton - 1.0)
        return off, (check.loaded.sensitivity or check.loaded.budget).expanded_pct

    return measure
