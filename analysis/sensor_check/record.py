"""The record of a sensor check: what was done, what was read, and the result."""

from __future__ import annotations

import datetime as dt
from typing import Literal

import msgspec

from acquire.values.calibration import Calibration, CalibrationPoint, CalibrationUncertainty, fit_calibration
from acquire.values.gravity import LocalGravity
from analysis.sensor_check.loads import Loaded, rising_points
from analysis.sensor_check.unloaded import Unloaded
from analysis.sensor_check.verdict import Finding, Status, worst
from analysis.sensor_check.weighing import LoadReading


class LimitsUsed(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What names the limits that a check was judged by."""

    name: str
    hash: str


class SensorCheck(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One check, complete: it can be judged anew from what is here."""

    version: Literal[1] = 1
    made: dt.datetime
    sensor: str
    """Name of the profile."""
    serial: str = ""
    by: str = ""
    """A code, never a name."""
    invented: bool = False
    """By a simulated sensor."""
    calibration: Calibration
    """What newtons were told by."""
    rated_force_n: float
    """What shares are of; a guess where the calibration has none."""
    limits: LimitsUsed
    gravity: LocalGravity
    mass_tolerance_pct: float
    unloaded: Unloaded
    readings: tuple[LoadReading, ...] = ()
    loaded: Loaded | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def verdict(self) -> Status:
        """The worst of the findings."""
        return worst(self.findings)

    def made_calibration(self, *, valid_days: int = 365) -> Calibration | None:
        """Return the calibration that the known loads give; None when none were hung.

        Its points are the rising loads of all runs, each from the zero of its run.
        """
        if self.loaded is None:
            return None
        points = [CalibrationPoint(load_n=load, counts=counts) for load, counts in rising_points(self.readings)]
        made = fit_calibration(
            points,
            rated_force_n=self.calibration.rated_force_n,
            limit_counts=self.calibration.limit_counts,
            sensor=self.sensor,
            serial=self.serial,
            date=self.made.date(),
            by=self.by,
            valid_days=valid_days,
        )
        return msgspec.structs.replace(made, uncertainty=_uncertainty(self.loaded))


def _uncertainty(loaded: Loaded) -> CalibrationUncertainty:
    shown = {name: getattr(loaded, name) for name in ("linearity", "hysteresis", "repeatability", "creep")}
    line = loaded.sensitivity or loaded.budget
    return CalibrationUncertainty(
        sensitivity_pct=line.standard_pct,
        sensitivity_dof=line.dof,
        between_runs_pct=loaded.between_runs_pct,
        runs=loaded.runs,
        residual_sd_n=loaded.residual_sd_n or 0.0,
        **{f"{name}_n": None if each is None else each.value_n for name, each in shown.items()},
    )
