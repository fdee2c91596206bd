"""What a session should know of its sensor: when it was last checked, how that went, and whether its zero has moved."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from acquire.errors import AcquireError
from acquire.sensor.calibration_file import load_calibration
from acquire.sensor.profile import load_profile
from analysis.sensor_check import CheckLimits, Finding, SensorCheck, Status, too_old, zero_moved
from ui.model.check.log import CheckLog, SessionZero
from ui.words.phrase import Phrase
from ui.words.words import Rounded


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckNote:
    """What there is to say of a sensor, and whether all is well."""

    good: bool
    phrases: tuple[Phrase, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorName:
    """What tells one sensor from another."""

    profile: str
    serial: str = ""


def sensor_name(sensor: str, calibration: str) -> SensorName | None:
    """Return who a sensor is, by its profile and the serial number in its calibration; None when neither can be read.

    Parameters
    ----------
    sensor : str
        A profile's name or file.
    calibration : str
        A calibration file; empty when there is none.
    """
    try:
        profile = load_profile(sensor)
        serial = load_calibration(calibration).serial if calibration else ""
    except AcquireError:
        return None
    return SensorName(profile=profile.name, serial=serial)


def known_as(log: CheckLog, sensor: SensorName) -> SensorName:
    """Return a sensor by the serial number it was checked by, when nobody says one and there is only one on record."""
    serials = log.serials(sensor.profile)
    if sensor.serial or len(serials) != 1 or log.last(sensor.profile) is not None:
        return sensor
    return SensorName(profile=sensor.profile, serial=serials[0])


def check_note(log: CheckLog, sensor: SensorName, *, now: dt.datetime, limits: CheckLimits) -> CheckNote:
    """Return what there is to say of a sensor before a session.

    Parameters
    ----------
    log : CheckLog
        The checks there are.
    sensor : SensorName
        Whose.
    now : datetime
        When.
    limits : CheckLimits
        How old a check may be, and how far a zero may move.
    """
    last = log.last(sensor.profile, sensor.serial)
    if last is None:
        return CheckNote(good=False, phrases=(Phrase("check.note.none"),))
    said = [_of_check(last, now, limits)]
    zero = log.session_zero(sensor.profile, sensor.serial)
    if zero is not None and zero.at > last.made:
        said += _of_zero(moved_since(last, zero.counts, limits))
    return CheckNote(good=all(phrase.key in GOOD for phrase in said), phrases=tuple(said))


GOOD = ("check.note.pass", "check.note.warn")


def moved_since(last: SensorCheck, zero_counts: float, limits: CheckLimits) -> Finding:
    """Return the finding on a zero, against that of the last check."""
    moved_n = (zero_counts - last.unloaded.zero_counts) * last.calibration.newtons_per_count
    return zero_moved(moved_n, rated_force_n=last.rated_force_n, limits=limits)


class SensorWatch:
    """Watches the zero of one session: it is compared with that of the last check, and kept for the next session.

    Parameters
    ----------
    log : CheckLog
        The checks there are.
    sensor : SensorName
        Whose.
    limits : CheckLimits
        How far a zero may move.
    """

    def __init__(self, log: CheckLog, sensor: SensorName, limits: CheckLimits) -> None:
        self._log, self._sensor, self._limits = log, sensor, limits
        self._seen = False

    def before(self, now: dt.datetime) -> tuple[Phrase, ...]:
        """Return what is to be said before the session; nothing when all is well."""
        note = check_note(self._log, self._sensor, now=now, limits=self._limits)
        return tuple(phrase for phrase in note.phrases if phrase.key not in GOOD)

    def see(self, zero_counts: float, now: dt.datetime) -> Phrase | None:
        """Keep the zero of a trial; return what is to be said of it, once a session and only when it has moved."""
        self._log.note_zero(self._sensor.profile, self._sensor.serial, SessionZero(at=now, counts=zero_counts))
        first, self._seen = not self._seen, True
        last = self._log.last(self._sensor.profile, self._sensor.serial) if first else None
        said = [] if last is None else _of_zero(moved_since(last, zero_counts, self._limits))
        return said[0] if said else None


def _of_check(last: SensorCheck, now: dt.datetime, limits: CheckLimits) -> Phrase:
    facts = {"date": last.made.astimezone(now.tzinfo).date(), "days": f"{limits.age.days:g}"}
    if too_old(last.made, now=now, limits=limits):
        return Phrase("check.note.old", facts)
    return Phrase(f"check.note.{last.verdict.value}", facts)


def _of_zero(finding: Finding) -> list[Phrase]:
    if finding.status is Status.PASS or finding.measured_n is None:
        return []
    facts = {"newtons": Rounded(finding.measured_n, 1, signed=True), "percent": Rounded(abs(finding.measured_pct), 1)}
    return [Phrase("check.note.zero_moved", facts)]
