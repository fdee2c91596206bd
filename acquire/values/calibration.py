"""From raw counts to newtons: one straight line, what it was fitted to, and for how long it may be trusted.

A load cell is calibrated by hanging known loads on it: the loads are known and the counts are measured. So
the counts are regressed on the loads, ``counts = zero_counts + load / newtons_per_count``, and the line is
then read the other way round. The zero drifts with temperature and posture and is taken anew before each
trial; the slope is what a calibration is for.
"""

from __future__ import annotations

import datetime as dt
import enum
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
import numpy as np
from numpy.typing import ArrayLike

from acquire.errors import CalibrationError
from acquire.values.arrays import BoolArray, FloatArray
from acquire.values.straight_line import fit_line

if TYPE_CHECKING:
    from collections.abc import Sequence


MAX_VALID_DAYS = 3660
"""Ten years: a longer validity is a typing error."""
SAME = 1e-9
"""Loads, or counts, that differ by less than this part of the largest are the same."""


class CalibrationState(enum.Enum):
    """Whether newtons can be trusted on a given day."""

    CURRENT = "current"
    EXPIRED = "expired"
    MISSING = "missing"


class CalibrationPoint(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One known load and what the sensor said under it."""

    load_n: float
    counts: float
    """Mean raw counts while the load hung still."""


class CalibrationUncertainty(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How well a calibration is known: standard uncertainties (k = 1), and what the sensor adds in use.

    What the points alone tell, without the masses and gravity, is in `residuals`.
    """

    sensitivity_pct: float
    """Combined standard uncertainty of `newtons_per_count`, % of it: readings, masses, gravity, resolution."""
    residual_sd_n: float
    """Standard deviation of the points about the line, N."""
    sensitivity_dof: float | None = None
    """Degrees of freedom of `sensitivity_pct`; None for many, or where an older check did not say."""
    between_runs_pct: float | None = None
    """Standard deviation of the sensitivity from one run of loads to the next, %: assumed after one run."""
    runs: int | None = None
    linearity_n: float | None = None
    """Largest distance of a mean rising load from the line, N."""
    hysteresis_n: float | None = None
    """Largest difference between falling and rising load, N; None when not measured."""
    repeatability_n: float | None = None
    """Largest range of the same load hung again, N."""
    creep_n: float | None = None
    """Change under a load that was held for a minute or so, N."""

    def __post_init__(self) -> None:
        for key in ("sensitivity_pct", "residual_sd_n"):
            value = getattr(self, key)
            if not (math.isfinite(value) and value >= 0):
                raise ValueError(f"{key} must be a finite number, not below 0, got {value}")


class Calibration(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A straight line from counts to newtons, and where it comes from."""

    newtons_per_count: float
    """Slope; negative when counts fall as the effort rises."""
    zero_counts: float = 0.0
    """Counts of the unloaded sensor."""
    rated_force_n: float | None = None
    """What the sensor may carry; None when not known, as for a file of newtons."""
    limit_counts: tuple[float, float] | None = None
    """Lowest and highest counts the converter can send; None when not known."""
    sensor: str = ""
    """Name of the profile of the sensor; empty when not known."""
    serial: str = ""
    date: dt.date | None = None
    """The day it was made; None for the nominal sensitivity of a profile."""
    by: str = ""
    valid_days: int = 365
    points: tuple[CalibrationPoint, ...] = ()
    uncertainty: CalibrationUncertainty | None = None
    """From a check of the sensor; None when only the points are known."""
    guess: bool | None = None
    """True where nobody knows the sensitivity, so that `newtons_per_count` only keeps the program going."""

    def __post_init__(self) -> None:
        if not math.isfinite(self.newtons_per_count) or self.newtons_per_count == 0:
            raise ValueError(f"newtons_per_count must be finite, not 0, got {self.newtons_per_count} N/count")
        if not math.isfinite(self.zero_counts):
            raise ValueError(f"zero_counts must be finite, got {self.zero_counts} counts")
        if self.rated_force_n is not None and not (math.isfinite(self.rated_force_n) and self.rated_force_n > 0):
            raise ValueError(f"rated_force_n must be positive, got {self.rated_force_n} N")
        if self.limit_counts is not None and not self.limit_counts[0] < self.limit_counts[1]:
            raise ValueError(f"limit_counts must be low then high, got {self.limit_counts} counts")
        if not 1 <= self.valid_days <= MAX_VALID_DAYS:
            raise ValueError(f"valid_days must be 1 to {MAX_VALID_DAYS}, got {self.valid_days} days")

    def force(self, counts: ArrayLike, *, zero_counts: float | None = None) -> FloatArray:
        """Return the force of raw counts.

        Parameters
        ----------
        counts : array_like, shape (n,)
            Raw counts, whole or not; NaN stays NaN.
        zero_counts : float, optional
            Counts of the unloaded sensor; the zero of the calibration when left out.

        Returns
        -------
        ndarray, shape (n,)
            Newtons.

        Examples
        --------
        >>> Calibration(newtons_per_count=0.5, rated_force_n=500.0).force([0, 10]).tolist()
        [0.0, 5.0]
        """
        zero = self.zero_counts if zero_counts is None else zero_counts
        newtons: FloatArray = np.subtract(counts, zero, dtype=np.float64)
        newtons *= self.newtons_per_count
        return newtons

    def clipped(self, counts: ArrayLike) -> BoolArray:
        """Return where the sensor was at its limit.

        Parameters
        ----------
        counts : array_like, shape (n,)
            Raw counts; NaN is not clipped.

        Returns
        -------
        ndarray of bool, shape (n,)
            True at or beyond the counts the converter can send, and at or beyond the rated force, which
            is taken from the zero of the calibration: what hangs on the cell unseen loads it all the same.

        Examples
        --------
        >>> Calibration(newtons_per_count=0.5, rated_force_n=500.0).clipped([0, 999, -1000]).tolist()
        [False, False, True]
        """
        raw = np.asarray(counts, dtype=np.float64)
        rated = math.inf if self.rated_force_n is None else self.rated_force_n
        at_limit: BoolArray = np.abs(self.force(raw)) >= rated
        if self.limit_counts is not None:
            at_limit |= (raw <= self.limit_counts[0]) | (raw >= self.limit_counts[1])
        return at_limit

    @property
    def limit_known(self) -> bool:
        """Whether the sensor's limit is known."""
        return self.rated_force_n is not None or self.limit_counts is not None

    @property
    def last_day(self) -> dt.date | None:
        """The last day on which newtons can be trusted; None for the nominal sensitivity of a profile."""
        return None if self.date is None else self.date + dt.timedelta(days=self.valid_days - 1)

    def state(self, on: dt.date) -> CalibrationState:
        """Return whether newtons can be trusted on a given day.

        Examples
        --------
        >>> Calibration(newtons_per_count=0.5, rated_force_n=500.0).state(dt.date(2026, 3, 2)).value
        'missing'
        """
        if self.last_day is None:
            return CalibrationState.MISSING
        return CalibrationState.EXPIRED if on > self.last_day else CalibrationState.CURRENT


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Residuals:
    """How far a calibration is from the loads it was fitted to."""

    force_n: FloatArray
    """Force shown minus load hung, N, shape (n_points,)."""
    pct: FloatArray
    """The same in % of the rated force, shape (n_points,)."""
    scatter_n: float
    """Standard deviation of the points about the line, N, with n_points - 2 degrees of freedom; NaN for fewer
    than three points."""
    slope_uncertainty: float
    """Standard uncertainty of `newtons_per_count`, N/count; NaN for fewer than three points."""

    @property
    def largest_pct(self) -> float:
        """The largest residual without its sign, % of rated force; NaN without points."""
        return float(np.abs(self.pct).max()) if len(self.pct) else math.nan


def fit_calibration(
    points: Sequence[CalibrationPoint],
    *,
    rated_force_n: float | None,
    limit_counts: tuple[float, float] | None = None,
    sensor: str = "",
    serial: str = "",
    date: dt.date | None = None,
    by: str = "",
    valid_days: int = 365,
) -> Calibration:
    """Return the least-squares line through known loads.

    Parameters
    ----------
    points : sequence of CalibrationPoint
        Known loads in N with the counts under them; the zero and one load are enough.
    rated_force_n : float
        Rated force of the sensor, N; None where nobody knows it.
    limit_counts, sensor, serial, date, by, valid_days
        As in `Calibration`.

    Raises
    ------
    CalibrationError
        If there are fewer than two points, a point is not finite, all loads are the same, or the counts do
        not change with the load.
    ValueError
        If another field is out of range, as in `Calibration`.

    Examples
    --------
    >>> hung = [CalibrationPoint(load_n=0.0, counts=100.0), CalibrationPoint(load_n=49.03325, counts=10100.0)]
    >>> round(fit_calibration(hung, rated_force_n=500.0).newtons_per_count, 9)
    0.004903325
    """
    loads, counts = _columns(points)
    _check_points(loads, counts)
    line = fit_line(loads, counts)
    slope, zero = line.slope, line.intercept
    if abs(slope) * np.ptp(loads) <= SAME * np.abs(counts).max():
        raise CalibrationError(
            f"the counts do not follow the load: {counts.min()} to {counts.max()} counts"
            f" for {loads.min()} to {loads.max()} N; check that the sensor is connected and loaded"
        )
    return Calibration(
        newtons_per_count=1 / slope,
        zero_counts=zero,
        rated_force_n=rated_force_n,
        limit_counts=limit_counts,
        sensor=sensor,
        serial=serial,
        date=date,
        by=by,
        valid_days=valid_days,
        points=tuple(points),
    )


def _columns(points: Sequence[CalibrationPoint]) -> tuple[FloatArray, FloatArray]:
    loads = np.array([point.load_n for point in points], dtype=np.float64)
    counts = np.array([point.counts for point in points], dtype=np.float64)
    return loads, counts


def _check_points(loads: FloatArray, counts: FloatArray) -> None:
    if len(loads) < 2:
        raise CalibrationError(f"a calibration needs the zero and one known load, got {len(loads)} point(s)")
    finite = np.isfinite(loads) & np.isfinite(counts)
    if not finite.all():
        bad = int(np.argmin(finite))
        raise CalibrationError(
            f"load and counts must be finite, got {loads[bad]} N with {counts[bad]} counts at point {bad + 1}"
        )
    if np.ptp(loads) <= SAME * np.abs(loads).max():
        raise CalibrationError(f"a calibration needs two different loads, got {loads[0]} N at all {len(loads)} points")


def residuals(calibration: Calibration) -> Residuals:
    """Return how far a calibration is from its own points.

    Parameters
    ----------
    calibration : Calibration
        With its points; without any, the arrays are empty.

    Returns
    -------
    Residuals
        In N and in % of rated force, with the standard uncertainty of the slope.

    References
    ----------
    JCGM 100:2008, H.3: straight line by least squares, its scatter and the standard uncertainty of its slope.

    Examples
    --------
    >>> hung = [CalibrationPoint(load_n=n, counts=c) for n, c in [(0.0, 0.0), (100.0, 201.0), (200.0, 400.0)]]
    >>> residuals(fit_calibration(hung, rated_force_n=500.0)).pct.round(3).tolist()
    [-0.033, 0.067, -0.033]
    """
    loads, counts = _columns(calibration.points)
    error = calibration.force(counts) - loads
    scatter = math.sqrt(float(error @ error) / (len(loads) - 2)) if len(loads) > 2 else math.nan
    return Residuals(
        force_n=error,
        pct=100 * error / (calibration.rated_force_n or math.nan),
        scatter_n=scatter,
        slope_uncertainty=_slope_uncertainty(calibration.newtons_per_count, loads, scatter),
    )


def _slope_uncertainty(slope: float, loads: FloatArray, scatter: float) -> float:
    # The fit is of counts on newtons; read the other way round, its slope keeps the relative uncertainty,
    # which is (scatter in N) / sqrt(sum of squared deviations of the loads).
    if math.isnan(scatter):
        return math.nan
    return abs(slope) * scatter / (float(loads.std()) * math.sqrt(len(loads)))
