"""Reliability from one's own sessions: the same persons again, by the same examiner or by another.

Each kind of score (action, side, method, protocol, unit) is a study of its own: limbs of one person are no
independent subjects, and other sides or methods have other errors. A person takes part who was tested again soon
enough that nothing should have changed; whoever is left out is named with the reason.
"""

from __future__ import annotations

import datetime as dt
import enum
import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from analysis.results.scores import Score, ScoreKind
from analysis.statistics.agreement import LimitsOfAgreement, limits_of_agreement
from analysis.statistics.icc import Icc, IccForm, intraclass_correlations
from analysis.statistics.measurement_error import (
    StandardError,
    minimal_detectable_change,
    standard_error,
    standard_error_from_icc,
    within_subject_cv_pct,
)
from analysis.statistics.ratings import checked_ratings, mean_squares, subjects_differ

LEAST_DF = 8
"""With fewer degrees of freedom the upper 95 % limit of the standard error is more than twice the error found
(chi squared: 2.04 times with 7, 1.92 with 8), too unsure to judge a change by. Two occasions need 9 persons."""

MOST_DAYS = 14.0
"""Between the first and the last occasion of a retest: common practice, no source."""


class Design(enum.Enum):
    """What the ratings of a study differ by."""

    SAME_EXAMINER = "same examiner"
    """Occasions."""
    BETWEEN_EXAMINERS = "between examiners"


class WhyExcluded(enum.Enum):
    """Why a person takes no part in a study."""

    NO_CODE = "the person has no code, so that nobody is known again"
    TOO_FEW_OCCASIONS = "the person was not tested often enough"
    TOO_FAR_APART = "the occasions are too far apart"
    EXAMINERS_DIFFER = "the occasions are by different examiners, or one is not known"
    EXAMINER_MISSING = "one of the examiners did not test the person"


class WhyWithheld(enum.Enum):
    """Why there are no numbers."""

    TOO_FEW_PERSONS = "too few persons were tested again"
    NO_DIFFERENCE = "the persons do not differ"
    NOT_POSITIVE = "a person's mean is not above 0"


@dataclass(frozen=True, slots=True, kw_only=True)
class ExcludedPerson:
    """A person who takes no part, and why."""

    person: str
    reason: WhyExcluded


