"""How a reading stands to the row of a reference table that fits it.

What is said depends on what was published. A mean gives a share of that mean. A standard deviation between
persons gives a z score and a percentile too, and only where make or break, position and deviation were
published with it: a number worked out or not stated would look surer than it is. The interval of a pooled mean
says where the mean lies, so a reading is inside it or not, and healthy persons are often not.

References
----------
Crawford, J. R. and Howell, D. C. (1998), Comparing an individual's test score against norms derived from small
samples, Clinical Neuropsychologist 12, 482-486: the percentile.
"""

from __future__ import annotations

import enum
import math
from dataclasses import dataclass

from analysis.battery.actions import joint_angle
from analysis.references.lookup import Match, Remark
from analysis.references.tables import MeanRow, ModelRow, PooledRow
from analysis.references.torque_model import peak_torque, share_of_peak
from analysis.results.quantities import in_unit
from analysis.statistics.distributions import t_share_below


class WhyNoZ(enum.Enum):
    """Why there is no z score and no percentile."""

    NO_SD = "no standard deviation between persons was published"
    DERIVED_SD = "the standard deviation was worked out, not published"
    SPREAD_OF_PEAK = "the spread is that of the peak of a model, in few persons"
    POOLED_MEAN = "the table has the mean of studies, not the spread of persons"
    METHOD_NOT_STATED = "whether it was a make or a break test is not stated"
    POSITION_NOT_STATED = "the position is not stated"


class IntervalPlace(enum.Enum):
    """Where a reading lies beside an interval."""

    BELOW = "below"
    INSIDE = "inside"
    ABOVE = "above"


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A reading beside the reference that fits it; None where the table does not support the number."""

    match: Match
    value: float
    """The reading in the unit of the table."""
    mean: float | None = None
    """Of the group, for a person of this size where the table goes by size."""
    sd: float | None = None
    """Spread between persons about that mean; not good for a z score where `why_no_z` says so."""
    pct_of_mean: float | None = None
    z: float | None = None
    percentile: float | None = None
    """The share of the group expected below the reading, %, if its strength is normally distributed."""
    why_no_z: WhyNoZ | None = None
    mean_low: float | None = None
    mean_high: float | None = None
    """The confidence interval of the mean, or of the pooled mean."""
    place: IntervalPlace | None = None
    """Beside the interval of a pooled mean."""


def standing(match: Match, force_n: float) -> Standing:
    """Return how a force stands to the row that fits it.

    Parameters
    ----------
    match : Match
        What `analysis.references.lookup.find_row` found.
    force_n : float
        The force, N.

    Raises
    ------
    ValueError
        If the force is not positive and finite, or the match lacks what its table needs.

    Examples
    --------
    >>> from acquire.values.records import Person
    >>> from analysis.battery.actions import load_actions
    >>> from analysis.references.lookup import Case, find_row
    >>> from analysis.references.tables import load_table
    >>> man = Person(sex="male", age_years=22.0, mass_kg=75.0, height_m=1.76)
    >>> knee = Case(action=load_actions()["knee-extension"], person=man, lever_arm_m=0.36)
    >>> found = standing(find_row(load_table("anderson-2007"), knee), 450.0)
    >>> round(found.value, 1), round(found.mean, 1), round(found.pct_of_mean, 1), found.z
    (162.0, 179.9, 90.1, None)
    """
    if not (math.isfinite(force_n) and force_n > 0.0):
        raise ValueError(f"force_n must be positive, got {force_n} N")
    unit, case, row = match.table.about.unit, match.case, match.row
    value = in_unit(force_n, unit, lever_arm_m=case.lever_arm_m, mass_kg=case.person.mass_kg)
    if isinstance(row, PooledRow):
        return _beside_interval(match, row, value)
    if isinstance(row, ModelRow):
        return _beside_model(match, row, value)
    return _beside_mean(match, row, value)


def percentile_of(z: float, n: int) -> float:
    """Return the share of a population below a reading, %, judged from a sample of it.

    With few persons the mean and the deviation of the sample are themselves unsure, so the tails are wider
    than those of a normal distribution; with many the two are the same.

    Parameters
    ----------
    z : float
        Deviations above the mean of the sample.
    n : int
        Persons in the sample, at least 2.

    References
    ----------
    Crawford and Howell (1998): t = (x - mean) / (SD sqrt((n + 1) / n)), with n - 1 degrees of freedom.

    Examples
    --------
    >>> round(percentile_of(-2.0, 10), 1), round(percentile_of(-2.0, 10_000), 1)
    (4.4, 2.3)
    """
    return 100.0 * t_share_below(z * math.sqrt(n / (n + 1.0)), n - 1)


def _beside_mean(match: Match, row: MeanRow, value: float) -> Standing:
    why = _why_no_z(match, row)
    z = (value - row.mean) / row.sd if why is None and row.sd is not None else None
    return Standing(
        match=match,
        value=value,
        mean=row.mean,
        sd=row.sd,
        pct_of_mean=100.0 * value / row.mean,
        z=z,
        percentile=percentile_of(z, row.n) if z is not None and row.n is not None else None,
        why_no_z=why,
        mean_low=row.mean_low,
        mean_high=row.mean_high,
    )


def _why_no_z(match: Match, row: MeanRow) -> WhyNoZ | None:
    if row.sd is None:
        return WhyNoZ.NO_SD
    reasons = {
        Remark.DERIVED_SD: WhyNoZ.DERIVED_SD,
        Remark.METHOD_NOT_STATED: WhyNoZ.METHOD_NOT_STATED,
        Remark.POSITION_NOT_STATED: WhyNoZ.POSITION_NOT_STATED,
    }
    return next((why for remark, why in reasons.items() if remark in match.remarks), None)


def _beside_model(match: Match, row: ModelRow, value: float) -> Standing:
    """Compare with the torque of the model at the angle of the joint; its spread is that of the peak, no more."""
    person, angle = match.case.person, joint_angle(match.case.action)
    if person.mass_kg is None or person.height_m is None or angle is None:
        raise ValueError(f"a torque model needs mass, height and angle, got {person} at {angle} degrees")
    share = share_of_peak(row, angle)
    mean = share * peak_torque(row.c1, mass_kg=person.mass_kg, height_m=person.height_m)
    spread = None if row.c1_sd is None else mean * row.c1_sd / row.c1
    why = WhyNoZ.NO_SD if spread is None else WhyNoZ.SPREAD_OF_PEAK
    return Standing(match=match, value=value, mean=mean, sd=spread, pct_of_mean=100.0 * value / mean, why_no_z=why)


def _beside_interval(match: Match, row: PooledRow, value: float) -> Standing:
    if value < row.low:
        place = IntervalPlace.BELOW
    else:
        place = IntervalPlace.ABOVE if value > row.high else IntervalPlace.INSIDE
    return Standing(
        match=match,
        value=value,
        why_no_z=WhyNoZ.POOLED_MEAN,
        mean_low=row.low,
        mean_high=row.high,
        place=place,
    )
