"""Which row of a reference table fits a person and an action, or the first reason why none does.

Nothing is extrapolated: a person beyond the ages of a table, or a joint at another angle, has no reference in it.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from acquire.values.records import Method, Person, Side
from analysis.battery.actions import Action, joint_angle
from analysis.references.tables import Effort, ModelRow, ReferenceRow, ReferenceTable
from analysis.references.torque_model import share_of_peak

LEAST_SHARE_OF_PEAK = 0.4
"""Below this share of its peak a torque model is not read: far from the angles where it rests on measurements.

Our limit, no source. It leaves out hip flexion at 90 degrees (14 to 32 % of the peak) and keeps the knee at 90
degrees (43 to 97 %).
"""


class Misfit(enum.Enum):
    """Why no row of a table fits."""

    NO_SUCH_ACTION = "the table does not have the action"
    MAKE_AND_BREAK = "the table is of the other of make and break tests"
    OTHER_POSITION = "the table is of another position"
    SEX_NOT_KNOWN = "the sex of the person is not known"
    OTHER_SEX = "the table does not have the sex"
    AGE_NOT_KNOWN = "the age of the person is not known"
    OTHER_AGE = "the table does not have the age"
    SIDE_NOT_KNOWN = "the side, or which side is dominant, is not known"
    OTHER_SIDE = "the table does not have the side"
    ANGLE_NOT_KNOWN = "the angle of the joint is not known"
    OTHER_ANGLE = "the table does not have the angle of the joint"
    LEVER_ARM_NOT_KNOWN = "the table is of torque, and there is no lever arm"
    MASS_NOT_KNOWN = "the table needs the mass of the person"
    HEIGHT_NOT_KNOWN = "the table needs the height of the person"


class Remark(enum.Enum):
    """What to bear in mind where a row fits."""

    METHOD_NOT_STATED = "whether it was a make or a break test is not stated"
    POSITION_NOT_STATED = "the position is not stated"
    OTHER_INSTRUMENT = "the sensor was held in another way"
    SCORE_NOT_STATED = "which force of a trial counted is not stated"
    DERIVED_SD = "the standard deviation was worked out, not published"


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What was tested, of whom, and how."""

    action: Action
    person: Person
    side: Side | None = None
    method: Method = "hand"
    """What held the sensor."""
    lever_arm_m: float | None = None
    effort: Effort = "make"


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """The row of a table that fits what was tested."""

    table: ReferenceTable
    row: ReferenceRow
    case: Case
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class NoMatch:
    """A table without a row that fits."""

    table: ReferenceTable
    reason: Misfit
    """Of the rows that came furthest."""


def find_row(table: ReferenceTable, case: Case) -> Match | NoMatch:
    """Return the row of a table that fits, or why there is none.

    Parameters
    ----------
    table : ReferenceTable
        Whose rows never overlap, so that at most one fits.
    case : Case
        What was tested; what is not known of it may be asked for by the table.

    Examples
    --------
    >>> from analysis.battery.actions import load_actions
    >>> from analysis.references.tables import load_table
    >>> woman = Person(sex="female", age_years=24.5, mass_kg=61.0)
    >>> hip = Case(action=load_actions()["hip-abduction"], person=woman)
    >>> find_row(load_table("alvarenga-2019"), hip).row.mean
    16.85
    >>> find_row(load_table("anderson-2007"), hip).reason
    <Misfit.NO_SUCH_ACTION: 'the table does not have the action'>
    """
    if table.about.method not in {case.effort, "not stated"}:
        return NoMatch(table=table, reason=Misfit.MAKE_AND_BREAK)
    if table.about.position not in {case.action.position, "not stated"}:
        return NoMatch(table=table, reason=Misfit.OTHER_POSITION)
    rows = table.rows
    for reason, fits in _TESTS:
        fitting = tuple(row for row in rows if fits(row, case))
        if not fitting:
            return NoMatch(table=table, reason=_known_better(reason, rows, case))
        rows = fitting
    missing = _missing(table, case)
    if missing is not None:
        return NoMatch(table=table, reason=missing)
    return Match(table=table, row=rows[0], case=case, remarks=tuple(_remarks(table, case)))


