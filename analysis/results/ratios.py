"""Ratios within a joint, such as external to internal rotation, beside what was published of them.

A published range is given as what it is. It fits a reading when contraction, quantity, posture, sex and age do;
whatever does not, or was not stated, is named. No isokinetic range is held against an isometric reading: where
only such ranges are known, none fits, and `RatioResult.fitting` is empty.
"""

from __future__ import annotations

import enum
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Annotated, Literal

import msgspec

from acquire.files.named_file import read_named
from acquire.files.tomlfile import parse_toml
from acquire.values.records import Person, Side
from analysis.errors import SettingsError
from analysis.results.action_result import ActionResult, Quantity
from analysis.results.missing import Missing, lacking
from analysis.results.quotient import quotient
from analysis.results.settings import ResultSettings
from analysis.statistics.uncertainty import Budget, budget

Ratio = Annotated[float, msgspec.Meta(gt=0.0)]


class Misfit(enum.StrEnum):
    """Why a published range does not fit a reading."""

    ISOKINETIC = "isokinetic"
    CONTRACTION_NOT_STATED = "contraction-not-stated"
    OTHER_QUANTITY = "other-quantity"
    """Torques against forces, or the reverse, or not stated."""
    OTHER_POSTURE = "other-posture"
    POSTURE_NOT_KNOWN = "posture-not-known"
    OTHER_SEX = "other-sex"
    """Or the person's sex is not known."""
    OTHER_AGE = "other-age"
    """Or the person's age is not known."""
    NO_PERSONS = "no-persons"
    """A mean, or a range of means: it does not say how far persons spread."""


class PublishedRatio(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What was published of a ratio; the head of the file explains the words."""

    low: Ratio
    high: Ratio
    statistic: Literal["mean +- SD", "range", "mean", "pooled means"]
    contraction: Literal["isometric", "isokinetic", "not-stated"]
    quantity: Literal["torque", "force", "not-stated"]
    posture: str
    posture_is: Literal["as-tested", "other", "not-known"]
    people: str
    source: str
    status: Literal["verified", "derived"]
    sex: Literal["female", "male"] | None = None
    """None for both."""
    age_low_years: float | None = None
    age_high_years: float | None = None
    """None for any age, or for one that was not stated."""

    def __post_init__(self) -> None:
        if self.low > self.high:
            raise ValueError(f"low must not be above high, got {self.low} and {self.high}")


class Pair(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Two actions of one joint."""

    key: str
    joint: str
    numerator: str
    """Key of an action."""
    denominator: str
    published: tuple[PublishedRatio, ...] = ()


class Pairs(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A file of pairs."""

    pair: tuple[Pair, ...]


class Beside(msgspec.Struct, frozen=True, kw_only=True):
    """A published range beside a reading."""

    published: PublishedRatio
    misfits: tuple[Misfit, ...]
    """Empty when it fits."""


class RatioResult(msgspec.Struct, frozen=True, kw_only=True):
    """One ratio of one side."""

    key: str
    joint: str
    side: Side | None
    numerator: str
    denominator: str
    published: tuple[Beside, ...]
    quantity: Quantity | None = None
    """Torque where both actions have one, force otherwise: forces compare only where the pad sits alike."""
    value: float | None = None
    uncertainty: Budget | None = None
    missing: tuple[Missing, ...] = ()

    @property
    def fitting(self) -> tuple[PublishedRatio, ...]:
        """The published ranges that fit the reading; empty when none does."""
        return tuple(beside.published for beside in self.published if not beside.misfits)


def load_pairs(name_or_path: str = "joints") -> tuple[Pair, ...]:
    """Return the pairs of a file.

    Raises
    ------
    SettingsError
        If there is no such file, a key is unknown or missing, or a value is out of its range.

    Examples
    --------
    >>> [pair.key for pair in load_pairs()]
    ['shoulder-rotation', 'shoulder-sagittal', 'elbow', 'knee', 'hip-frontal']
    """
    folder = resources.files("analysis") / "data" / "ratios"
    return read_named(name_or_path, _read, folder=folder, kind="file of ratios", error=SettingsError)


def _read(path: Traversable) -> tuple[Pair, ...]:
    return parse_toml(path, Pairs, error=SettingsError).pair


def ratio(
    pair: Pair,
    side: Side | None,
    numerator: ActionResult | None,
    denominator: ActionResult | None,
    *,
    person: Person,
    settings: ResultSettings,
) -> RatioResult:
    """Return one ratio of one side, beside what was published of it.

    Parameters
    ----------
    pair : Pair
        The two actions.
    side : str or None
        Which side.
    numerator, denominator : ActionResult or None
        Their results on that side; None for one that was not tested.
    person : Person
        Sex and age, where they are known.
    settings : ResultSettings
        Which value is the score of a set, and the coverage.
    """
    found = (
        quotient(numerator, denominator, of=settings.score.of, names=(pair.numerator, pair.denominator))
        if numerator and denominator
        else None
    )
    quantity = None if found is None else found.quantity
    return RatioResult(
        key=pair.key,
        joint=pair.joint,
        side=side,
        numerator=pair.numerator,
        denominator=pair.denominator,
        published=tuple(
            Beside(published=each, misfits=misfits(each, quantity=quantity, person=person)) for each in pair.published
        ),
        quantity=quantity,
        value=None if found is None else found.value,
        uncertainty=None if found is None else budget(found.components, level_pct=settings.coverage.level_pct),
        missing=_missing(numerator, denominator, quantity),
    )


def misfits(published: PublishedRatio, *, quantity: Quantity | None, person: Person) -> tuple[Misfit, ...]:
    """Return why a published range does not fit an isometric reading; empty when it does.

    Examples
    --------
    >>> knee = next(pair for pair in load_pairs() if pair.key == "knee")
    >>> misfits(knee.published[0], quantity=Quantity.TORQUE, person=Person())[0].value
    'isokinetic'
    """
    applies = {
        Misfit.ISOKINETIC: published.contraction == "isokinetic",
        Misfit.CONTRACTION_NOT_STATED: published.contraction == "not-stated",
        Misfit.OTHER_QUANTITY: quantity is not None and published.quantity != quantity.value,
        Misfit.OTHER_POSTURE: published.posture_is == "other",
        Misfit.POSTURE_NOT_KNOWN: published.posture_is == "not-known",
        Misfit.OTHER_SEX: published.sex is not None and published.sex != person.sex,
        Misfit.OTHER_AGE: not _age_fits(published, person.age_years),
        Misfit.NO_PERSONS: published.statistic in {"mean", "pooled means"},
    }
    return tuple(misfit for misfit, there in applies.items() if there)


def _age_fits(published: PublishedRatio, age: float | None) -> bool:
    low, high = published.age_low_years, published.age_high_years
    if low is None and high is None:
        return True
    # "20-29 years" holds until the thirtieth birthday
    return age is not None and (low is None or age >= low) and (high is None or age < high + 1.0)


def _missing(
    numerator: ActionResult | None, denominator: ActionResult | None, quantity: Quantity | None
) -> tuple[Missing, ...]:
    both = [result for result in (numerator, denominator) if result is not None]
    tested = [result for result in both if result.best is not None]
    return lacking(
        {
            Missing.OTHER_ACTION: len(both) < 2,
            Missing.ACCEPTED_TRIAL: len(tested) < len(both),
            Missing.FORCE: quantity is None and len(tested) == 2,
            Missing.LEVER_ARM: quantity is Quantity.FORCE,
            Missing.SAME_METHOD: len({result.method for result in tested}) == 2,
        }
    )
