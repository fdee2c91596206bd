"""Side against side: by how much they differ, and whether that is more than chance and more than a threshold.

A difference is flagged only when it exceeds both what measurement alone can make of equal sides (a minimal
detectable change where one is given, the expanded uncertainty of the index otherwise) and the chosen threshold.
A flag is a difference to look at, not a diagnosis: normal differences reach 23 to 40 % for some actions (Bohannon &
Andrews 1999; the settings hold the numbers, to be said wherever a flag is shown).

Where a side is affected, it is compared with the other one, whatever the index. The limb symmetry index stands beside
every index: the affected side in per cent of the other, the weaker in per cent of the stronger where none is affected.

The index "stronger" is the default because it does not depend on which limb is called the reference; only a third
of the indices in use do not (Parkinson 2021, J Sports Sci Med 20:594-617).
"""

from __future__ import annotations

import enum

import msgspec

from acquire.values.records import OTHER_SIDE, Method, Side
from analysis.results.action_result import ActionResult, Quantity
from analysis.results.missing import Missing, lacking
from analysis.results.quotient import Quotient, quotient
from analysis.results.settings import Index, ResultSettings
from analysis.statistics.uncertainty import Budget, Unknown, budget, scaled


class Finding(enum.StrEnum):
    """What a comparison comes to."""

    NOT_COMPARED = "not-compared"
    """Something is missing."""
    WITHIN_ERROR = "within-error"
    """Measurement alone can make such a difference of equal sides."""
    WITHIN_THRESHOLD = "within-threshold"
    ERROR_NOT_KNOWN = "error-not-known"
    """It is above the threshold; whether it is more than chance is not known, so it is not flagged."""
    BEYOND_BOTH = "beyond-both"
    """Flagged: above the measurement error and the threshold."""


class ErrorBasis(enum.StrEnum):
    """Where a measurement error comes from."""

    DETECTABLE_CHANGE = "detectable-change"
    """A minimal detectable change that was given."""
    UNCERTAINTY = "uncertainty"
    """The expanded uncertainty of the index, from these trials."""


class SideComparison(msgspec.Struct, frozen=True, kw_only=True):
    """One action, side against side."""

    action: str | None
    method: Method
    index: Index
    threshold_pct: float
    finding: Finding
    quantity: Quantity | None = None
    """Torque where both sides have one, force otherwise; None when they were not compared."""
    left: float | None = None
    right: float | None = None
    """N or N m."""
    reference: Side | None = None
    """The limb that the difference is a share of; None where it is the mean of both."""
    weaker: Side | None = None
    """None when both are alike or were not compared."""
    difference_pct: float | None = None
    """The index; negative only where a reference limb is the weaker one."""
    symmetry_pct: float | None = None
    """Limb symmetry index: the affected side as a share of the other, %; the weaker of the stronger where none is.
    Above 100 where the affected side is the stronger one."""
    affected: Side | None = None
    uncertainty: Budget | None = None
    """Of the index, in percentage points."""
    error_pct: float | None = None
    """What measurement alone can make of equal sides, percentage points; None when it is not known."""
    error_basis: ErrorBasis | None = None
    missing: tuple[Missing, ...] = ()

    @property
    def beyond_error(self) -> bool:
        """Whether the sides differ by more than measurement alone can make of equal ones."""
        known = self.difference_pct is not None and self.error_pct is not None
        return known and abs(self.difference_pct or 0.0) > (self.error_pct or 0.0)


def difference_pct(other: float, reference: float, index: Index) -> float:
    """Return by how much two sides differ.

    Parameters
    ----------
    other : float
        The side that is compared; for `Index.STRONGER` and `Index.MEAN` the weaker one.
    reference : float
        What it is compared with, above 0, in the same unit.
    index : Index
        How.

    Examples
    --------
    >>> difference_pct(160.0, 200.0, Index.STRONGER), round(difference_pct(160.0, 200.0, Index.MEAN), 2)
    (20.0, 22.22)
    >>> difference_pct(250.0, 200.0, Index.REFERENCE)
    -25.0
    """
    base = (other + reference) / 2.0 if index is Index.MEAN else reference
    return 100.0 * (reference - other) / base


