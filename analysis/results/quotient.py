"""One result over another, and the uncertainty of the quotient: what both share of one calibration cancels."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.results.action_result import ActionResult, Quantity
from analysis.results.force_budget import OF_THE_SCALE
from analysis.results.settings import ScoreOf
from analysis.statistics.uncertainty import Component, scaled


@dataclass(frozen=True, slots=True, kw_only=True)
class Quotient:
    """A result over another."""

    quantity: Quantity
    """Torque where both are known, force otherwise."""
    numerator: float
    denominator: float
    value: float
    components: tuple[Component, ...]
    """Of the quotient; each says which of the two it belongs to."""


def quantity_of(*results: ActionResult) -> Quantity:
    """Return what can be compared of some results: torque where all have one, force otherwise."""
    return Quantity.TORQUE if all(result.torque is not None for result in results) else Quantity.FORCE


def quotient(
    numerator: ActionResult, denominator: ActionResult, *, of: ScoreOf, names: tuple[str, str]
) -> Quotient | None:
    """Return one result over another; None when a trial of either is lacking, or one is not above 0.

    Parameters
    ----------
    numerator, denominator : ActionResult
        What is divided by what.
    of : ScoreOf
        Whether the best or the mean of each is taken.
    names : tuple of str
        What the components of the two are marked with, such as the sides.

    References
    ----------
    JCGM 100:2008, 5.1.2 for a quotient; 5.2 and F.1.2.3: an error that both have in common, here the scale of one
    calibration, cancels.
    """
    upper, lower = numerator.value(of), denominator.value(of)
    quantity = quantity_of(numerator, denominator)
    above = upper.of(quantity) if upper else None
    below = lower.of(quantity) if lower else None
    if above is None or below is None or not min(above[0], below[0]) > 0.0:
        return None
    calibrations = numerator.calibrations
    cancels = OF_THE_SCALE if calibrations == denominator.calibrations and len(calibrations) == 1 else frozenset[str]()
    value = above[0] / below[0]
    rows = [scaled(row, 1.0 / below[0], of=names[0]) for row in above[1].components if row.source not in cancels]
    rows += [scaled(row, -value / below[0], of=names[1]) for row in below[1].components if row.source not in cancels]
    return Quotient(quantity=quantity, numerator=above[0], denominator=below[0], value=value, components=tuple(rows))
