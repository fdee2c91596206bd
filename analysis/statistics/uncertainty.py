"""The uncertainty of a result after JCGM 100:2008 (the GUM): components, their combination, and a budget of them.

Each source of error is a component: a standard uncertainty, how strongly the result follows it, and how many
degrees of freedom stand behind it. Independent components combine as the root of the sum of squares (5.1.2),
their degrees of freedom by the Welch-Satterthwaite formula (G.4.1), and the coverage factor is that of Student's
t at the next lower whole number. A component that cannot be evaluated stays in the budget and says why; what is
combined is then a lower bound, and `Budget.complete` is false.

Clauses of the guide are named from memory; the formulas are checked on its examples G.4.1 and H.1 and its table G.2.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Iterable, Sequence

import msgspec

INFINITE = None
"""Degrees of freedom of a component that is taken as known: JSON has no infinity."""

ROUNDING = 1e-9
"""Effective degrees of freedom this little below a whole number are that number."""


class Distribution(enum.StrEnum):
    """What is known of an error."""

    NORMAL = "normal"
    STUDENT = "t"
    """A spread of readings (type A)."""
    RECTANGULAR = "rectangular"
    """Limits, and nothing that favours one value between them (4.3.7)."""
    COSINE = "cosine"
    """An angle within limits, which only ever makes the reading too small."""


class Unknown(enum.StrEnum):
    """Why a component cannot be evaluated."""

    NOT_CALIBRATED = "not-calibrated"
    """Newtons come from a nominal sensitivity."""
    LOADS_NOT_ON_RECORD = "loads-not-on-record"
    TWO_LOADS = "two-loads"
    """A line through two loads has no residuals."""
    CALIBRATIONS_DIFFER = "calibrations-differ"
    """The trials of one set were measured with different calibrations."""
    NO_ZERO_BEFORE = "no-zero-before"
    """The trace does not start quiet."""
    NO_ZERO_AFTER = "no-zero-after"
    """The trace ends before the sensor has come to rest."""
    ONE_TRIAL = "one-trial"
    """A spread needs two."""


class Component(msgspec.Struct, frozen=True, kw_only=True):
    """One row of a budget."""

    source: str
    of: str = ""
    """Which of several like quantities it belongs to, such as a side; empty where there is one."""
    value: float | None = None
    """What is known: a standard deviation or the half-width of limits, in `unit`; None when nothing is."""
    unit: str
    distribution: Distribution
    standard: float | None = None
    """Standard uncertainty, in `unit` (that of an angle: the relative error it makes)."""
    sensitivity: float = 1.0
    """How much the result changes for one `unit`."""
    contribution: float | None = None
    """Size of sensitivity times standard uncertainty, in the unit of the result."""
    dof: float | None = INFINITE
    """Degrees of freedom; None for infinitely many."""
    shared: str = ""
    """Components with the same word rest on one estimate of a spread: its degrees of freedom count once."""
    unknown: Unknown | None = None


class Budget(msgspec.Struct, frozen=True, kw_only=True):
    """All components of one result and what they come to."""

    components: tuple[Component, ...]
    combined: float
    """Combined standard uncertainty of the components that are known, in the unit of the result."""
    dof: float | None
    """Effective degrees of freedom; None for infinitely many."""
    level_pct: float
    coverage_factor: float
    expanded: float
    """The result lies within this of the true value with the probability of `level_pct`."""

    @property
    def unknown(self) -> tuple[Component, ...]:
        """The components that could not be evaluated."""
        return tuple(component for component in self.components if component.unknown is not None)

    @property
    def complete(self) -> bool:
        """Whether every component could be evaluated."""
        return not self.unknown


def from_limits(source: str, half_width: float, *, unit: str, sensitivity: float = 1.0) -> Component:
    """Return the component of an error that lies within plus or minus `half_width`, anywhere alike.

    References
    ----------
    JCGM 100:2008, 4.3.7: the standard uncertainty of a rectangular distribution is its half-width over root 3.

    Examples
    --------
    >>> round(from_limits("ruler", 0.005, unit="m", sensitivity=200.0).contribution, 3)
    0.577
    """
    return _known(
        Component(
            source=source,
            value=half_width,
            unit=unit,
            distribution=Distribution.RECTANGULAR,
            standard=half_width / math.sqrt(3.0),
            sensitivity=sensitivity,
        )
    )


def from_readings(
    source: str,
    standard: float,
    *,
    dof: float,
    unit: str,
    value: float | None = None,
    sensitivity: float = 1.0,
    shared: str = "",
) -> Component:
    """Return the component of a standard uncertainty that was found from a spread of readings (type A).

    Parameters
    ----------
    source : str
        What it is.
    standard : float
        The standard uncertainty, in `unit`.
    dof : float
        Its degrees of freedom.
    unit : str
        Unit of `standard` and `value`.
    value : float, optional
        The spread of single readings, where `standard` is that of a mean.
    sensitivity : float
        How much the result changes for one `unit`.
    shared : str
        The word of the estimate, where several components rest on it.

    Examples
    --------
    >>> from_readings("readings", 2.0, dof=4, unit="N", sensitivity=0.3).contribution
    0.6
    """
    return _known(
        Component(
            source=source,
            value=standard if value is None else value,
            unit=unit,
            distribution=Distribution.STUDENT,
            standard=standard,
            sensitivity=sensitivity,
            dof=dof,
            shared=shared,
        )
    )


def from_standard(source: str, standard: float, *, unit: str, sensitivity: float = 1.0) -> Component:
    """Return the component of an error whose standard deviation is taken as known, and normal (type B).

    Examples
    --------
    >>> from_standard("sensors of this kind", 0.3, unit="%", sensitivity=2.0).contribution
    0.6
    """
    return _known(
        Component(
            source=source,
            value=standard,
            unit=unit,
            distribution=Distribution.NORMAL,
            standard=standard,
            sensitivity=sensitivity,
        )
    )


def from_angle(source: str, within_deg: float, *, sensitivity: float) -> Component:
    """Return the component of a sensor that reads F cos(angle), the angle anywhere within limits.

    The reading is too small by the relative error e = 1 / cos(angle) - 1 and is not corrected, so the standard
    uncertainty is the root mean square of e, not its deviation from its own mean.

    Parameters
    ----------
    source : str
        What it is.
    within_deg : float
        Largest angle from the perpendicular, degrees, below 90.
    sensitivity : float
        The result: what a relative error of 1 would change.

    References
    ----------
    JCGM 100:2008, F.2.4.4 (an error that is always of one sign) and F.2.4.5 (one that is not corrected), from
    memory. For an angle uniform within +-a, the mean of e squared is tan(a)/a - 2 ln(tan(pi/4 + a/2))/a + 1,
    which is a^4/20 for small a.

    Examples
    --------
    >>> round(from_angle("pad", 5.0, sensitivity=200.0).contribution, 3)
    0.341
    """
    a = math.radians(within_deg)
    square = math.tan(a) / a - 2.0 * math.log(math.tan(math.pi / 4.0 + a / 2.0)) / a + 1.0 if a > 0.0 else 0.0
    return _known(
        Component(
            source=source,
            value=within_deg,
            unit="deg",
            distribution=Distribution.COSINE,
            standard=math.sqrt(max(square, 0.0)),
            sensitivity=sensitivity,
        )
    )


def unknown(source: str, why: Unknown, *, unit: str, distribution: Distribution) -> Component:
    """Return a component that cannot be evaluated.

    Examples
    --------
    >>> unknown("line", Unknown.NOT_CALIBRATED, unit="N", distribution=Distribution.NORMAL).unknown.value
    'not-calibrated'
    """
    return Component(source=source, unit=unit, distribution=distribution, unknown=why)


def scaled(component: Component, factor: float, *, of: str = "") -> Component:
    """Return the component in a result that is `factor` times as large.

    Examples
    --------
    >>> scaled(from_readings("readings", 2.0, dof=4, unit="N"), -0.3).contribution
    0.6
    """
    return _known(msgspec.structs.replace(component, sensitivity=factor * component.sensitivity, of=of or component.of))


def _known(component: Component) -> Component:
    if component.standard is None:
        return component
    return msgspec.structs.replace(component, contribution=abs(component.sensitivity) * component.standard)


def budget(components: Iterable[Component], *, level_pct: float = 95.0) -> Budget:
    """Return what independent components come to.

    Parameters
    ----------
    components : iterable of Component
        Those that are unknown are kept and do not count.
    level_pct : float
        Probability of the expanded uncertainty, %.

    References
    ----------
    JCGM 100:2008, 5.1.2, G.4.1 and G.6.4.

    Examples
    --------
    >>> rows = [from_readings("spread", 3.0, dof=4, unit="N"), from_limits("ruler", 4.0 * 3**0.5, unit="N")]
    >>> found = budget(rows)
    >>> round(found.combined, 9), round(found.dof, 1), round(found.coverage_factor, 2)
    (5.0, 30.9, 2.04)
    """
    rows = tuple(components)
    known = [row for row in rows if row.contribution is not None]
    combined = math.hypot(*(row.contribution or 0.0 for row in known))
    dof = effective_dof(known)
    factor = coverage_factor(dof, level_pct)
    return Budget(
        components=rows,
        combined=combined,
        dof=dof,
        level_pct=level_pct,
        coverage_factor=factor,
        expanded=factor * combined,
    )


def effective_dof(components: Sequence[Component]) -> float | None:
    """Return the effective degrees of freedom of the sum of components; None for infinitely many.

    References
    ----------
    JCGM 100:2008, G.4.1: Welch-Satterthwaite. It holds for independent estimates, so components that share one
    are added up before.

    Examples
    --------
    >>> effective_dof([from_readings("a", 1.0, dof=5, unit="N"), from_readings("b", 1.0, dof=5, unit="N")])
    10.0
    """
    variances: dict[str, float] = {}
    dofs: dict[str, float | None] = {}
    for number, row in enumerate(components):
        estimate = row.shared or str(number)
        variances[estimate] = variances.get(estimate, 0.0) + (row.contribution or 0.0) ** 2
        dofs[estimate] = row.dof
    total = math.fsum(variances.values())
    below = math.fsum((v / total) ** 2 / dof for key, v in variances.items() if v and (dof := dofs[key]) is not None)
    return 1.0 / below if below else INFINITE


def coverage_factor(dof: float | None, level_pct: float) -> float:
    """Return how many standard uncertainties hold the true value with a probability.

    Parameters
    ----------
    dof : float or None
        Effective degrees of freedom, at least 1, cut to the next lower whole number; None for infinitely many.
    level_pct : float
        The probability, %.

    References
    ----------
    JCGM 100:2008, G.3 and G.4.1, table G.2.

    Examples
    --------
    >>> round(coverage_factor(16.7, 99.0), 2), round(coverage_factor(None, 95.0), 2)
    (2.92, 1.96)
    """
    from scipy.special import ndtri, stdtrit  # noqa: PLC0415 - takes 0.1 s, and a start-up needs none

    below = 0.5 + level_pct / 200.0
    return float(ndtri(below) if dof is None else stdtrit(math.floor(dof + ROUNDING), below))
