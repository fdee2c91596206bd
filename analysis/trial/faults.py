"""A fault: one named departure of a trial from the protocol."""

from __future__ import annotations

import enum
from dataclasses import dataclass
from typing import NamedTuple

from acquire.values.units import ForceUnit, from_newtons


class Severity(enum.StrEnum):
    """What a fault does to a trial."""

    WARN = "warn"
    """The trial counts, and the fault is said."""
    REJECT = "reject"
    """The trial does not count."""


CODES = (
    "no-effort",
    "preload",
    "countermovement",
    "fast-ramp",
    "slow-ramp",
    "jerk",
    "stepped-ramp",
    "examiner-pushed",
    "gave-way",
    "shake",
    "overshoot",
    "still-rising",
    "fading",
    "unsteady-hold",
    "short-hold",
    "zero-shift",
    "clipped",
    "lost-samples",
    "examiner-limit",
    "slow-sensor",
)
"""Every code there is, in the order in which faults are listed: what happened before what follows from it."""


class SaidForce(NamedTuple):
    """A force in a sentence; as text it is in newtons.

    Examples
    --------
    >>> force = SaidForce(250.0)
    >>> f"{force}", force.written(ForceUnit.POUND_FORCE)
    ('250 N', '56.2 lbf')
    """

    newtons: float
    digits: int = 0
    """After the point, in newtons; the other units are larger and get one more."""
    signed: bool = False

    def written(self, unit: ForceUnit) -> str:
        """Return the force with its unit."""
        digits = self.digits + (unit is not ForceUnit.NEWTON)
        sign = "+" if self.signed else ""
        return f"{from_newtons(self.newtons, unit):{sign}.{digits}f} {unit.symbol}"

    def __str__(self) -> str:
        """Return the force in newtons."""
        return self.written(ForceUnit.NEWTON)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One departure from the protocol, with what was measured and the limit."""

    code: str
    severity: Severity
    measured: float
    limit: float
    """In the unit of the limit in the protocol."""
    text: str
    """One plain sentence: the number, the limit, and what the examiner should do next."""
    start: float | None = None
    stop: float | None = None
    """The stretch of the trace that shows it, s; None when it is about the whole."""
    forces: tuple[SaidForce, ...] = ()
    """The forces that the text names, in the order in which they stand there."""

    def said(self, unit: ForceUnit) -> str:
        """Return the text with its forces in a unit."""
        text = self.text
        for force in self.forces:
            text = text.replace(f"{force}", force.written(unit), 1)
        return text


def apart(measured: float, limit: float, *, digits: int = 0) -> tuple[str, str]:
    """Return a number and its limit with as many digits after the point as it takes to tell them apart.

    Parameters
    ----------
    measured, limit : float
        In one unit.
    digits : int
        After the point, at least; four more at most. Zeros at the end of the limit are left out.

    Examples
    --------
    >>> apart(115.3, 115.0), apart(3.46, 3.5, digits=1), apart(7.0, 5.0)
    (('115.3', '115'), ('3.46', '3.5'), ('7', '5'))
    """
    said = f"{measured:.{digits}f}"
    for places in range(digits, digits + 5):
        said = f"{measured:.{places}f}"
        if float(said) != limit:
            break
    written = f"{limit:.4f}".rstrip("0").rstrip(".")
    return said, written


class Grade(NamedTuple):
    """A limit that was passed, and what that does to the trial."""

    severity: Severity
    limit: float


def graded(measured: float, *, warn: float, reject: float) -> Grade | None:
    """Return the severity of a value with upper limits, and the limit it passed; None when it keeps both.

    Examples
    --------
    >>> graded(7.0, warn=5.0, reject=10.0)
    Grade(severity=<Severity.WARN: 'warn'>, limit=5.0)
    >>> graded(4.0, warn=5.0, reject=10.0) is None
    True
    """
    if measured > reject:
        return Grade(Severity.REJECT, reject)
    if measured > warn:
        return Grade(Severity.WARN, warn)
    return None


def graded_below(measured: float, *, warn: float, reject: float) -> Grade | None:
    """Return the severity of a value with lower limits, and the limit it fell short of; None when it keeps both.

    Examples
    --------
    >>> graded_below(2.5, warn=3.5, reject=3.0)
    Grade(severity=<Severity.REJECT: 'reject'>, limit=3.0)
    """
    if measured < reject:
        return Grade(Severity.REJECT, reject)
    if measured < warn:
        return Grade(Severity.WARN, warn)
    return None
