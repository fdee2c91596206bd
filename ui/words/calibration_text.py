"""What the newtons of a result rest on, as a sentence to print with it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import numpy as np

from acquire.values.calibration import Calibration, CalibrationState, residuals
from acquire.values.records import Trial
from ui.words.words import Words


def calibration_sentence(calibration: Calibration, on: dt.date, words: Words) -> str:
    """Return what is known of a calibration on a day, without capital or full stop.

    Examples
    --------
    >>> calibration_sentence(Calibration(newtons_per_count=0.5, rated_force_n=500.0), dt.date(2026, 3, 2), Words())
    'not calibrated: newtons come from the nominal sensitivity of the profile'
    """
    if calibration.guess:
        return words("calibration.guess")
    if calibration.date is None or calibration.last_day is None:
        return words("calibration.nominal")
    if calibration.state(on) is CalibrationState.EXPIRED:
        return words("calibration.expired", date=words.day(calibration.last_day))
    made = words(
        f"calibration.current{'_by' if calibration.by else ''}", date=words.day(calibration.date), by=calibration.by
    )
    serial = words("calibration.serial", serial=calibration.serial) if calibration.serial else ""
    return ", ".join(part for part in (made, serial, _evidence(calibration, words)) if part)


def calibrations_sentence(trials: Iterable[Trial], on: dt.date | None, words: Words) -> str:
    """Return what is known of the calibrations of some trials; `on` is None for a trace of newtons by others."""
    if on is None:
        return words("calibration.file")
    return "; ".join(sorted({calibration_sentence(trial.calibration, on, words) for trial in trials}))


def _evidence(calibration: Calibration, words: Words) -> str:
    if len(calibration.points) in {0, 2}:
        return words(f"calibration.evidence.{'two' if calibration.points else 'none'}")
    rest = residuals(calibration)
    if calibration.rated_force_n is None:
        return words("calibration.evidence.newtons", residual=float(np.abs(rest.force_n).max()))
    return words("calibration.evidence.percent", residual=rest.largest_pct)
