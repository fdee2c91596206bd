"""A reference table: what a study found, of whom, how it was measured, and how sure that is.

A table is a CSV file (`analysis.tablefile`). The keys of its head are the fields of `About`, its columns the
fields of one of the three kinds of rows. What a text does not state is written as ``not stated``, and keeps a
reading from being held against it too closely.

One age is a number of completed years: a person of 29.9 years is 29, and 18-29 is followed by 30-39.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from importlib import resources
from itertools import combinations
from math import inf
from typing import TYPE_CHECKING, Annotated, Literal

import msgspec

from acquire.files.named_file import known_names, read_named
from analysis.errors import TableError
from analysis.results.quantities import Unit
from analysis.tablefile import Line, read_table

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

NotStated = Literal["not stated"]
Effort = Literal["make", "break"]
"""Whether the person pushes against what holds still, or is overcome: a break test reads more."""

Finite = Annotated[float, msgspec.Meta(ge=-1e9, le=1e9)]
Positive = Annotated[float, msgspec.Meta(gt=0.0, le=1e9)]
Angle = Annotated[float, msgspec.Meta(ge=-180.0, le=180.0)]
Years = Annotated[int, msgspec.Meta(ge=0, le=130)]
Text = Annotated[str, msgspec.Meta(min_length=1)]


class About(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename="kebab"):
    """What a table says of itself."""

    title: Text
    source: Text
    """Whom to cite."""
    population: Text
    """Who was measured, and how many."""
    verified: Text
    """How far the numbers were compared with the publication, and by what."""
    kind: Literal["mean", "pooled mean", "torque model"]
    """What a row holds: see `MeanRow`, `PooledRow` and `ModelRow`."""
    unit: Unit
    method: Effort | NotStated
    """Make or break test."""
    instrument: Literal["hand-held", "belt", "fixed", "several"] | NotStated
    """What held the sensor: the examiner, a strap, a machine."""
    position: Literal["supine", "seated", "prone", "side-lying", "standing"] | NotStated
    """How the person lay or sat."""
    score: Literal["plateau", "best-1s", "best-0.5s", "peak"] | NotStated = "not stated"
    """A `TrialScore`: which force of a trial counted: the peak is 3 to 6 % above the mean of a hold."""
    score_of: Literal["best", "mean", "median"] | NotStated = "not stated"
    """A `ScoreOf`: which of a person's trials counted."""
    sd: Literal["published", "derived"] = "published"
    """Whether the standard deviation between persons was published, or worked out from something that was."""
    caution: tuple[str, ...] = ()
    """What to bear in mind, one sentence each."""


