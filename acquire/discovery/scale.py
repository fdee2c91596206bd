"""From numbers to newtons: the sign from the push, the size from a known weight, a unit or the user; else a guess.

A guess is never silent: the profile then says that its sensitivity is unknown.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.discovery.findings import Confidence, Finding
from acquire.discovery.push import Answer
from acquire.discovery.words import figures, said
from acquire.values.arrays import FloatArray
from acquire.values.units import ForceUnit

GUESSED_PUSH_N = 100.0
"""A firm push with one hand, within a factor of three (common practice, no source)."""
USUAL_RATED_N = 500.0
"""Of hand-held sensors (common practice, no source)."""
SAME_UNIT = 0.1
"""A weight hung by hand shows a unit when it comes so near."""
HOW = "run 'ramphold check' with --weights"
UNIT_WORDS = {"n": ForceUnit.NEWTON, "kg": ForceUnit.KILOGRAM_FORCE, "kgf": ForceUnit.KILOGRAM_FORCE}
UNIT_WORDS |= {"lb": ForceUnit.POUND_FORCE, "lbs": ForceUnit.POUND_FORCE, "lbf": ForceUnit.POUND_FORCE}
"""What may stand in a column beside the number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """A known weight on the sensor."""

    load_n: float
    change: float
    """Level under it, less the quiet level."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """What the numbers of the force column mean."""

    name: str
    """Of the column: counts, n or value."""
    counts_per_newton: Finding
    known: bool


def scale(
    *,
    integer: bool,
    answer: Answer,
    load: Load | None,
    given: float | None,
    unit: ForceUnit | None,
    unit_why: str,
    beside: float | None = None,
) -> Scale:
    """Return what the numbers mean.

    Parameters
    ----------
    integer : bool
        They are written without a point, so that they are counts of a converter.
    answer : Answer
        What they did at the push.
    load : Load, optional
        What they did under a known weight.
    given : float, optional
        Counts a newton, as the user says.
    unit : ForceUnit, optional
        Of numbers with a point.
    unit_why : str
        Where the unit is from.
    beside : float, optional
        Counts that go with one of a column beside, which has a point.
    """
    sign, sign_why = _sign(answer, load)
    if given is not None:
        name = "counts" if integer else "n" if given == 1.0 else "value"
        return _scale(name, sign * given, Confidence.GIVEN, f"as you said; {sign_why}")
    if load is not None and load.change:
        return _weighed(load, sign, sign_why, integer=integer)
    if unit is not None and not integer:
        size = 1.0 / unit.newtons
        name = "n" if unit is ForceUnit.NEWTON else "value"
        return _scale(name, sign * size, Confidence.LIKELY, f"the numbers are {unit.symbol} {unit_why}; {sign_why}")
    if beside is not None:
        return _beside(abs(beside), sign, sign_why, unit, unit_why)
    return _guess(answer, sign, sign_why, integer=integer)


def _sign(answer: Answer, load: Load | None) -> tuple[float, str]:
    if answer.pushed is not None:
        rises = answer.change > 0
        return (1.0, "it rises with a push") if rises else (-1.0, "it falls with a push, hence the minus")
    if load is not None and load.change:
        return float(np.sign(load.change)), "the sign is that of the weight, since no push was seen"
    return 1.0, "the sign is a guess, since no push was seen"


def _scale(name: str, value: float, confidence: Confidence, why: str, *, known: bool = True) -> Scale:
    finding = Finding(key="counts_per_newton", value=value, confidence=confidence, why=why)
    return Scale(name=name, counts_per_newton=finding, known=known)


def _weighed(load: Load, sign: float, sign_why: str, *, integer: bool) -> Scale:
    size = abs(load.change) / load.load_n
    why = f"{said(load.change, sign=True)} under {said(load.load_n)} N, one weight only; {sign_why}"
    unit = None if integer else next((u for u in ForceUnit if abs(size * u.newtons - 1.0) <= SAME_UNIT), None)
    if unit is ForceUnit.NEWTON:
        return _scale("n", sign, Confidence.SURE, f"{why}; so the numbers are newtons")
    if unit is not None:
        return _scale("value", sign / unit.newtons, Confidence.SURE, f"{why}; so the numbers are {unit.symbol}")
    name = "counts" if integer else "value"
    return _scale(name, sign * figures(size, 4), Confidence.LIKELY, why)


def _beside(size: float, sign: float, sign_why: str, unit: ForceUnit | None, unit_why: str) -> Scale:
    """Return the sensitivity by a column beside the counts that holds the same with a point."""
    counts = figures(size / (unit or ForceUnit.NEWTON).newtons, 4)
    told = f"{said(size)} counts go with one of the column beside"
    if unit is None:
        why = f"{told}, taken as newtons, but nothing says so: {HOW}; {sign_why}"
        return _scale("counts", sign * counts, Confidence.GUESS, why, known=False)
    return _scale("counts", sign * counts, Confidence.LIKELY, f"{told}, which is {unit.symbol} {unit_why}; {sign_why}")


def _guess(answer: Answer, sign: float, sign_why: str, *, integer: bool) -> Scale:
    if not integer:
        why = f"numbers with a point are taken as newtons, but nothing says so: {HOW}; {sign_why}"
        return _scale("value", sign, Confidence.GUESS, why, known=False)
    size = figures(abs(answer.change) / GUESSED_PUSH_N, 2)
    if not size:
        return _scale("counts", sign * 1000.0, Confidence.GUESS, f"nobody told: {HOW}; {sign_why}", known=False)
    why = f"nobody told: {HOW}; until then your push counts as {GUESSED_PUSH_N:g} N; {sign_why}"
    return _scale("counts", sign * size, Confidence.GUESS, why, known=False)


def slope(values: FloatArray, newtons: FloatArray) -> float:
    """Return how far one column goes for one of another, by the middle of all pairs far apart.

    Examples
    --------
    >>> slope(np.array([0.0, 84.0, 168.0]), np.array([0.0, 1.0, 2.0]))
    84.0
    """
    low, high = np.quantile(newtons, [0.1, 0.9])
    top, bottom = newtons >= high, newtons <= low
    run = float(np.median(newtons[top]) - np.median(newtons[bottom]))
    return float(np.median(values[top]) - np.median(values[bottom])) / run if run else 0.0


def rated(given: float | None, *, counts_per_newton: float, limit_counts: int | None) -> Finding:
    """Return the rated force: given, or a usual one that the converter can show."""
    if given is not None:
        return Finding(key="rated_force_n", value=given, confidence=Confidence.GIVEN, why="as you said")
    why = "cannot be measured: look at the sensor's label, and write it here"
    most = float("inf") if limit_counts is None else 0.9 * limit_counts / abs(counts_per_newton)
    if most < USUAL_RATED_N:
        return Finding(
            key="rated_force_n",
            value=figures(most, 2),
            confidence=Confidence.GUESS,
            why=f"{why}; the converter ends here",
        )
    return Finding(key="rated_force_n", value=USUAL_RATED_N, confidence=Confidence.GUESS, why=why)