@dataclass(frozen=True, slots=True, kw_only=True)
class ReliabilityNumbers:
    """What a study found, in the unit of its kind where not said otherwise."""

    mean: float
    icc: dict[IccForm, Icc]
    sem: StandardError
    """From the error of the analysis of variance."""
    sem_from_icc: float
    """SD sqrt(1 - ICC(2,1))."""
    mdc95: float
    """From `sem`, by Student's t."""
    mdc95_pct: float
    """As a share of the mean."""
    mdc95_log: float
    """The same of the natural logarithms: a change from one score to another of exp(this) or more is beyond it, in
    either direction. Errors of strength grow with it, so that this holds for weak and strong alike."""
    cv_pct: float
    """Within persons, by root mean square."""
    agreement: LimitsOfAgreement | None
    """Of the first rating less the second; None for more than two ratings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reliability:
    """One study."""

    kind: ScoreKind
    design: Design
    ratings: tuple[str, ...]
    """What the columns are: "1", "2" for occasions, or the codes of the examiners."""
    persons: tuple[str, ...]
    """Who takes part."""
    values: tuple[tuple[float, ...], ...]
    """Scores of each person, one for each of `ratings`, in the unit of the kind."""
    excluded: tuple[ExcludedPerson, ...]
    numbers: ReliabilityNumbers | None
    withheld: WhyWithheld | None
    """Why there are no numbers."""


def retest_reliability(
    scores: Iterable[Score], *, occasions: int = 2, most_days: float = MOST_DAYS
) -> tuple[Reliability, ...]:
    """Return the reliability of each kind of score over the first occasions of each person.

    Parameters
    ----------
    scores : iterable of Score
        At most one of a kind for a person and a time; any order.
    occasions : int
        How many of each person are compared, at least 2.
    most_days : float
        Between a person's first and last compared occasion.

    Raises
    ------
    ValueError
        If a person has two scores of a kind at the same time, or `occasions` is below 2.

    Examples
    --------
    >>> first = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
    >>> forces = {"P-01": (210.0, 220.0), "P-02": (150.0, 148.0)}
    >>> scores = [
    ...     Score(person=who, when=first + dt.timedelta(days=day), examiner="X01", action="hip-flexion", value=force)
    ...     for who, both in forces.items()
    ...     for day, force in enumerate(both)
    ... ]
    >>> (study,) = retest_reliability(scores)
    >>> study.persons, study.withheld
    (('P-01', 'P-02'), <WhyWithheld.TOO_FEW_PERSONS: 'too few persons were tested again'>)
    """
    if occasions < 2:
        raise ValueError(f"occasions must be at least 2, got {occasions}")

    def choose(found: Sequence[Score]) -> list[Score] | WhyExcluded:
        chosen = list(found[:occasions])
        if len(chosen) < occasions:
            return WhyExcluded.TOO_FEW_OCCASIONS
        if _days(chosen) > most_days:
            return WhyExcluded.TOO_FAR_APART
        if any(one.examiner is None or one.examiner != other.examiner for one, other in pairwise(chosen)):
            return WhyExcluded.EXAMINERS_DIFFER
        return chosen

    names = tuple(str(number + 1) for number in range(occasions))
    return tuple(_study(kind, Design.SAME_EXAMINER, names, found, choose) for kind, found in _by_kind(scores))


def examiner_reliability(
    scores: Iterable[Score], examiners: Sequence[str], *, most_days: float = MOST_DAYS
) -> tuple[Reliability, ...]:
    """Return the reliability of each kind of score between examiners who tested the same persons.

    ICC(2,1) is the form for it: the examiners stand for others like them, and their agreement counts.

    Parameters
    ----------
    scores : iterable of Score
        At most one of a kind for a person and a time; the first of each examiner counts.
    examiners : sequence of str
        The codes of two or more examiners, the columns of the study.
    most_days : float
        Between a person's first and last compared score.

    Raises
    ------
    ValueError
        If a person has two scores of a kind at the same time, or `examiners` are not two or more different ones.

    Examples
    --------
    >>> began, hour = dt.datetime(2026, 3, 1, 9, 0, tzinfo=dt.UTC), dt.timedelta(hours=1)
    >>> forces = {"P-01": (210.0, 205.0), "P-02": (150.0, 158.0)}
    >>> scores = [
    ...     Score(person=who, when=began + turn * hour, examiner=f"X{turn}", action="hip-flexion", value=force)
    ...     for who, both in forces.items()
    ...     for turn, force in enumerate(both, start=1)
    ... ]
    >>> (study,) = examiner_reliability(scores, ["X1", "X2"])
    >>> study.values
    ((210.0, 205.0), (150.0, 158.0))
    """
    if len(examiners) < 2 or len(set(examiners)) < len(examiners):
        raise ValueError(f"examiners must be two or more different ones, got {', '.join(examiners) or 'none'}")

    def choose(found: Sequence[Score]) -> list[Score] | WhyExcluded:
        first = {one.examiner: one for one in reversed(found)}
        if not set(examiners) <= first.keys():
            return WhyExcluded.EXAMINER_MISSING
        chosen = [first[examiner] for examiner in examiners]
        return WhyExcluded.TOO_FAR_APART if _days(chosen) > most_days else chosen

    names = tuple(examiners)
    return tuple(_study(kind, Design.BETWEEN_EXAMINERS, names, found, choose) for kind, found in _by_kind(scores))


_DAY = dt.timedelta(days=1)


def _days(chosen: Sequence[Score]) -> float:
    times = [one.when for one in chosen]
    return (max(times) - min(times)) / _DAY


def _by_kind(scores: Iterable[Score]) -> Iterator[tuple[ScoreKind, dict[str, list[Score]]]]:
    """Yield the scores of each kind, by person and in the order of time."""
    kinds: defaultdict[ScoreKind, defaultdict[str, list[Score]]] = defaultdict(lambda: defaultdict(list))
    for score in sorted(scores, key=lambda one: one.when):
        known = kinds[score.kind][score.person]
        if score.person and known and known[-1].when == score.when:
            raise ValueError(
                f"a person must have one score of a kind at a time, got two of {score.action} for {score.person}"
                f" at {score.when.isoformat()}"
            )
        known.append(score)
    yield from sorted(kinds.items(), key=lambda item: tuple(str(part) for part in item[0]))


def _study(
    kind: ScoreKind,
    design: Design,
    names: tuple[str, ...],
    people: dict[str, list[Score]],
    choose: Callable[[Sequence[Score]], list[Score] | WhyExcluded],
) -> Reliability:
    chosen: dict[str, list[Score]] = {}
    excluded: list[ExcludedPerson] = []
    for person, found in sorted(people.items()):
        taken = choose(found) if person else WhyExcluded.NO_CODE
        if isinstance(taken, WhyExcluded):
            excluded.append(ExcludedPerson(person=person, reason=taken))
        else:
            chosen[person] = taken
    values = tuple(tuple(one.value for one in taken) for taken in chosen.values())
    numbers = _numbers([list(row) for row in values], len(names))
    return Reliability(
        kind=kind,
        design=design,
        ratings=names,
        persons=tuple(chosen),
        values=values,
        excluded=tuple(excluded),
        numbers=None if isinstance(numbers, WhyWithheld) else numbers,
        withheld=numbers if isinstance(numbers, WhyWithheld) else None,
    )


def _numbers(rows: list[list[float]], k: int) -> ReliabilityNumbers | WhyWithheld:
    if (len(rows) - 1) * (k - 1) < LEAST_DF:
        return WhyWithheld.TOO_FEW_PERSONS
    values = checked_ratings(rows)
    if not subjects_differ(values, mean_squares(values)):
        return WhyWithheld.NO_DIFFERENCE
    if not (values.mean(axis=1) > 0.0).all():
        return WhyWithheld.NOT_POSITIVE
    icc, sem, mean = intraclass_correlations(values), standard_error(values), float(values.mean())
    change = minimal_detectable_change(sem.value, sem.df)
    logarithms = standard_error(np.log(values)) if (values > 0.0).all() else None
    return ReliabilityNumbers(
        mean=mean,
        icc=icc,
        sem=sem,
        sem_from_icc=standard_error_from_icc(values, icc["ICC(2,1)"].value),
        mdc95=change,
        mdc95_pct=100.0 * change / mean,
        mdc95_log=math.nan if logarithms is None else minimal_detectable_change(logarithms.value, logarithms.df),
        cv_pct=within_subject_cv_pct(values),
        agreement=limits_of_agreement(values[:, 0], values[:, 1]) if k == 2 else None,
    )