class Fits(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Whom and what a row is about."""

    action: Text
    sex: Literal["female", "male", "both"]
    age_from: Years
    age_to: Years | None = None
    """The last year that belongs to it; left out where the publication names no end."""
    side: Literal["dominant", "nondominant", "left", "right", "any"] = "any"
    angle_from_deg: Angle | None = None
    angle_to_deg: Angle | None = None
    """Between which angles of the joint; left out where the publication does not state it."""
    n: Annotated[int, msgspec.Meta(ge=2)] | None = None
    """How many persons the row rests on."""
    note: str = ""

    def __post_init__(self) -> None:
        if (self.angle_from_deg is None) != (self.angle_to_deg is None):
            raise ValueError("angle_from_deg and angle_to_deg go together")
        _check_order(self, "age_from", "age_to")
        _check_order(self, "angle_from_deg", "angle_to_deg")


def _check_order(row: Fits, low: str, high: str) -> None:
    """Refuse a range that ends before it begins."""
    begin, end = getattr(row, low), getattr(row, high)
    if begin is not None and end is not None and end < begin:
        raise ValueError(f"{high} is {end}, below {low}, {begin}")


class MeanRow(Fits, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The mean of a group, with its spread when that was published."""

    mean: Positive
    sd: Positive | None = None
    """Between persons."""
    mean_low: Finite | None = None
    mean_high: Finite | None = None
    """The confidence interval of the mean: where the mean lies, not where persons lie."""

    def __post_init__(self) -> None:
        Fits.__post_init__(self)
        if self.sd is not None and self.n is None:
            raise ValueError("a row with an sd needs its n, the number of persons")
        _check_order(self, "mean_low", "mean_high")


class PooledRow(Fits, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The confidence interval of a mean pooled over studies: for plausibility, no range of healthy persons."""

    low: Finite
    high: Finite

    def __post_init__(self) -> None:
        Fits.__post_init__(self)
        _check_order(self, "low", "high")


class ModelRow(Fits, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The torque of a joint as a function of its angle: see `analysis.references.torque_model`."""

    c1: Positive
    c1_sd: Positive | None = None
    """Between persons; left out where it rests on too few."""
    c2_per_rad: Positive
    c3_rad: Finite


ReferenceRow = MeanRow | PooledRow | ModelRow
_ROWS: dict[str, type[ReferenceRow]] = {"mean": MeanRow, "pooled mean": PooledRow, "torque model": ModelRow}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceTable:
    """One table."""

    name: str
    about: About
    rows: tuple[ReferenceRow, ...]


def load_table(name_or_path: str) -> ReferenceTable:
    """Return a table that comes with the program, by name, or one of your own, by path.

    Raises
    ------
    TableError
        If there is no such file, or it cannot be used; names file, line and column. Two rows that fit the same
        person are an error too.

    Examples
    --------
    >>> table = load_table("alvarenga-2019")
    >>> table.about.unit, table.rows[0].action, table.rows[0].mean
    (<Unit.PERCENT_BODY_WEIGHT: '% body weight'>, 'hip-flexion', 38.54)
    """
    return read_named(name_or_path, _read, folder=_folder(), kind="reference table", error=TableError, ending=".csv")


def shipped_tables() -> tuple[ReferenceTable, ...]:
    """Return the tables that come with the program.

    Examples
    --------
    >>> [table.name for table in shipped_tables()]
    ['alvarenga-2019', 'anderson-2007', 'sarabon-2021']
    """
    return tuple(load_table(name) for name in known_names(_folder(), ending=".csv"))


def _read(path: Traversable) -> ReferenceTable:
    table = read_table(path, About, lambda about: _ROWS[about.kind])
    if table.head.kind == "torque model" and table.head.unit is not Unit.NEWTON_METRE:
        raise TableError(f"{path}: a torque model is in N m, not in {table.head.unit}")
    _check_overlap(path, table.lines)
    rows = tuple(line.row for line in table.lines)
    return ReferenceTable(name=path.name.removesuffix(".csv"), about=table.head, rows=rows)


def _folder() -> Traversable:
    return resources.files("analysis") / "data" / "references"


def _check_overlap(path: Traversable, lines: Iterable[Line[ReferenceRow]]) -> None:
    """Refuse two rows that may fit the same person: a reading would be held against whichever comes first."""
    for one, other in combinations(lines, 2):
        if _overlap(one.row, other.row):
            raise TableError(
                f"{path}, line {other.number}: fits the same persons as line {one.number}:"
                " part them by sex, age, side or angle, or leave one out"
            )


def _overlap(one: ReferenceRow, other: ReferenceRow) -> bool:
    return (
        one.action == other.action
        and (one.sex == other.sex or "both" in {one.sex, other.sex})
        and _sides_meet(one.side, other.side)
        and one.age_from <= _end(other.age_to)
        and other.age_from <= _end(one.age_to)
        and _angles_meet(one, other)
    )


def _sides_meet(one: str, other: str) -> bool:
    """Return whether a limb may be both: the left one may be the dominant one."""
    opposites = ({"left", "right"}, {"dominant", "nondominant"})
    return {one, other} not in opposites


def _angles_meet(one: ReferenceRow, other: ReferenceRow) -> bool:
    """Return whether an angle is within both; a shared end belongs to both."""
    one_from, other_from = one.angle_from_deg, other.angle_from_deg
    return (-inf if one_from is None else one_from) <= _end(other.angle_to_deg) and (
        -inf if other_from is None else other_from
    ) <= _end(one.angle_to_deg)


def _end(value: float | None) -> float:
    return inf if value is None else value
