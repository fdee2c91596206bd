"""What is typed for a check: masses, and where the weights hang."""

from __future__ import annotations

import re

from analysis.sensor_check import SensorCheck
from ui.session.check_setup import CheckError, CheckSetup
from ui.words.numbers import parse_number

LATITUDE_DEG = (-90.0, 90.0)
HEIGHT_M = (-500.0, 9000.0)


def parse_masses(text: str) -> tuple[float, ...]:
    """Return the masses in a line of text, kg: separated by blanks or semicolons, with decimal point or comma.

    Raises
    ------
    CheckError
        If there is anything else in it, or a mass below 0.

    Examples
    --------
    >>> parse_masses("5 10; 2,5"), parse_masses(" ")
    ((5.0, 10.0, 2.5), ())
    """
    try:
        masses = tuple(parse_number(word) or 0.0 for word in re.split(r"[;\s]+", text.strip()) if word)
    except ValueError:
        raise CheckError("masses") from None
    if any(mass < 0.0 for mass in masses):
        raise CheckError("masses")
    return masses


def masses_text(masses: tuple[float, ...]) -> str:
    """Return masses as they are typed.

    Examples
    --------
    >>> masses_text((2.5, 5.0))
    '2.5 5'
    """
    return " ".join(f"{mass:g}" for mass in masses)


def parse_place(latitude: str, height: str) -> tuple[float | None, float | None]:
    """Return latitude, degrees, and height, m; None where nothing is typed.

    Raises
    ------
    CheckError
        If one is no number, or nowhere on Earth, or there is a height alone.
    """
    try:
        degrees, metres = parse_number(latitude), parse_number(height)
    except ValueError:
        raise CheckError("place") from None
    for value, (least, most) in ((degrees, LATITUDE_DEG), (metres, HEIGHT_M)):
        if value is not None and not least <= value <= most:
            raise CheckError("place")
    if metres is not None and degrees is None:
        raise CheckError("place")
    return degrees, metres


def setup_like(before: SensorCheck | None, *, serial: str) -> CheckSetup:
    """Return what was hung the last time, and where, to begin with; nothing when there was no time before."""
    if before is None:
        return CheckSetup(full=True, serial=serial)
    masses = sorted({reading.mass_kg for reading in before.readings if reading.mass_kg})
    return CheckSetup(
        masses_kg=tuple(masses),
        full=not masses or any(reading.purpose == "down" for reading in before.readings),
        latitude_deg=before.gravity.latitude_deg,
        height_m=before.gravity.height_m,
        serial=serial,
        by=before.by,
    )
