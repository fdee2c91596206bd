"""What a known mass weighs here: gravity on the ground by latitude and height.

A load cell is checked with dead weights. Calling a mass m times the standard 9.80665 m/s2 its weight is
wrong by 0.27 % at the equator and 0.26 % at the poles, so local gravity is worked out, or typed in. What is
left out, the pull of the ground around (mostly below 0.01 %, from memory) and the buoyancy of steel in air
(0.015 %: 1.2 in 8000 kg/m3), is less than a hand-held sensor can tell.

Gravity on the ellipsoid is Somigliana's closed formula; with height it is the second-order Taylor formula,
which differs from the closed form by at most 2e-7 m/s2 from -500 m to 1.6 km, and 7e-7 m/s2 up to 9 km.

References
----------
Moritz, H. (2000), Geodetic Reference System 1980, Journal of Geodesy 74, 128-133.
Heiskanen, W. A. and Moritz, H. (1967), Physical Geodesy, equation 2-123 (height; from memory).
"""

from __future__ import annotations

import math
from typing import Literal

import msgspec

STANDARD_GRAVITY = 9.80665
"""m/s2, exactly: 3rd General Conference on Weights and Measures (1901), declaration on mass and weight."""

# Moritz (2000): the defining constants, and the derived ones in the figures printed there.
SEMI_MAJOR_AXIS = 6378137.0
"""a, m."""
GM = 3986005e8
"""Geocentric gravitational constant, m3/s2."""
ANGULAR_VELOCITY = 7292115e-11
"""omega, rad/s."""
SEMI_MINOR_AXIS = 6356752.3141
"""b, m."""
FLATTENING = 1 / 298.257222101
ECCENTRICITY_SQUARED = 0.00669438002290
EQUATOR_GRAVITY = 9.7803267715
"""m/s2."""
POLE_GRAVITY = 9.8321863685
"""m/s2."""

LOWEST_M = -500.0
HIGHEST_M = 9000.0
"""Where people test strength: from the shore of the Dead Sea to the highest summit."""


GravitySource = Literal["standard", "latitude", "place", "typed"]
"""Standard gravity for want of better, normal gravity by the latitude, or by latitude and height, or typed in."""

TOLERANCE_PCT: dict[GravitySource, float] = {"standard": 0.27, "latitude": 0.05, "place": 0.02, "typed": 0.05}
"""How far the true value may be off: from the pole to the equator; 1600 m of height not given; the pull of the
ground around, on the safe side; the last figure of what is typed, as 9.81."""


class LocalGravity(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Gravity where the weights hang, and how well it is known."""

    m_per_s2: float
    source: GravitySource
    latitude_deg: float | None = None
    height_m: float | None = None
    """Where that is; None when nobody said."""

    @property
    def tolerance_pct(self) -> float:
        """The true value is within this of it, %."""
        return TOLERANCE_PCT[self.source]


def local_gravity(
    *, typed: float | None = None, latitude_deg: float | None = None, height_m: float | None = None
) -> LocalGravity:
    """Return gravity as well as it is known here.

    Parameters
    ----------
    typed : float, optional
        m/s2, when somebody knows it.
    latitude_deg, height_m : float, optional
        Else these, for normal gravity; height 0 m where only the latitude is known.

    Raises
    ------
    ValueError
        As `normal_gravity`.

    Examples
    --------
    >>> local_gravity().source, local_gravity(latitude_deg=52.1, height_m=90.0).source
    ('standard', 'place')
    """
    if typed is not None:
        return LocalGravity(m_per_s2=typed, source="typed")
    if latitude_deg is not None:
        source: GravitySource = "latitude" if height_m is None else "place"
        value = normal_gravity(latitude_deg, height_m or 0.0)
        return LocalGravity(m_per_s2=value, source=source, latitude_deg=latitude_deg, height_m=height_m)
    return LocalGravity(m_per_s2=STANDARD_GRAVITY, source="standard")


def normal_gravity(latitude_deg: float, height_m: float = 0.0) -> float:
    """Return gravity by the Geodetic Reference System 1980.

    Parameters
    ----------
    latitude_deg : float
        Geodetic latitude, degrees, north or south.
    height_m : float
        Height above the ellipsoid, m; height above the sea is near enough (100 m are 0.003 %).

    Returns
    -------
    float
        m/s2.

    Raises
    ------
    ValueError
        If the latitude is outside +-90 degrees or the height outside -500 to 9000 m.

    References
    ----------
    Moritz (2000), Geodetic Reference System 1980; the height term from Heiskanen and Moritz (1967), 2-123.

    Examples
    --------
    >>> round(normal_gravity(45.0), 9)
    9.806199202
    """
    if not -90 <= latitude_deg <= 90:
        raise ValueError(f"latitude_deg must be -90 to 90 degrees, got {latitude_deg} degrees")
    if not LOWEST_M <= height_m <= HIGHEST_M:
        raise ValueError(f"height_m must be {LOWEST_M:g} to {HIGHEST_M:g} m, got {height_m} m")
    sin2 = math.sin(math.radians(latitude_deg)) ** 2
    return _on_ellipsoid(sin2) * _height_factor(sin2, height_m)


def _on_ellipsoid(sin2: float) -> float:
    k = SEMI_MINOR_AXIS * POLE_GRAVITY / (SEMI_MAJOR_AXIS * EQUATOR_GRAVITY) - 1
    return EQUATOR_GRAVITY * (1 + k * sin2) / math.sqrt(1 - ECCENTRICITY_SQUARED * sin2)


def _height_factor(sin2: float, height_m: float) -> float:
    m = ANGULAR_VELOCITY**2 * SEMI_MAJOR_AXIS**2 * SEMI_MINOR_AXIS / GM
    h = height_m / SEMI_MAJOR_AXIS
    return 1 - 2 * (1 + FLATTENING + m - 2 * FLATTENING * sin2) * h + 3 * h**2


def weight(mass_kg: float, gravity: float) -> float:
    """Return the force with which a mass hangs.

    Parameters
    ----------
    mass_kg : float
        Mass, kg.
    gravity : float
        Local gravity, m/s2, from `normal_gravity` or typed in.

    Returns
    -------
    float
        N.

    Raises
    ------
    ValueError
        If the mass is not positive, or gravity not that of a place on Earth (9.7 to 9.9 m/s2).

    Examples
    --------
    >>> round(weight(20.0, STANDARD_GRAVITY), 6)
    196.133
    """
    if not (math.isfinite(mass_kg) and mass_kg > 0):
        raise ValueError(f"mass_kg must be positive, got {mass_kg} kg")
    if not 9.7 <= gravity <= 9.9:
        raise ValueError(f"gravity must be 9.7 to 9.9 m/s2, got {gravity} m/s2")
    return mass_kg * gravity
