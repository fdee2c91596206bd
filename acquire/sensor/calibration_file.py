"""A calibration as a TOML file, and whether it is of the sensor that it is used for."""

from __future__ import annotations

import math
from pathlib import Path

import msgspec

from acquire.errors import CalibrationError
from acquire.files.atomic import replace_file
from acquire.files.tomlfile import parse_toml, toml_value
from acquire.sensor.profile import Profile
from acquire.values.calibration import Calibration

FAR_PCT = 20.0
"""Sensors of one kind differ by less than this in their sensitivity, %. Common practice, no source."""


def load_calibration(path: str | Path) -> Calibration:
    """Return the calibration stored in a TOML file.

    Raises
    ------
    CalibrationError
        If the file cannot be read or is not a calibration; the message names the file and the key.
    """
    return parse_toml(Path(path), Calibration, error=CalibrationError)


def load_calibration_of(profile: Profile, path: str | Path) -> Calibration:
    """Return a stored calibration that is to be used with a sensor of a profile.

    Raises
    ------
    CalibrationError
        As `load_calibration`; or if the calibration is of another profile, or of a sensor of another rated force.
    """
    calibration = load_calibration(path)
    if calibration.sensor not in ("", profile.name):
        raise CalibrationError(
            f"{path}: is the calibration of a sensor {calibration.sensor}, and this is a {profile.name}: give the "
            "calibration of this sensor, or make one with 'ramphold check'"
        )
    known, stated = calibration.rated_force_n, profile.stated_force_n
    if known is not None and stated is not None and not math.isclose(known, stated, rel_tol=1e-3):
        raise CalibrationError(
            f"{path}: is of a sensor rated for {known:g} N, and the {profile.name} is rated for {stated:g} N: give "
            "the calibration of this sensor, or correct rated_force_n in its profile"
        )
    return calibration


def far_from_nominal(calibration: Calibration, profile: Profile) -> float | None:
    """Return by what factor a calibration changes the forces, where that is more than sensors of one kind differ.

    Returns
    -------
    float or None
        Force by the calibration over force by the nominal sensitivity; negative where they differ in sign. None
        within 20 %, and where the nominal sensitivity is a guess.

    Examples
    --------
    >>> from acquire.sensor.profile import load_profile
    >>> profile = load_profile("simulated")
    >>> far_from_nominal(profile.nominal_calibration(), profile) is None
    True
    >>> far_from_nominal(Calibration(newtons_per_count=0.5 / profile.counts_per_newton), profile)
    0.5
    """
    ratio = calibration.newtons_per_count * profile.counts_per_newton
    near = 1.0 / (1.0 + 0.01 * FAR_PCT) <= ratio <= 1.0 + 0.01 * FAR_PCT
    return None if near or profile.sensitivity == "unknown" else ratio


def save_calibration(path: str | Path, calibration: Calibration) -> None:
    """Store a calibration as TOML: written aside, synced, then put in place whole.

    Raises
    ------
    CalibrationError
        If the file cannot be written; what was there before is then untouched.
    """

    def write(aside: Path) -> None:
        aside.write_text(_toml(calibration), encoding="utf-8", newline="\n")

    try:
        replace_file(path, write)
    except OSError as error:
        raise CalibrationError(f"cannot write the calibration {path}: {error.strerror or error}") from error


def _toml(calibration: Calibration) -> str:
    lines = ["# force in N = (counts - zero_counts) * newtons_per_count", *_toml_lines(calibration)]
    if calibration.uncertainty is not None:
        lines += ["", "[uncertainty]", *_toml_lines(calibration.uncertainty)]
    for point in calibration.points:
        lines += ["", "[[points]]", f"load_n = {float(point.load_n)!r}", f"counts = {float(point.counts)!r}"]
    return "\n".join(lines) + "\n"


def _toml_lines(value: msgspec.Struct) -> list[str]:
    """Return the plain fields; those that hold others have tables of their own."""
    fields = {key: getattr(value, key) for key in value.__struct_fields__ if key not in {"points", "uncertainty"}}
    return [f"{key} = {toml_value(each)}" for key, each in fields.items() if each is not None]