def compare_sides(
    left: ActionResult | None,
    right: ActionResult | None,
    *,
    settings: ResultSettings,
    reference: Side | None = None,
    affected: Side | None = None,
    detectable_pct: float | None = None,
) -> SideComparison:
    """Return one action, side against side.

    Parameters
    ----------
    left, right : ActionResult or None
        The two sides, of the same action and method; one may be lacking.
    settings : ResultSettings
        Index, threshold, and which value is the score of a set.
    reference : str, optional
        The dominant side, for `Index.REFERENCE`.
    affected : str, optional
        The side that is injured or ill: it is compared with the other one, by `Index.REFERENCE`.
    detectable_pct : float, optional
        Minimal detectable change of the index, percentage points; it stands in for the uncertainty of these trials.

    Raises
    ------
    ValueError
        If both sides are lacking.
    """
    there = left or right
    if there is None:
        raise ValueError("one side at least must be there, got none")
    index = settings.sides.index if affected is None else Index.REFERENCE
    reference = reference if affected is None else OTHER_SIDE[affected]
    bare = SideComparison(
        action=there.action,
        method=there.method,
        index=index,
        affected=affected,
        threshold_pct=settings.sides.threshold_pct,
        finding=Finding.NOT_COMPARED,
        missing=_missing(left, right, index, reference),
    )
    if left is None or right is None or bare.missing:
        return bare
    pair: dict[Side, ActionResult] = {"left": left, "right": right}
    base = reference if index is Index.REFERENCE and reference else _stronger(pair, settings)
    found = _over(pair, base, settings)
    if found is None:
        return msgspec.structs.replace(bare, missing=(Missing.FORCE,))
    return _judged(bare, found, base, settings, detectable_pct)


def _missing(
    left: ActionResult | None, right: ActionResult | None, index: Index, reference: Side | None
) -> tuple[Missing, ...]:
    return lacking(
        {
            Missing.OTHER_SIDE: left is None or right is None,
            Missing.ACCEPTED_TRIAL: any(side is not None and side.best is None for side in (left, right)),
            Missing.REFERENCE_SIDE: index is Index.REFERENCE and reference is None,
        }
    )


def _over(pair: dict[Side, ActionResult], base: Side, settings: ResultSettings) -> Quotient | None:
    """Return the side that is no reference over the one that is."""
    other = OTHER_SIDE[base]
    return quotient(pair[other], pair[base], of=settings.score.of, names=(other, base))


def _stronger(pair: dict[Side, ActionResult], settings: ResultSettings) -> Side:
    found = _over(pair, "left", settings)
    return "right" if found is not None and found.value > 1.0 else "left"


def _judged(
    bare: SideComparison, found: Quotient, base: Side, settings: ResultSettings, detectable_pct: float | None
) -> SideComparison:
    other, rule = OTHER_SIDE[base], settings.sides
    difference = difference_pct(found.numerator, found.denominator, bare.index)
    slope = 400.0 / (1.0 + found.value) ** 2 if bare.index is Index.MEAN else 100.0
    uncertainty = budget([scaled(row, -slope) for row in found.components], level_pct=settings.coverage.level_pct)
    error, basis = _error(uncertainty, detectable_pct)
    values = {other: found.numerator, base: found.denominator}
    return msgspec.structs.replace(
        bare,
        quantity=found.quantity,
        left=values["left"],
        right=values["right"],
        reference=None if bare.index is Index.MEAN else base,
        weaker=other if difference > 0.0 else base if difference < 0.0 else None,
        difference_pct=difference,
        symmetry_pct=100.0 * (found.value if bare.affected else min(found.value, 1.0 / found.value)),
        uncertainty=uncertainty,
        error_pct=error,
        error_basis=basis,
        finding=_finding(abs(difference), error, rule.threshold_pct),
        missing=(Missing.SECOND_TRIAL,) if error is None else (),
    )


def _error(uncertainty: Budget, detectable_pct: float | None) -> tuple[float | None, ErrorBasis | None]:
    if detectable_pct is not None:
        return detectable_pct, ErrorBasis.DETECTABLE_CHANGE
    if any(row.unknown is Unknown.ONE_TRIAL for row in uncertainty.components):
        return None, None  # the rest is small beside what is not known
    return uncertainty.expanded, ErrorBasis.UNCERTAINTY


def _finding(size: float, error: float | None, threshold: float) -> Finding:
    if error is not None and size <= error:
        return Finding.WITHIN_ERROR
    if size <= threshold:
        return Finding.WITHIN_THRESHOLD
    return Finding.ERROR_NOT_KNOWN if error is None else Finding.BEYOND_BOTH
