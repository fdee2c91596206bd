"""A check held against its limits: one finding for each thing that was measured.

A finding compares a size, whatever its sign, with a limit to warn and one to fail. Where the expanded uncertainty
is larger than the limit to fail, the measurement cannot tell: the finding warns, and says to measure better.
"""

from __future__ import annotations

import datetime as dt
import enum
import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Protocol

import msgspec

from acquire.values.calibration import Calibration
from analysis.sensor_check.budget import Figure, force_budget
from analysis.sensor_check.limits import CheckLimits, Limit
from analysis.sensor_check.loads import Loaded
from analysis.sensor_check.unloaded import Unloaded

CODES = (
    "lost-samples",
    "rate",
    "noise",
    "hum",
    "zero",
    "drift",
    "sensitivity",
    "linearity",
    "hysteresis",
    "repeatability",
    "zero-return",
    "creep",
    "uncertainty",
    "zero-moved",
    "sensitivity-moved",
)
"""Every code there is, in the order in which findings are listed."""


class Status(enum.StrEnum):
    """What a finding comes to."""

    PASS = "pass"  # noqa: S105 - no password
    WARN = "warn"
    FAIL = "fail"


SEVERITY = (Status.PASS, Status.WARN, Status.FAIL)


class Finding(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One thing that was measured, and what it comes to."""

    code: str
    status: Status
    measured_pct: float
    """With its sign, in the unit of the limit."""
    expanded_pct: float | None
    """Expanded uncertainty, k = 2; None where it does not matter."""
    warn_pct: float
    fail_pct: float
    measured_n: float | None = None
    """The same in newtons, where it is a force."""
    sure: bool = True
    """False where the uncertainty is larger than the limit to fail, so that the measurement cannot tell."""


class Earlier(Protocol):
    """What a check before is asked for."""

    @property
    def unloaded(self) -> Unloaded:
        """What the unloaded sensor did."""

    @property
    def loaded(self) -> Loaded | None:
        """What known loads showed."""

    @property
    def made(self) -> dt.datetime:
        """When."""


def find(
    unloaded: Unloaded,
    loaded: Loaded | None,
    *,
    calibration: Calibration,
    rated_force_n: float,
    limits: CheckLimits,
    before: Earlier | None = None,
) -> tuple[Finding, ...]:
    """Return the findings of a check, in the order of `CODES`.

    Parameters
    ----------
    unloaded, loaded
        What was measured; `loaded` is None when no weights were hung.
    calibration : Calibration
        The one in use; without a date its sensitivity is nominal, and is not held against the weights.
    rated_force_n : float
        Rated force, N.
    limits : CheckLimits
        What is asked.
    before : SensorCheck, optional
        The last check of the same sensor.

    Examples
    --------
    >>> import numpy as np
    >>> from analysis.sensor_check.limits import load_check_limits
    >>> from analysis.sensor_check.readings import Readings
    >>> from analysis.sensor_check.unloaded import Stream, assess_unloaded
    >>> calibration = Calibration(newtons_per_count=0.01)
    >>> stream = Stream(
    ...     nominal_rate_hz=100.0, rate_hz=None, rate_uncertainty_hz=None, samples=2000, lost=0, damaged=0
    ... )
    >>> look = Readings(time=np.arange(2000) / 100.0, counts=3000.0 + (-1.0) ** np.arange(2000))
    >>> seen = assess_unloaded(look, calibration, stream)
    >>> found = find(seen, None, calibration=calibration, rated_force_n=500.0, limits=load_check_limits())
    >>> [(finding.code, finding.status.value) for finding in found if finding.status is not Status.PASS]
    [('zero', 'warn')]
    """
    found = [*_of_unloaded(unloaded, rated_force_n, limits)]
    if loaded is not None:
        found += _of_loads(loaded, calibration, limits)
    if before is not None:
        moved_n = (unloaded.zero_counts - before.unloaded.zero_counts) * calibration.newtons_per_count
        unsure_n = math.hypot(unloaded.zero_uncertainty_n, before.unloaded.zero_uncertainty_n)
        found.append(zero_moved(moved_n, rated_force_n=rated_force_n, limits=limits, expanded_n=unsure_n))
        if loaded is not None and before.loaded is not None:
            found.append(_sensitivity_moved(loaded, before.loaded, limits.sensitivity_moved))
    return tuple(sorted(found, key=lambda finding: CODES.index(finding.code)))


def worst(findings: Iterable[Finding]) -> Status:
    """Return the worst status; pass when there is nothing to find.

    Examples
    --------
    >>> worst([])
    <Status.PASS: 'pass'>
    """
    return max((finding.status for finding in findings), key=SEVERITY.index, default=Status.PASS)


def graded(
    code: str, measured_pct: float, limit: Limit, *, expanded_pct: float | None = None, measured_n: float | None = None
) -> Finding:
    """Return a finding: its size against the two limits.

    Examples
    --------
    >>> limit = Limit(warn_pct=0.2, fail_pct=0.5)
    >>> [graded("creep", pct, limit).status.value for pct in (0.2, -0.3, 0.6)]
    ['pass', 'warn', 'fail']
    >>> graded("creep", 0.0, limit, expanded_pct=0.6).sure
    False
    """
    sure = expanded_pct is None or expanded_pct <= limit.fail_pct
    size = abs(measured_pct)
    status = Status.PASS
    if not sure or size > limit.warn_pct:
        status = Status.FAIL if sure and size > limit.fail_pct else Status.WARN
    return Finding(
        code=code,
        status=status,
        measured_pct=measured_pct,
        expanded_pct=expanded_pct,
        warn_pct=limit.warn_pct,
        fail_pct=limit.fail_pct,
        measured_n=measured_n,
        sure=sure,
    )


def zero_moved(moved_n: float, *, rated_force_n: float, limits: CheckLimits, expanded_n: float = 0.0) -> Finding:
    """Return the finding on a zero that is so far from where the last check saw it.

    Parameters
    ----------
    moved_n : float
        How far, N.
    rated_force_n : float
        Rated force, N.
    limits : CheckLimits
        How far it may.
    expanded_n : float
        Expanded uncertainty, k = 2, N.

    Examples
    --------
    >>> from analysis.sensor_check.limits import load_check_limits
    >>> zero_moved(-4.0, rated_force_n=500.0, limits=load_check_limits()).status.value
    'warn'
    """
    share = 100.0 / rated_force_n
    return graded("zero-moved", moved_n * share, limits.zero_moved, expanded_pct=expanded_n * share, measured_n=moved_n)


def too_old(made: dt.datetime, *, now: dt.datetime, limits: CheckLimits) -> bool:
    """Tell whether a check is older than the limits allow.

    Examples
    --------
    >>> from analysis.sensor_check.limits import load_check_limits
    >>> day = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)
    >>> too_old(day, now=day + dt.timedelta(days=31), limits=load_check_limits())
    True
    """
    return now - made > dt.timedelta(days=limits.age.days)


def _of_unloaded(seen: Unloaded, rated_force_n: float, limits: CheckLimits) -> Iterator[Finding]:
    share = 100.0 / rated_force_n

    def force(code: str, newtons: float, limit: Limit, expanded_n: float) -> Finding:
        return graded(code, newtons * share, limit, expanded_pct=expanded_n * share, measured_n=newtons)

    yield graded("lost-samples", 100.0 * seen.lost / (seen.received + seen.lost), limits.lost_samples)
    if seen.rate_hz is not None and seen.rate_uncertainty_hz is not None:
        off = 100.0 / seen.nominal_rate_hz
        yield graded(
            "rate",
            (seen.rate_hz - seen.nominal_rate_hz) * off,
            limits.rate,
            expanded_pct=seen.rate_uncertainty_hz * off,
        )
    yield force("noise", seen.noise_n, limits.noise, seen.noise_uncertainty_n)
    if seen.tone is not None:
        yield graded("hum", seen.tone.rms_n * share, limits.hum, measured_n=seen.tone.rms_n)
    yield force("zero", seen.zero_n, limits.zero, seen.zero_uncertainty_n)
    yield force("drift", seen.drift_n_per_min, limits.drift, seen.drift_uncertainty_n_per_min)


def _of_loads(loaded: Loaded, calibration: Calibration, limits: CheckLimits) -> Iterator[Finding]:
    if calibration.date is not None:
        off = 100.0 * (loaded.counts_per_newton * calibration.newtons_per_count - 1.0)
        doubt = (loaded.sensitivity or loaded.budget).expanded_pct
        yield graded("sensitivity", off, limits.sensitivity, expanded_pct=doubt)
    figures: Sequence[tuple[str, Figure | None, Limit]] = (
        ("linearity", loaded.linearity, limits.linearity),
        ("hysteresis", loaded.hysteresis, limits.hysteresis),
        ("repeatability", loaded.repeatability, limits.repeatability),
        ("zero-return", loaded.zero_return, limits.zero_return),
        ("creep", loaded.creep, limits.creep),
    )
    for code, seen, limit in figures:
        if seen is not None:
            yield graded(code, seen.value_pct, limit, expanded_pct=seen.expanded_pct, measured_n=seen.value_n)
    yield graded("uncertainty", loaded.budget.expanded_pct, limits.uncertainty, measured_n=loaded.budget.expanded_n)


def _sensitivity_moved(loaded: Loaded, before: Loaded, limit: Limit) -> Finding:
    """Compare counts a newton: another calibration in between moves nothing."""
    off = 100.0 * (loaded.counts_per_newton / before.counts_per_newton - 1.0)
    doubt = math.hypot(_own_pct(loaded), _own_pct(before))
    return graded("sensitivity-moved", off, limit, expanded_pct=doubt)


def _own_pct(loaded: Loaded) -> float:
    """Return the expanded uncertainty of the runs alone: the same weights hang in the same place, %."""
    budget = loaded.sensitivity or loaded.budget
    own = [each for each in budget.components if each.source in {"readings", "runs", "resolution"}]
    return force_budget(budget.at_n, own).expanded_pct
