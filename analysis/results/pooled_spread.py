"""How much trials of one set differ, pooled over all sets at hand: two or three trials alone say little of it.

A set of two trials has one degree of freedom, and Student's t of 12.7; twenty sets of three have forty, and 2.0. Trials
differ by a share of the force, so that logarithms are pooled.

References
----------
JCGM 100:2008, 4.2.4: a pooled estimate of the variance, from a well-characterised measurement.
Bland, J. M. and Altman, D. G. (1996), Measurement error proportional to the mean, British Medical Journal 313, 106.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from acquire.values.records import Method
from analysis.statistics.distributions import f_quantile

if TYPE_CHECKING:
    from analysis.results.action_result import ActionResult
    from analysis.results.spread import Spread

LEAST_DOF = 8
"""With fewer the upper 95 % limit of the deviation is more than twice the one found (chi squared): our limit."""

UNLIKE = 0.99
"""A set that spreads more than this share of sets would by chance speaks for itself."""

Kind = tuple[str | None, Method]
"""Action and method; all actions of a method together are those of no action."""


class PooledSpread(msgspec.Struct, frozen=True, kw_only=True):
    """How much single trials differ within a set."""

    cv_pct: float
    """Standard deviation of single trials, % of the force."""
    dof: int
    sets: int
    action: str | None
    """Of which action; None for all that were held alike."""

    def fits(self, values: Spread) -> bool:
        """Return whether it says more of a set than its own spread does: the set does not spread far more."""
        squares, own = _squares(values), len(values.values) - 1
        if squares is None or own == 0:
            return True
        ratio = squares / own / (self.cv_pct / 100.0) ** 2 if self.cv_pct else math.inf
        return self.dof > own and ratio <= f_quantile(UNLIKE, own, self.dof)


def pooled_spreads(results: Iterable[ActionResult]) -> dict[Kind, PooledSpread]:
    """Return the spread of single trials by action and method, and by method alone.

    Parameters
    ----------
    results : iterable of ActionResult
        Of any persons and occasions, scored alike.

    Returns
    -------
    dict
        Of kinds with `LEAST_DOF` degrees of freedom or more.

    Examples
    --------
    >>> pooled_spreads([])
    {}
    """
    sums: dict[Kind, list[tuple[float, int]]] = {}
    for result in results:
        squares = None if result.force is None else _squares(result.force)
        if squares is not None and result.force is not None:
            for kind in ((result.action, result.method), (None, result.method)):
                sums.setdefault(kind, []).append((squares, len(result.force.values) - 1))
    found = {kind: _pooled(kind, rows) for kind, rows in sums.items()}
    return {kind: each for kind, each in found.items() if each.dof >= LEAST_DOF}


def pooled_for(pool: Mapping[Kind, PooledSpread], action: str | None, method: Method) -> PooledSpread | None:
    """Return the spread to use for a set: that of its action, or of all that were held alike.

    Examples
    --------
    >>> by_hand = PooledSpread(cv_pct=5.0, dof=20, sets=10, action=None)
    >>> pooled_for({(None, "hand"): by_hand}, "hip-flexion", "hand").cv_pct
    5.0
    """
    return pool.get((action, method)) or pool.get((None, method))


def _pooled(kind: Kind, rows: list[tuple[float, int]]) -> PooledSpread:
    dof = sum(own for _, own in rows)
    variance = math.fsum(squares for squares, _ in rows) / dof
    return PooledSpread(cv_pct=100.0 * math.sqrt(variance), dof=dof, sets=len(rows), action=kind[0])


def _squares(values: Spread) -> float | None:
    """Return the sum of squares of the logarithms about their mean; None for one value or one not above 0."""
    if len(values.values) < 2 or not min(values.values) > 0.0:
        return None
    logarithms = np.log(values.values)
    return float(((logarithms - logarithms.mean()) ** 2).sum())
