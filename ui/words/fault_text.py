"""The sentences of a fault: what was found, and what to do about it.

Both lie in `fault.toml` by the code, and by `Fault.finding` and `Fault.advice` where a code has several.
"""

from __future__ import annotations

from acquire.values.units import ForceUnit
from analysis.trial.faults import Fault
from analysis.trial.number import Number
from ui.words.shown import gaps
from ui.words.words import Words


def fault_name(code: str, words: Words) -> str:
    """Return what a fault is called.

    Examples
    --------
    >>> fault_name("shake", Words())
    'tremor'
    """
    return words(f"fault.name.{code}")


def fault_sentence(fault: Fault, words: Words, unit: ForceUnit) -> str:
    """Return what was found and what to do about it, with forces in a unit.

    Examples
    --------
    >>> from analysis.trial.faults import Severity
    >>> from analysis.trial.number import Kind
    >>> seen = Fault(code="preload", severity=Severity.WARN, measured=7.2, limit=5.0, kind=Kind.PERCENT)
    >>> fault_sentence(seen, Words(), ForceUnit.NEWTON).partition(": ")[0]
    '7 % of the plateau force was on before the ramp began, more than 5 %'
    """
    found, advised = fault_finding(fault, words, unit), fault_advice(fault, words)
    return words("fault.sentence", finding=found, advice=advised)


def fault_finding(fault: Fault, words: Words, unit: ForceUnit) -> str:
    """Return what was found, without a full stop."""
    return words(_key("finding", fault.code, fault.finding), **_numbers(fault, unit))


def fault_advice(fault: Fault, words: Words) -> str:
    """Return what to do about it, without a full stop; no force is named in it."""
    return words(_key("advice", fault.code, fault.advice), **_numbers(fault, ForceUnit.NEWTON))


def _key(what: str, code: str, variant: str) -> str:
    return ".".join(part for part in ("fault", what, code, variant) if part)


def _numbers(fault: Fault, unit: ForceUnit) -> dict[str, object]:
    """Return what fills the gaps; the limit of a fall is negative, and the sentence says by how much it fell."""
    sign = -1.0 if fault.limit < 0.0 else 1.0
    measured = Number("measured", sign * fault.measured, fault.kind)
    return gaps((*fault.values, measured, Number("limit", sign * fault.limit, fault.kind)), unit)
