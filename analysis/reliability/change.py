"""What has changed since an earlier session, and whether it is more than the error of two scores.

Whose error it is comes with the answer: of one's own data first, published second; without either the change is
told and not judged. Errors of strength grow with it (a share of the force, not so many newtons), so that a change is
judged by the logarithm of later over earlier, or in per cent; a published limit in newtons holds near the mean of its
study only.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Iterable
from dataclasses import dataclass

from analysis.reliability.published import PublishedChange, StudyDesign, fitting_changes
from analysis.reliability.retest import Design, Reliability
from analysis.results.scores import Score

LEVER_ARM_PCT = 5.0
"""Lever arms that differ by more make forces incomparable: our limit, 1.5 cm in 30. Torques stay comparable."""


class Misfit(enum.Enum):
    """Why two scores cannot be compared."""

    OTHER_PERSON = "another person"
    OTHER_ACTION = "another action"
    OTHER_SIDE = "another side, or one is not known"
    OTHER_METHOD = "the sensor was held in another way"
    OTHER_PROTOCOL = "another protocol"
    OTHER_SCORE = "another score of a trial or of the set"
    OTHER_UNIT = "another unit"
    OTHER_LEVER_ARM = "the pad was elsewhere: compare torques"
    LEVER_ARM_NOT_KNOWN = "a torque without its lever arm"


class Verdict(enum.Enum):
    """Whether a change is more than the error of two scores."""

    BEYOND = "beyond the detectable change"
    WITHIN = "within the detectable change"
    UNDECIDED = "within the range of the detectable change"
    NOT_JUDGED = "no detectable change is known"


class Remark(enum.Enum):
    """What to bear in mind."""

    OTHER_EXAMINER = "the examiners differ, the detectable change is of one examiner"
    EXAMINER_NOT_KNOWN = "who examined is not known of both scores"
    OTHER_DESIGN = "the examiner is the same, the detectable change is between examiners"
    NOT_HEALTHY = "the detectable change is of patients"


@dataclass(frozen=True, slots=True, kw_only=True)
class DetectableChange:
    """The change that the error of two scores exceeds in 5 of 100 cases, and whose it is."""

    low: float
    high: float
    """The same twice unless a range was published; in the unit of the scores, for a change in this direction: of 100 N
    to 125 N and of 125 N to 100 N is the same change."""
    own: Reliability | None = None
    """The study of one's own data that it is from."""
    published: PublishedChange | None = None
    """The row of a publication that it is from."""
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A change between two scores."""

    earlier: Score
    later: Score
    difference: float
    """Later less earlier, in the unit of the scores."""
    pct: float
    """Of the earlier score."""
    verdict: Verdict
    detectable: DetectableChange | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NotComparable:
    """Two scores that cannot be compared."""

    earlier: Score
    later: Score
    reasons: tuple[Misfit, ...]


def misfits(one: Score, other: Score) -> tuple[Misfit, ...]:
    """Return all reasons why two scores cannot be compared; none when they can.

    A force depends on where the pad was, a torque does not.

    Examples
    --------
    >>> import datetime as dt, msgspec
    >>> day = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
    >>> first = Score(person="P-01", when=day, action="hip-flexion", side="left", value=210.0)
    >>> [reason.name for reason in misfits(first, msgspec.structs.replace(first, side="right", method="belt"))]
    ['OTHER_SIDE', 'OTHER_METHOD']
    """
    checks = {
        Misfit.OTHER_PERSON: not one.person or one.person != other.person,
        Misfit.OTHER_ACTION: one.action != other.action,
        Misfit.OTHER_SIDE: one.side is None or one.side != other.side,
        Misfit.OTHER_METHOD: one.method != other.method,
        Misfit.OTHER_PROTOCOL: one.protocol != other.protocol,
        Misfit.OTHER_SCORE: (one.trial, one.of) != (other.trial, other.of),
        Misfit.OTHER_UNIT: one.unit is not other.unit,
        Misfit.OTHER_LEVER_ARM: _pad_moved(one, other),
        Misfit.LEVER_ARM_NOT_KNOWN: any(
            score.unit.needs_lever_arm and score.lever_arm_m is None for score in (one, other)
        ),
    }
    return tuple(reason for reason, applies in checks.items() if applies)


def change(
    earlier: Score,
    later: Score,
    *,
    own: Iterable[Reliability] = (),
    published: Iterable[PublishedChange] = (),
) -> Change | NotComparable:
    """Return the change between two scores, judged by the nearest detectable change that is known.

    Parameters
    ----------
    earlier, later : Score
        Of one person, on two occasions.
    own : iterable of Reliability
        One's own studies: `analysis.reliability.retest`. One of the same kind of score comes first, if it has
        numbers.
    published : iterable of PublishedChange
        Rows of `analysis.reliability.published`, taken when there is none of one's own.

    Raises
    ------
    ValueError
        If `later` is not later, or a score is not positive.

    References
    ----------
    Weir, J. P. (2005), Quantifying test-retest reliability using the intraclass correlation coefficient and the
    SEM, Journal of Strength and Conditioning Research 19, 231-240: the minimal detectable change.

    Examples
    --------
    >>> import datetime as dt, msgspec
    >>> march, june = (dt.datetime(2026, month, 1, tzinfo=dt.UTC) for month in (3, 6))
    >>> first = Score(person="P-01", when=march, action="hip-flexion", side="left", value=210.0)
    >>> found = change(first, msgspec.structs.replace(first, when=june, value=231.0))
    >>> found.difference, found.pct, found.verdict.value
    (21.0, 10.0, 'no detectable change is known')
    """
    if later.when <= earlier.when:
        raise ValueError(f"later must be later than {earlier.when.isoformat()}, got {later.when.isoformat()}")
    if not (earlier.value > 0.0 and later.value > 0.0):
        raise ValueError(f"scores must be positive, got {earlier.value} and {later.value} {later.unit}")
    if reasons := misfits(earlier, later):
        return NotComparable(earlier=earlier, later=later, reasons=reasons)
    difference = later.value - earlier.value
    detectable = _own(earlier, later, own) or _published(earlier, later, published)
    return Change(
        earlier=earlier,
        later=later,
        difference=difference,
        pct=100.0 * difference / earlier.value,
        verdict=_verdict(abs(difference), detectable),
        detectable=detectable,
    )


def _pad_moved(one: Score, other: Score) -> bool:
    """Return whether forces are of different lever arms, as far as these are known."""
    if one.unit.needs_lever_arm or one.lever_arm_m is None or other.lever_arm_m is None:
        return False
    longer = max(one.lever_arm_m, other.lever_arm_m)
    return abs(one.lever_arm_m - other.lever_arm_m) > LEVER_ARM_PCT / 100.0 * longer


def _verdict(size: float, detectable: DetectableChange | None) -> Verdict:
    if detectable is None:
        return Verdict.NOT_JUDGED
    if size > detectable.high:
        return Verdict.BEYOND
    return Verdict.WITHIN if size <= detectable.low else Verdict.UNDECIDED


def _design(earlier: Score, later: Score) -> Design:
    """Return which design of a study fits; the stricter one when an examiner is not known."""
    same = earlier.examiner is not None and earlier.examiner == later.examiner
    return Design.SAME_EXAMINER if same else Design.BETWEEN_EXAMINERS


def _own(earlier: Score, later: Score, studies: Iterable[Reliability]) -> DetectableChange | None:
    """Return the change detectable by one's own data, of the fitting design first."""
    wanted = _design(earlier, later)
    fitting = (study for study in studies if study.kind == later.kind)
    for study in sorted(fitting, key=lambda one: one.design is not wanted):
        if study.numbers is not None:
            # a gain and a loss by the same factor are the same change
            size = abs(earlier.value * math.expm1(math.copysign(study.numbers.mdc95_log, later.value - earlier.value)))
            remarks = _about_examiners(earlier, later, study.design.value)
            return DetectableChange(low=size, high=size, own=study, remarks=remarks)
    return None


def _published(earlier: Score, later: Score, rows: Iterable[PublishedChange]) -> DetectableChange | None:
    """Return the change detectable by the nearest publication."""
    mean = (earlier.value + later.value) / 2.0
    fitting = fitting_changes(rows, later.kind, _design(earlier, later).value, mean=mean)
    if not fitting:
        return None
    row = fitting[0]
    unit = mean / 100.0 if row.unit == "%" else 1.0
    remarks = _about_examiners(earlier, later, row.design)
    if row.group == "patients":
        remarks += (Remark.NOT_HEALTHY,)
    return DetectableChange(low=(row.low or 0.0) * unit, high=row.high * unit, published=row, remarks=remarks)


def _about_examiners(earlier: Score, later: Score, design: StudyDesign) -> tuple[Remark, ...]:
    if earlier.examiner is None or later.examiner is None:
        return (Remark.EXAMINER_NOT_KNOWN,)
    if earlier.examiner != later.examiner and design == "same examiner":
        return (Remark.OTHER_EXAMINER,)
    if earlier.examiner == later.examiner and design == "between examiners":
        return (Remark.OTHER_DESIGN,)
    return ()
