"""The units in which strength is published and compared, and what each of them needs besides the force."""

from __future__ import annotations

import enum

from acquire.values.gravity import STANDARD_GRAVITY
from acquire.values.units import ForceUnit


class Unit(enum.StrEnum):
    """A unit of strength, by the symbol it is written with."""

    NEWTON = "N"
    KILOGRAM_FORCE = "kgf"
    POUND_FORCE = "lbf"
    NEWTON_PER_KG = "N/kg"
    PERCENT_BODY_WEIGHT = "% body weight"
    """Force as a share of the weight of the body in standard gravity: the same number as kgf a 100 kg."""
    NEWTON_METRE = "N m"
    NEWTON_METRE_PER_KG = "N m/kg"

    @property
    def needs_lever_arm(self) -> bool:
        """Whether it is a torque."""
        return self in {Unit.NEWTON_METRE, Unit.NEWTON_METRE_PER_KG}

    @property
    def needs_mass(self) -> bool:
        """Whether it is a share of the mass of the body."""
        return self in {Unit.NEWTON_PER_KG, Unit.PERCENT_BODY_WEIGHT, Unit.NEWTON_METRE_PER_KG}


_FORCES = {
    Unit.NEWTON: ForceUnit.NEWTON,
    Unit.KILOGRAM_FORCE: ForceUnit.KILOGRAM_FORCE,
    Unit.POUND_FORCE: ForceUnit.POUND_FORCE,
}


def in_unit(force_n: float, unit: Unit, *, lever_arm_m: float | None = None, mass_kg: float | None = None) -> float:
    """Return a force as strength in a unit.

    Parameters
    ----------
    force_n : float
        Newtons; NaN stays NaN.
    unit : Unit
        What is wanted.
    lever_arm_m : float, optional
        From the joint to the middle of the pad, m; needed for a torque.
    mass_kg : float, optional
        Of the person, kg; needed for a share of the body's mass.

    Raises
    ------
    ValueError
        If what the unit needs is missing or is not positive.

    References
    ----------
    Standard gravity, 9.80665 m/s2: 3rd General Conference on Weights and Measures (1901).

    Examples
    --------
    >>> round(in_unit(98.0665, Unit.PERCENT_BODY_WEIGHT, mass_kg=50.0), 6)
    20.0
    >>> in_unit(200.0, Unit.NEWTON_METRE_PER_KG, lever_arm_m=0.3, mass_kg=60.0)
    1.0
    """
    if unit in _FORCES:
        return force_n / _FORCES[unit].newtons
    strength = force_n
    if unit.needs_lever_arm:
        strength *= _positive(lever_arm_m, "lever_arm_m", unit, "m")
    if unit.needs_mass:
        strength /= _positive(mass_kg, "mass_kg", unit, "kg")
    return 100.0 * strength / STANDARD_GRAVITY if unit is Unit.PERCENT_BODY_WEIGHT else strength


def _positive(value: float | None, name: str, unit: Unit, symbol: str) -> float:
    if value is None or not value > 0.0:
        raise ValueError(f"{name} must be positive for {unit}, got {value} {symbol}")
    return value
