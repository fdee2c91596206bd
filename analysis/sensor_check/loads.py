"""What a sensor makes of known loads: sensitivity, linearity, hysteresis, repeatability, return to zero, creep.

Each run begins with a reading of the unloaded sensor, and what is read under a load is taken from there: the
*deflection*. So a zero that drifts from run to run is no fault of the sensitivity.

===================  ===========================================================================================
sensitivity          slope of the least-squares line through the deflections of all rising loads; its uncertainty is
                     that of the runs, for what is read within one run hangs together
linearity error      largest distance of the mean rising deflection from that line
terminal line error  the same from the line between zero and the greatest load
hysteresis           largest difference between falling and rising load, mean of the runs
repeatability        largest range of the deflection under one rising load over the runs
zero return          largest difference between the zero after a run and before it
creep                change of the reading from the beginning to the end of a held load
===================  ===========================================================================================

All are in newtons by the sensitivity found, and in % of the rated force, with their sign. Between two readings the zero
may have drifted as it did from zero to zero over the check: that much, over the time between them, is in doubt.

References
----------
VDI/VDE 2638, characteristics of force transducers: linearity by rising loads from the best-fitting line, of the
rated force (from memory, and as makers' glossaries quote it; here the least-squares line).
ANSI/ISA-37.1, terminology of electrical transducers: terminal line (from memory).
OIML R 60-1:2017, 3.7: creep, hysteresis error (read); repeatability error (from memory).
ISO 376:2011, calibration of force-proving instruments: deflection, relative zero error, repeatability without
rotation as a range (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import msgspec
import numpy as np

from acquire.errors import CalibrationError
from acquire.values.straight_line import StraightLine, fit_line
from analysis.sensor_check.budget import Figure, ForceBudget, figure, force_budget, rectangular, resolved
from analysis.sensor_check.weighing import Creep, Hung, LoadReading, Purpose
from analysis.statistics.uncertainty import Component, from_limits, from_readings, from_standard

BUOYANCY_PCT = 0.015
"""Steel weighs less in air by this: 1.2 of 8000 kg/m3. It is not taken off, see `acquire.values.gravity`."""
BETWEEN_RUNS_PCT = 0.3
"""Standard deviation of the sensitivity from run to run that is assumed where one run cannot show it: our value."""
FOLLOWS = 1e-9
"""Deflections below this part of the counts are none."""


class Loaded(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What known loads showed; None where the loads that were hung cannot show it."""

    counts_per_newton: float
    zero_counts: float
    """Mean of the zeros before the runs."""
    residual_sd_n: float | None
    """Standard deviation of the rising deflections about the line, N."""
    budget: ForceBudget
    """Of a force at the greatest load, with what the sensor was found to do under loads."""
    sensitivity: ForceBudget | None = None
    """Of the line alone, at the greatest load; None in checks that are older than it."""
    between_runs_pct: float | None = None
    """Standard deviation of the sensitivity from run to run, %; assumed after a single run."""
    runs: int | None = None
    linearity: Figure | None
    terminal: Figure | None
    hysteresis: Figure | None
    repeatability: Figure | None
    zero_return: Figure | None
    creep: Figure | None
    creep_s: float | None


class _Deflection(NamedTuple):
    """A reading, taken from the zero before its run."""

    run: int
    load_n: float
    counts: float
    standard_counts: float
    dof: int
    at_s: float
    since_zero_s: float


