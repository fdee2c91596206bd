"""A fault: one named departure of a trial from the protocol."""

from __future__ import annotations

import enum
from dataclasses import dataclass
from typing import NamedTuple

from analysis.trial.number import Kind, Number


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


class Variants(NamedTuple):
    """The names of the sentences of a code that has several."""

    finding: tuple[str, ...] = ("",)
    advice: tuple[str, ...] = ("",)


VARIANTS = {
    "no-effort": Variants(finding=("few-samples", "no-rise")),
    "fast-ramp": Variants(finding=("onset", "middle")),
    "short-hold": Variants(finding=("recorded", "held", "held-all"), advice=("cut", "sank", "stopped")),
    "lost-samples": Variants(finding=("ramp", "hold", "both")),
}
"""Every name that `Fault.finding` and `Fault.advice` may have; other codes have one sentence of each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One departure from the protocol, in numbers; `ui/words` makes its sentences.

    Examples
    --------
    >>> print(Fault(code="fast-ramp", severity=Severity.REJECT, measured=0.32, limit=0.5, kind=Kind.SECONDS))
    fast-ramp: measured 0.32 s, limit 0.5 s
    """

    code: str
    severity: Severity
    measured: float
    limit: float
    """In the unit of the limit in the protocol."""
    kind: Kind
    """What both are numbers of."""
    values: tuple[Number, ...] = ()
    """What else its sentences name."""
    finding: str = ""
    advice: str = ""
    """Which sentence, where a code has several for what was found, or for what to do about it (`VARIANTS`)."""
    start: float | None = None
    stop: float | None = None
    """The stretch of the trace that shows it, s; None when it is about the whole."""

    @property
    def names_force(self) -> bool:
        """Whether a force is among its numbers."""
        return Kind.FORCE in {self.kind, *(each.kind for each in self.values)}

    def __str__(self) -> str:
        """Return the code and its numbers, for a log or a notebook."""
        numbers = Number("measured", self.measured, self.kind), Number("limit", self.limit, self.kind)
        return f"{self.code}: {', '.join(str(each) for each in (*numbers, *self.values))}"


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
