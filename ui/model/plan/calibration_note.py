"""What is known of a sensor's calibration, as sentences for the user's language."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from acquire.errors import CalibrationError, ProfileError
from acquire.sensor.calibration_file import load_calibration
from acquire.sensor.profile import load_profile
from acquire.values.calibration import Calibration, CalibrationState, residuals
from ui.words.phrase import Phrase


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationNote:
    """A calibration's state, and what to say of it."""

    state: CalibrationState | None
    """None when the file cannot be read."""
    phrases: tuple[Phrase, ...]

    @property
    def trusted(self) -> bool:
        """Whether newtons may be taken at their word."""
        return self.state is CalibrationState.CURRENT


def calibration_note(file: str, *, on: dt.date, sensor: str = "") -> CalibrationNote:
    """Return what is known of a calibration on a day.

    Parameters
    ----------
    file : str
        A calibration file; empty when there is none and the nominal sensitivity of the profile is used.
    on : date
        The day of the session.
    sensor : str
        The profile, which says whether its sensitivity is a guess; one that cannot be read says nothing.

    Examples
    --------
    >>> calibration_note("", on=dt.date(2026, 3, 2)).trusted
    False
    """
    if not file:
        return _note(CalibrationState.MISSING, Phrase(f"plan.calibration.{'guess' if guessed(sensor) else 'missing'}"))
    try:
        calibration = load_calibration(file)
    except CalibrationError as error:
        return _note(None, Phrase("plan.calibration.unreadable", {"why": str(error)}))
    state = calibration.state(on)
    if calibration.last_day is None:
        return _note(state, Phrase("plan.calibration.undated"))
    days = {"date": calibration.date, "until": calibration.last_day}
    return _note(state, Phrase(f"plan.calibration.{state.value}", days), _evidence(calibration))


def guessed(sensor: str) -> bool:
    """Tell whether a profile's sensitivity is a guess."""
    try:
        return load_profile(sensor).sensitivity == "unknown"
    except ProfileError:
        return False


def _note(state: CalibrationState | None, *phrases: Phrase) -> CalibrationNote:
    return CalibrationNote(state=state, phrases=phrases)


def _evidence(calibration: Calibration) -> Phrase:
    if not calibration.points:
        return Phrase("plan.evidence.none")
    if len(calibration.points) == 2:
        return Phrase("plan.evidence.two")
    rest = residuals(calibration)
    if calibration.rated_force_n is None:
        return Phrase("plan.evidence.newtons", {"newtons": float(abs(rest.force_n).max())})
    return Phrase("plan.evidence.percent", {"percent": rest.largest_pct})
