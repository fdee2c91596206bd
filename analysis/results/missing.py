"""What a result lacks: each stands for a number that is not there, or for a caution with one that is."""

from __future__ import annotations

import enum
from collections.abc import Mapping


class Missing(enum.StrEnum):
    """What would have to be known, or done, for the result to be whole."""

    ACTION = "action"
    SIDE = "side"
    ACCEPTED_TRIAL = "accepted-trial"
    """Every trial was rejected or set aside."""
    LONG_EFFORT = "long-effort"
    """An accepted trial is shorter than the stretch whose mean is the score, and so has none."""
    SECOND_TRIAL = "second-trial"
    """One trial shows no spread: how well it repeats is not known."""
    FORCE = "force"
    """A force above 0 once the limb's weight is taken off."""
    LEVER_ARM = "lever-arm"
    """Of one trial at least; without it there is no torque."""
    BELT = "belt"
    """A trial that counts was above what its examiner can hold: the force may have been more."""
    MASS = "mass"
    HEIGHT = "height"
    SEX = "sex"
    AGE = "age"
    DOMINANT_SIDE = "dominant-side"
    CALIBRATION = "calibration"
    """Newtons come from a nominal sensitivity."""
    CURRENT_CALIBRATION = "current-calibration"
    """It had expired on the day."""
    LARGER_LOAD = "larger-load"
    """A force is above every load that the calibration was made with."""
    ZERO_BEFORE = "zero-before"
    ZERO_AFTER = "zero-after"
    OTHER_SIDE = "other-side"
    REFERENCE_SIDE = "reference-side"
    """The index compares with a side that nobody has named."""
    OTHER_ACTION = "other-action"
    """The ratio's other action was not tested, or none of its trials counts."""
    SAME_METHOD = "same-method"
    """The two were held differently, one by hand and one by a belt."""


def lacking(absent: Mapping[Missing, bool]) -> tuple[Missing, ...]:
    """Return what is lacking, in the order given.

    Examples
    --------
    >>> lacking({Missing.MASS: True, Missing.HEIGHT: False})
    (<Missing.MASS: 'mass'>,)
    """
    return tuple(missing for missing, is_absent in absent.items() if is_absent)