def _same_action(row: ReferenceRow, case: Case) -> bool:
    return row.action == case.action.key


def _same_sex(row: ReferenceRow, case: Case) -> bool:
    return row.sex in {"both", case.person.sex}


def _of_age(row: ReferenceRow, case: Case) -> bool:
    age = case.person.age_years
    if age is None:
        return False
    return row.age_from <= math.floor(age) <= (math.inf if row.age_to is None else row.age_to)


def _same_side(row: ReferenceRow, case: Case) -> bool:
    dominant = case.person.dominant_side
    if row.side in {"any", case.side}:
        return True
    if case.side is None or dominant is None:
        return False
    return row.side == ("dominant" if case.side == dominant else "nondominant")


def _at_angle(row: ReferenceRow, case: Case) -> bool:
    angle = joint_angle(case.action)
    if isinstance(row, ModelRow) and (angle is None or share_of_peak(row, angle) < LEAST_SHARE_OF_PEAK):
        return False
    if row.angle_from_deg is None or row.angle_to_deg is None:
        return True
    return angle is not None and row.angle_from_deg <= angle <= row.angle_to_deg


_TESTS: tuple[tuple[Misfit, Callable[[ReferenceRow, Case], bool]], ...] = (
    (Misfit.NO_SUCH_ACTION, _same_action),
    (Misfit.OTHER_SEX, _same_sex),
    (Misfit.OTHER_AGE, _of_age),
    (Misfit.OTHER_SIDE, _same_side),
    (Misfit.OTHER_ANGLE, _at_angle),
)


def _known_better(reason: Misfit, rows: Iterable[ReferenceRow], case: Case) -> Misfit:
    """Return the reason why none of the rows fits, or that what they ask for is not known."""
    person = case.person
    if reason is Misfit.OTHER_SEX and person.sex is None:
        return Misfit.SEX_NOT_KNOWN
    if reason is Misfit.OTHER_AGE and person.age_years is None:
        return Misfit.AGE_NOT_KNOWN
    by_dominance = person.dominant_side is None and any(row.side.endswith("dominant") for row in rows)
    if reason is Misfit.OTHER_SIDE and (case.side is None or by_dominance):
        return Misfit.SIDE_NOT_KNOWN
    if reason is Misfit.OTHER_ANGLE and joint_angle(case.action) is None:
        return Misfit.ANGLE_NOT_KNOWN
    return reason


def _missing(table: ReferenceTable, case: Case) -> Misfit | None:
    """Return what the unit of a table needs and is not known."""
    model = table.about.kind == "torque model"
    if table.about.unit.needs_lever_arm and not _is_known(case.lever_arm_m):
        return Misfit.LEVER_ARM_NOT_KNOWN
    if (table.about.unit.needs_mass or model) and not _is_known(case.person.mass_kg):
        return Misfit.MASS_NOT_KNOWN
    if model and not _is_known(case.person.height_m):
        return Misfit.HEIGHT_NOT_KNOWN
    return None


def _is_known(value: float | None) -> bool:
    return value is not None and value > 0.0


def _remarks(table: ReferenceTable, case: Case) -> Iterable[Remark]:
    about = table.about
    if about.method == "not stated":
        yield Remark.METHOD_NOT_STATED
    if about.position == "not stated":
        yield Remark.POSITION_NOT_STATED
    if about.instrument != {"hand": "hand-held", "belt": "belt"}[case.method]:
        yield Remark.OTHER_INSTRUMENT
    if about.score == "not stated":
        yield Remark.SCORE_NOT_STATED
    if about.kind == "mean" and about.sd == "derived":
        yield Remark.DERIVED_SD
