"""A calibration as a TOML file."""

from __future__ import annotations

from pathlib import Path

import msgspec

from acquire.errors import CalibrationError
from acquire.files.atomic import replace_file
from acquire.files.tomlfile import parse_toml, toml_value
from acquire.values.calibration import Calibration


def load_calibration(path: str | Path) -> Calibration:
    """Return the calibration stored in a TOML file.

    Raises
    ------
    CalibrationError
        If the file cannot be read or is not a calibration; the message names the file and the key.
    """
    return parse_toml(Path(path), Calibration, error=CalibrationError)


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
