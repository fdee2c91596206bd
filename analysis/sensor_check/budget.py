"""Uncertainty: contributions, how they are combined, and a value with what is known of it.

Contributions are in newtons already, so their sensitivity coefficients are 1, and they are independent.

References
----------
JCGM 100:2008, Guide to the expression of uncertainty in measurement: 4.2 (type A), 4.3 (type B), 5.1.2 (combined),
6.2 and 6.3 (expanded, coverage factor 2), G.4 (effective degrees of freedom).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import msgspec

COVERAGE = 2.0
"""k: about 95 %, where the degrees of freedom are many."""

Kind = Literal["A", "B"]
Distribution = Literal["normal", "rectangular"]


class Contribution(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One row of a budget."""

    name: str
    kind: Kind
    """A: from the scatter of readings; B: from what else is known."""
    distribution: Distribution
    standard_n: float
    """Standard uncertainty, N."""
    degrees_of_freedom: int | None = None
    """None where there is no doubt of the uncertainty itself."""


class Budget(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a force is known to, and by what."""

    at_n: float
    """The force, N."""
    rows: tuple[Contribution, ...]
    standard_n: float
    """Combined standard uncertainty, N."""
    degrees_of_freedom: float | None
    """Effective; None for very many."""

    @property
    def expanded_n(self) -> float:
        """Expanded uncertainty, k = 2, N."""
        return COVERAGE * self.standard_n

    @property
    def standard_pct(self) -> float:
        """Combined standard uncertainty, % of the force."""
        return 100.0 * self.standard_n / abs(self.at_n)

    @property
    def expanded_pct(self) -> float:
        """Expanded uncertainty, k = 2, % of the force."""
        return COVERAGE * self.standard_pct


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of a value that lies anywhere within limits; JCGM 100:2008, 4.3.7.

    Examples
    --------
    >>> round(rectangular(0.3), 6)
    0.173205
    """
    return half_width / math.sqrt(3.0)


def resolved(step: float) -> float:
    """Return the standard uncertainty of a value that is shown in steps; JCGM 100:2008, F.2.2.1.

    Examples
    --------
    >>> round(resolved(1.0), 3)
    0.289
    """
    return rectangular(0.5 * abs(step))


def budget(at_n: float, rows: Sequence[Contribution]) -> Budget:
    """Return the rows with what they come to together.

    Parameters
    ----------
    at_n : float
        The force, N, not 0.
    rows : sequence of Contribution
        Independent of one another.

    Raises
    ------
    ValueError
        If there are no rows, or the force is 0.

    Examples
    --------
    >>> known = {"kind": "B", "distribution": "normal"}
    >>> rows = [Contribution(name="a", standard_n=3.0, **known), Contribution(name="b", standard_n=4.0, **known)]
    >>> budget(100.0, rows).standard_n, budget(100.0, rows).expanded_pct
    (5.0, 10.0)
    """
    if not rows or at_n == 0.0:
        raise ValueError(f"a budget needs rows and a force, got {len(rows)} rows at {at_n} N")
    standard = math.hypot(*(row.standard_n for row in rows))
    return Budget(at_n=at_n, rows=tuple(rows), standard_n=standard, degrees_of_freedom=_freedom(standard, rows))


def _freedom(standard: float, rows: Sequence[Contribution]) -> float | None:
    """Return the effective degrees of freedom by Welch and Satterthwaite; JCGM 100:2008, G.2b."""
    parts = [row.standard_n**4 / row.degrees_of_freedom for row in rows if row.degrees_of_freedom]
    return standard**4 / sum(parts) if sum(parts) > 0.0 else None


class Figure(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One characteristic of a sensor, in newtons and in % of its rated force."""

    value_n: float
    expanded_n: float
    """Expanded uncertainty, k = 2, N."""
    value_pct: float
    """Of the rated force."""
    expanded_pct: float
    at_n: float | None = None
    """The load at which it shows; None when it is about no load."""


def figure(value_n: float, standard_n: float, *, rated_force_n: float, at_n: float | None = None) -> Figure:
    """Return a characteristic from its value and standard uncertainty in newtons.

    Examples
    --------
    >>> figure(0.5, 0.1, rated_force_n=1000.0).value_pct
    0.05
    """
    expanded, share = COVERAGE * standard_n, 100.0 / rated_force_n
    return Figure(
        value_n=value_n, expanded_n=expanded, value_pct=value_n * share, expanded_pct=expanded * share, at_n=at_n
    )
