"""Detectable changes that others have published, for actions of which one has no data of one's own."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from typing import TYPE_CHECKING, Annotated, Literal

import msgspec

from acquire.files.named_file import read_named
from acquire.values.records import Method
from analysis.errors import TableError
from analysis.results.scores import ScoreKind
from analysis.tablefile import read_table

if TYPE_CHECKING:
    from collections.abc import Iterable

Text = Annotated[str, msgspec.Meta(min_length=1)]
Change = Annotated[float, msgspec.Meta(gt=0.0, le=1e9)]
StudyDesign = Literal["same examiner", "between examiners", "not stated"]


class PublishedHead(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a table of published changes says of itself."""

    title: Text
    verified: Text
    """How far the numbers were compared with the publications."""
    caution: tuple[str, ...] = ()


class PublishedChange(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The change that a study found detectable."""

    action: Text
    unit: Literal["%", "N", "kgf", "lbf", "N/kg", "% body weight", "N m", "N m/kg"]
    """% is a share of the mean of the two scores."""
    low: Change | None = None
    high: Change
    """Where the study gives a range; the same twice for one number. Left out where only the upper end is given."""
    mean: Change | None = None
    """Of the study, in the unit of the row: a limit that is no share holds near it only, and for nobody where it is not
    known."""
    statistic: Text
    """What the paper calls it."""
    method: Method
    """What held the sensor."""
    design: StudyDesign
    group: Literal["healthy", "patients", "not stated"]
    population: Text
    n: Annotated[int, msgspec.Meta(ge=2)] | None = None
    setup: str = ""
    source: Text
    caution: str = ""

    def __post_init__(self) -> None:
        if self.low is not None and self.high < self.low:
            raise ValueError(f"high is {self.high}, below low, {self.low}")


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedTable:
    """A table of published changes."""

    head: PublishedHead
    rows: tuple[PublishedChange, ...]


def load_published(name_or_path: str = "published") -> PublishedTable:
    """Return the published changes that come with the program, or those of your own file, by path.

    Raises
    ------
    TableError
        If there is no such file, or it cannot be used; names file, line and column.

    Examples
    --------
    >>> [(row.action, row.high, row.unit) for row in load_published().rows if row.method == "belt"][0]
    ('knee-extension', 24.1, '%')
    """
    folder = resources.files("analysis") / "data" / "reliability"
    return read_named(name_or_path, _read, folder=folder, kind="table of changes", error=TableError, ending=".csv")


def _read(path: Traversable) -> PublishedTable:
    table = read_table(path, PublishedHead, lambda _: PublishedChange)
    return PublishedTable(head=table.head, rows=tuple(line.row for line in table.lines))


NEAR_MEAN = 0.2
"""A limit that is no share is used for scores within this share of the mean of its study: our value. There it is off by
no more, for errors that grow with the force."""


def fitting_changes(
    rows: Iterable[PublishedChange], kind: ScoreKind, design: StudyDesign, *, mean: float
) -> tuple[PublishedChange, ...]:
    """Return the changes published for a kind of score, the nearest study first.

    Action, what held the sensor, and the unit (or per cent) must be the same; a limit in a unit holds where `mean`,
    of the two scores that are compared, lies within `NEAR_MEAN` of the mean of its study. Nearest is the same design,
    then one that is not stated; then healthy persons; then per cent before a unit.

    Examples
    --------
    >>> from analysis.results.quantities import Unit
    >>> kind = ScoreKind("knee-extension", "left", "belt", "ramp-and-hold", Unit.NEWTON)
    >>> [(row.high, row.unit) for row in fitting_changes(load_published().rows, kind, "between examiners", mean=400.0)]
    [(29.26, '%'), (24.1, '%')]
    """

    def distance(row: PublishedChange) -> tuple[int, int, bool]:
        designs = (design, "not stated")
        return (
            designs.index(row.design) if row.design in designs else len(designs),
            ("healthy", "not stated", "patients").index(row.group),
            row.unit != "%",
        )

    fitting = (
        row for row in rows if row.action == kind.action and row.method == kind.method and _holds(row, kind, mean)
    )
    return tuple(sorted(fitting, key=distance))


def _holds(row: PublishedChange, kind: ScoreKind, mean: float) -> bool:
    if row.unit == "%":
        return True
    return row.unit == kind.unit.value and row.mean is not None and abs(mean - row.mean) <= NEAR_MEAN * row.mean
