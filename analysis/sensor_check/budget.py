"""What a force is known to after a check, and a characteristic with what is known of it.

Contributions are `analysis.statistics.uncertainty`'s. To expand a budget, to 95.45 %, each estimate is expanded by
Student's t for its own degrees of freedom, and these are added as squares: k is the 2 of calibration certificates where
the degrees of freedom are many, and up to 14 where two runs are all there is. One t for the effective degrees of
freedom (JCGM 100:2008, G.4.1) held the truth in 89 to 91 of 100 simulated checks of two runs: runs that agree by chance
then make the rest look well known. A single characteristic is expanded by 2.

References
----------
JCGM 100:2008, Guide to the expression of uncertainty in measurement: 4.3.7 (limits), 5.1.2 (combined), 6.2, 6.3 and
G.4 (expanded), F.2.2.1 (steps of an indication).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from analysis.statistics.uncertainty import Component, coverage_factor, effective_dof

COVERAGE = 2.0
"""k of a single characteristic."""

LEVEL_PCT = 95.45
"""Of a budget: the k for it is 2 with many degrees of freedom."""


class ForceBudget(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a force is known to, and by what."""

    at_n: float
    """The force, N."""
    components: tuple[Component, ...]
    standard_n: float
    """Combined standard uncertainty, N."""
    dof: float | None
    """Effective degrees of freedom; None for infinitely many."""

    @property
    def expanded_n(self) -> float:
        """Expanded uncertainty, N: it holds the truth in 95.45 % of cases, or more."""
        parts: dict[str, float] = {}
        for number, row in enumerate(self.components):
            key = row.shared or str(number)
            own = coverage_factor(row.dof, LEVEL_PCT) * (row.contribution or 0.0)
            parts[key] = math.hypot(parts.get(key, 0.0), own)
        return math.hypot(*parts.values())

    @property
    def coverage(self) -> float:
        """Expanded over combined standard uncertainty; 2 for one that is 0."""
        return self.expanded_n / self.standard_n if self.standard_n else COVERAGE

    @property
    def standard_pct(self) -> float:
        """Combined standard uncertainty, % of the force."""
        return 100.0 * self.standard_n / abs(self.at_n)

    @property
    def expanded_pct(self) -> float:
        """Expanded uncertainty, % of the force."""
        return 100.0 * self.expanded_n / abs(self.at_n)


def force_budget(at_n: float, components: Sequence[Component]) -> ForceBudget:
    """Return what independent components come to for a force.

    Parameters
    ----------
    at_n : float
        The force, N, not 0.
    components : sequence of Component
        All of them known.

    Raises
    ------
    ValueError
        If there are no components, or the force is 0.

    Examples
    --------
    >>> from analysis.statistics.uncertainty import from_readings
    >>> found = force_budget(100.0, [from_readings(name, u, dof=9, unit="N") for name, u in (("a", 3.0), ("b", 4.0))])
    >>> found.standard_n, round(found.coverage, 2), round(found.expanded_pct, 2)
    (5.0, 2.32, 11.6)
    """
    if not components or at_n == 0.0:
        raise ValueError(f"a budget needs components and a force, got {len(components)} at {at_n} N")
    standard = math.hypot(*(each.contribution or 0.0 for each in components))
    dof = effective_dof(components) if standard else None
    return ForceBudget(at_n=at_n, components=tuple(components), standard_n=standard, dof=dof)


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