def assess_loads(
    readings: Sequence[LoadReading],
    creep: Creep | None,
    hung: Hung,
    *,
    rated_force_n: float,
    step_counts: float = 1.0,
    between_runs_pct: float = BETWEEN_RUNS_PCT,
) -> Loaded:
    """Return what known loads showed.

    Parameters
    ----------
    readings : sequence of LoadReading
        Those of the runs, each run with its zero; others are passed over.
    creep : Creep, optional
        Of a held load.
    hung : Hung
        How well the loads are known.
    rated_force_n : float
        Rated force, N.
    step_counts : float
        The least step that readings can show.
    between_runs_pct : float
        Standard deviation of the sensitivity from run to run that is assumed where there is one run, %.

    Raises
    ------
    CalibrationError
        If no load was hung in a run with a zero, or the counts do not follow the load.

    Examples
    --------
    >>> from acquire.values.gravity import local_gravity
    >>> known = {"run": 1, "standard_counts": 0.1, "degrees_of_freedom": 9, "at_s": 0.0}
    >>> hung = [("zero", 0.0, 20.0), ("up", 50.0, 520.0), ("up", 100.0, 1018.0), ("down", 50.0, 522.0)]
    >>> found = assess_loads(
    ...     [LoadReading(purpose=way, mass_kg=n / 9.81, load_n=n, counts=c, **known) for way, n, c in hung],
    ...     None,
    ...     Hung(gravity=local_gravity(latitude_deg=50.0), mass_tolerance_pct=0.05),
    ...     rated_force_n=500.0,
    ... )
    >>> round(found.counts_per_newton, 2), round(found.hysteresis.value_n, 2), round(found.terminal.value_n, 2)
    (9.98, 0.2, 0.1)
    """
    up, down = _deflections(readings, "up"), _deflections(readings, "down")
    zeros = [reading.counts for reading in readings if reading.purpose == "zero"]
    line = _line(up, zeros)
    evidence = _Evidence(up, down, line, hung, rated_force_n, step_counts, _drift(readings), between_runs_pct)
    found_creep = (
        None
        if creep is None
        else evidence.in_newtons(creep.counts, creep.standard_counts, at_n=creep.at_n, apart_s=creep.seconds)
    )
    return Loaded(
        counts_per_newton=line.slope,
        zero_counts=float(np.mean(zeros)),
        residual_sd_n=_finite(line.residual_sd / abs(line.slope)),
        budget=evidence.budget(found_creep),
        sensitivity=evidence.sensitivity(),
        between_runs_pct=evidence.spread.pct,
        runs=evidence.spread.runs,
        linearity=evidence.linearity(),
        terminal=evidence.terminal(),
        hysteresis=evidence.hysteresis(),
        repeatability=evidence.repeatability(),
        zero_return=evidence.zero_return(),
        creep=found_creep,
        creep_s=None if creep is None else creep.seconds,
    )


def rising_points(readings: Sequence[LoadReading]) -> list[tuple[float, float]]:
    """Return loads, N, and counts of all rising loads and zeros, with the zero of each run moved to their mean.

    Examples
    --------
    >>> known = {"mass_kg": 0.0, "standard_counts": 0.1, "degrees_of_freedom": 9, "at_s": 0.0}
    >>> rows = [("zero", 1, 0.0, 10.0), ("up", 1, 5.0, 60.0), ("zero", 2, 0.0, 20.0), ("up", 2, 5.0, 70.0)]
    >>> hung = [LoadReading(purpose=w, run=r, load_n=n, counts=c, **known) for w, r, n, c in rows]
    >>> rising_points(hung)
    [(0.0, 15.0), (0.0, 15.0), (5.0, 65.0), (5.0, 65.0)]
    """
    zeros = [reading.counts for reading in readings if reading.purpose == "zero"]
    middle = float(np.mean(zeros)) if zeros else 0.0
    return [(each.load_n, middle + each.counts) for each in _deflections(readings, "up")]


def _deflections(readings: Sequence[LoadReading], way: Purpose) -> list[_Deflection]:
    """Return the deflections of one way; the zero of each run is the first of its rising ones."""
    zeros = {reading.run: reading for reading in readings if reading.purpose == "zero"}
    found = [_deflection(zero, zero, zero.standard_counts) for zero in zeros.values()] if way == "up" else []
    for reading in readings:
        if reading.purpose == way and reading.run in zeros:
            zero = zeros[reading.run]
            found.append(_deflection(reading, zero, math.hypot(reading.standard_counts, zero.standard_counts)))
    return found


def _deflection(reading: LoadReading, zero: LoadReading, standard_counts: float) -> _Deflection:
    return _Deflection(
        run=reading.run,
        load_n=reading.load_n,
        counts=reading.counts - zero.counts,
        standard_counts=standard_counts,
        dof=min(reading.degrees_of_freedom, zero.degrees_of_freedom),
        at_s=reading.at_s,
        since_zero_s=reading.at_s - zero.at_s,
    )


def _drift(readings: Sequence[LoadReading]) -> float:
    """Return how fast the zero drifted over the check, counts a second, without its sign.

    By the zeros before the runs and after a rest: one just after a load still creeps back.
    """
    zeros = [reading for reading in readings if reading.purpose in {"zero", "rest"}]
    if len({reading.at_s for reading in zeros}) < 2:
        return 0.0
    return abs(fit_line([reading.at_s for reading in zeros], [reading.counts for reading in zeros]).slope)


