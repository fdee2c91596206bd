"""Units of force at the edge of the program; inside there are only newtons.

References
----------
Thompson, A. and Taylor, B. N. (2008), Guide for the Use of the International System of Units (SI), NIST
Special Publication 811, Appendix B.8: kilogram-force and pound-force to newton. The guide prints seven
figures; the exact factors follow from standard gravity, 9.80665 m/s2, and the pound, 0.45359237 kg.
"""

from __future__ import annotations

import enum
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Force = TypeVar("Force", float, NDArray[np.float64])


class ForceUnit(enum.Enum):
    """A unit of force, by the symbol it is written with."""

    NEWTON = "N"
    KILOGRAM_FORCE = "kgf"
    POUND_FORCE = "lbf"

    @property
    def symbol(self) -> str:
        """How the unit is written after a number."""
        return self.value

    @property
    def newtons(self) -> float:
        """One of this unit in newtons, exactly."""
        return _NEWTONS[self]

    @classmethod
    def parse(cls, text: str) -> ForceUnit:
        """Return the unit of a symbol; case and blanks around it do not matter.

        Raises
        ------
        ValueError
            If the symbol is not one of the three.

        Examples
        --------
        >>> ForceUnit.parse(" LBF ")
        <ForceUnit.POUND_FORCE: 'lbf'>
        """
        for unit in cls:
            if unit.symbol.casefold() == text.strip().casefold():
                return unit
        raise ValueError(f"unit of force must be N, kgf or lbf, got {text!r}")


_NEWTONS = {
    ForceUnit.NEWTON: 1.0,
    ForceUnit.KILOGRAM_FORCE: 9.80665,
    ForceUnit.POUND_FORCE: 4.4482216152605,
}


def from_newtons(force: Force, unit: ForceUnit) -> Force:
    """Return a force in another unit.

    Parameters
    ----------
    force : float or ndarray
        Newtons, any shape; NaN stays NaN.
    unit : ForceUnit
        The unit to show it in.

    Returns
    -------
    float or ndarray
        In the shape of `force`.

    Examples
    --------
    >>> from_newtons(9.80665, ForceUnit.KILOGRAM_FORCE)
    1.0
    """
    return force / unit.newtons


def to_newtons(force: Force, unit: ForceUnit) -> Force:
    """Return a force in newtons.

    Parameters
    ----------
    force : float or ndarray
        Force in `unit`, any shape; NaN stays NaN.
    unit : ForceUnit
        The unit it was given in.

    Returns
    -------
    float or ndarray
        In the shape of `force`.

    Examples
    --------
    >>> to_newtons(1.0, ForceUnit.POUND_FORCE)
    4.4482216152605
    """
    return force * unit.newtons
