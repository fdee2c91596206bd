"""A number that a sentence names, with what it is a number of: the analysis writes no sentence."""

from __future__ import annotations

import enum
from typing import NamedTuple


class Kind(enum.StrEnum):
    """What a number is a number of, by its unit."""

    FORCE = "N"
    """Shown in the unit of force that the user has chosen."""
    PERCENT = "%"
    PERCENT_PER_S = "%/s"
    SECONDS = "s"
    HERTZ = "Hz"
    COUNT = ""


class Number(NamedTuple):
    """One number by the name that sentences know it by.

    Examples
    --------
    >>> str(Number("gap", 0.25, Kind.SECONDS))
    'gap 0.25 s'
    """

    name: str
    value: float
    kind: Kind

    def __str__(self) -> str:
        """Return name, number and unit, for a log or a notebook."""
        return f"{self.name} {self.value:.4g} {self.kind}".rstrip()