def _line(up: Sequence[_Deflection], zeros: Sequence[float]) -> StraightLine:
    loads, counts = [each.load_n for each in up], [each.counts for each in up]
    if not loads or max(loads) == min(loads):
        raise CalibrationError("the check needs the zero and one known load; hang at least one weight")
    line = fit_line(loads, counts)
    if abs(line.slope) * max(loads) <= FOLLOWS * (max(abs(zero) for zero in zeros) + 1.0):
        raise CalibrationError(
            f"the counts do not follow the load: they differ by {np.ptp(counts):.4g} counts for "
            f"{min(loads):g} to {max(loads):g} N; check that the sensor is connected and loaded"
        )
    return line


@dataclass(frozen=True, slots=True)
class _Evidence:
    """The deflections and the line through them, asked for one figure after the other."""

    up: list[_Deflection]
    down: list[_Deflection]
    line: StraightLine
    hung: Hung
    rated_force_n: float
    step_counts: float
    drift_counts_per_s: float
    assumed_pct: float

    def in_newtons(
        self, counts: float, standard_counts: float, *, at_n: float, apart_s: float, other_n: float = 0.0
    ) -> Figure:
        """Return a difference of two readings as a figure, with the drift there may have been between them."""
        slope = abs(self.line.slope)
        step = math.sqrt(2.0) * resolved(self.step_counts)
        drifted = rectangular(self.drift_counts_per_s * apart_s)
        standard = math.hypot(math.hypot(standard_counts, step, drifted) / slope, other_n)
        return figure(counts / self.line.slope, standard, rated_force_n=self.rated_force_n, at_n=at_n)

    @property
    def top_n(self) -> float:
        """The greatest load."""
        return max(each.load_n for each in self.up)

    @property
    def spread(self) -> _Spread:
        """How the sensitivity differs from run to run."""
        slopes = _slopes_of_runs(self.up)
        if len(slopes) < 2:
            return _Spread(self.assumed_pct, len(slopes))
        return _Spread(100.0 * float(np.std(slopes, ddof=1)) / abs(self.line.slope), len(slopes))

    def budget(self, creep: Figure | None) -> ForceBudget:
        """Return what is known of a force at the greatest load: the line, one more run, and what the sensor adds."""
        found = (("linearity", self.linearity()), ("hysteresis", self.hysteresis()), ("creep", creep))
        limits = (from_limits(name, abs(each.value_n), unit="N") for name, each in found if each is not None)
        return force_budget(self.top_n, [*self._of_line(), self._next_run(), *limits])

    def sensitivity(self) -> ForceBudget:
        """Return what is known of the line alone, at the greatest load."""
        return force_budget(self.top_n, self._of_line())

    def _of_line(self) -> list[Component]:
        top = self.top_n
        slope, hung = abs(self.line.slope), self.hung
        shares = (
            ("masses", hung.mass_tolerance_pct),
            ("gravity", hung.gravity.tolerance_pct),
            ("buoyancy", BUOYANCY_PCT),
        )
        return [
            *self._runs_components(top),
            *(from_limits(name, pct, unit="%", sensitivity=0.01 * top) for name, pct in shares),
            # a deflection is the difference of two readings
            from_limits("resolution", 0.5 * self.step_counts, unit="counts", sensitivity=math.sqrt(2.0) / slope),
        ]

    def _runs_components(self, top: float) -> tuple[Component, ...]:
        """Return the mean of the runs; of a single one its own scatter, and what runs of such sensors differ by."""
        pct, runs = self.spread
        if runs < 2:
            return self._readings_component(top), from_standard("runs", pct, unit="%", sensitivity=0.01 * top)
        of_mean, share = pct / math.sqrt(runs), 0.01 * top
        return (from_readings("runs", of_mean, value=pct, dof=runs - 1, unit="%", sensitivity=share, shared="runs"),)

    def _next_run(self) -> Component:
        """Return what the sensor does otherwise when it is loaded once more, as in use."""
        pct, runs = self.spread
        if runs < 2:
            return from_standard("next run", pct, unit="%", sensitivity=0.01 * self.top_n)
        return from_readings("next run", pct, dof=runs - 1, unit="%", sensitivity=0.01 * self.top_n, shared="runs")

    def _readings_component(self, top: float) -> Component:
        """Return the scatter of one run about its line; that of the reading itself, where there is one load."""
        line, slope = self.line, abs(self.line.slope)
        if line.degrees_of_freedom:
            relative = 100.0 * line.slope_uncertainty / slope
            return from_readings("readings", relative, dof=line.degrees_of_freedom, unit="%", sensitivity=0.01 * top)
        (own,) = (each for each in self.up if each.load_n == top)
        return from_readings("readings", own.standard_counts, dof=own.dof, unit="counts", sensitivity=1.0 / slope)

    def linearity(self) -> Figure | None:
        """Return the linearity error from the least-squares line; None with fewer than three loads."""
        return self._farthest(self.line.at, {})

    def terminal(self) -> Figure | None:
        """Return the linearity error from the terminal line; None with fewer than three loads."""
        means = _by_load(self.up)
        top = max(means)
        slope, spread = means[top].counts / top, means[top].standard_counts
        return self._farthest(lambda load: slope * load, {load: spread * load / top for load in means})

    def _farthest(self, line: Callable[[float], float], also: Mapping[float, float]) -> Figure | None:
        means = _by_load(self.up)
        if len(means) < 3:
            return None
        return _largest(
            self.in_newtons(
                mean.counts - line(load),
                math.hypot(mean.standard_counts, also.get(load, 0.0)),
                at_n=load,
                apart_s=mean.since_zero_s,
                other_n=rectangular(0.01 * self.hung.mass_tolerance_pct * load),
            )
            for load, mean in means.items()
        )

    def hysteresis(self) -> Figure | None:
        """Return the largest difference between falling and rising load, mean of the runs; None without both."""
        up, down = _by_load(self.up), _by_load(self.down)
        # the greatest load has no way down, and at zero it is the return
        both = [load for load in down if load in up and load > 0.0]
        return _largest(
            self.in_newtons(
                down[load].counts - up[load].counts,
                math.hypot(down[load].standard_counts, up[load].standard_counts),
                at_n=load,
                apart_s=down[load].at_s - up[load].at_s,
            )
            for load in both
        )

    def repeatability(self) -> Figure | None:
        """Return the largest range of one rising load over the runs; None for a single run."""
        groups = {load: [each for each in self.up if each.load_n == load] for load in _by_load(self.up) if load > 0.0}
        return _largest(
            self.in_newtons(
                _range(group),
                max(math.sqrt(2.0) * each.standard_counts for each in group),
                at_n=load,
                apart_s=group[0].since_zero_s,
            )
            for load, group in groups.items()
            if len(group) > 1
        )

    def zero_return(self) -> Figure | None:
        """Return the largest zero after a run, against that before it; None when no run came back to zero."""
        return _largest(
            self.in_newtons(each.counts, each.standard_counts, at_n=0.0, apart_s=0.0)
            for each in self.down
            if each.load_n == 0.0
        )


class _Spread(NamedTuple):
    """How the sensitivity differs from run to run."""

    pct: float
    """Standard deviation, % of the sensitivity."""
    runs: int


def _slopes_of_runs(up: Sequence[_Deflection]) -> list[float]:
    """Return the slope of each run that has a load."""
    runs = [[each for each in up if each.run == run] for run in sorted({each.run for each in up})]
    return [
        fit_line([each.load_n for each in run], [each.counts for each in run]).slope
        for run in runs
        if len({each.load_n for each in run}) > 1
    ]


def _by_load(deflections: Sequence[_Deflection]) -> dict[float, _Deflection]:
    """Return the mean deflection of each load over the runs."""
    means: dict[float, _Deflection] = {}
    for load in sorted({each.load_n for each in deflections}):
        group = [each for each in deflections if each.load_n == load]
        spread = math.hypot(*(each.standard_counts for each in group)) / len(group)
        counts, at, since = (
            float(np.mean([getattr(each, name) for each in group])) for name in ("counts", "at_s", "since_zero_s")
        )
        means[load] = _Deflection(0, load, counts, spread, group[0].dof, at, since)
    return means


def _range(group: Sequence[_Deflection]) -> float:
    counts = [each.counts for each in group]
    # with the sign of the slope, so that the range in newtons is positive
    return (max(counts) - min(counts)) * (1.0 if group[0].counts >= 0.0 else -1.0)


def _largest(figures: Iterable[Figure]) -> Figure | None:
    return max(figures, key=lambda each: abs(each.value_n), default=None)


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
