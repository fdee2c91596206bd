"""Judge one trial: measure it, try every rule, and say what broke the protocol."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

import msgspec
import numpy as np

from acquire.values.records import Trace, TrialContext
from analysis.trial.effort import LEAST_SAMPLES, Effort, prepare
from analysis.trial.faults import CODES, Fault, Severity
from analysis.trial.measures import Measures, measure, nothing_measured
from analysis.trial.number import Kind
from analysis.trial.phases import Phases, find_phases
from analysis.trial.protocol import Protocol
from analysis.trial.rules import examiner, hold, ramp, sensor
from analysis.trial.rules.evidence import Evidence
from analysis.trial.withheld import Reason, Why, Withheld

TRENDS = {"fading", "still-rising"}

RULES = (*ramp.RULES, *hold.RULES, *examiner.RULES, *sensor.RULES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What one trial came to."""

    measures: Measures
    withheld: Withheld
    """Why a measure is None, by its name."""
    faults: tuple[Fault, ...]
    """In the order of `analysis.trial.faults.CODES`, those that reject first, with what caused them."""
    effort: Effort | None = None
    phases: Phases | None = None
    """The prepared trace and its phases, for drawing; None when there was no effort."""
    evidence: Evidence | None = field(default=None, repr=False, compare=False)
    """What the rules looked at, with what they computed; None when there was no effort."""

    @property
    def verdict(self) -> Literal["accepted", "rejected"]:
        """`rejected` when any fault rejects."""
        return "rejected" if self.rejecting else "accepted"

    @property
    def rejecting(self) -> tuple[Fault, ...]:
        """The faults that reject it."""
        return tuple(fault for fault in self.faults if fault.severity is Severity.REJECT)

    def as_json(self) -> dict[str, Any]:
        """Return measures, verdict, faults and what was withheld, as plain JSON values, without a sentence."""
        faults = [
            {
                "code": fault.code,
                "severity": fault.severity.value,
                "measured": fault.measured,
                "limit": fault.limit,
            }
            for fault in self.faults
        ]
        return {
            **msgspec.to_builtins(self.measures),
            "verdict": self.verdict,
            "faults": faults,
            "withheld": {name: str(reason) for name, reason in self.withheld.items()},
        }


def judge(trace: Trace, protocol: Protocol, context: TrialContext | None = None) -> Judgement:
    """Return the measures, faults and verdict of a trace that holds one effort.

    Parameters
    ----------
    trace : Trace
        One effort with some rest before and after; NaN marks lost samples.
    protocol : Protocol
        The limits to judge by.
    context : TrialContext, optional
        Method, examiner and examiner's limit; without it the rules that need them do not speak.

    Returns
    -------
    Judgement

    Examples
    --------
    >>> import numpy as np
    >>> from analysis.trial.protocol import load_protocol
    >>> time = np.arange(0.0, 9.0, 0.001)
    >>> force = np.interp(time, [0.0, 1.0, 2.5, 7.0, 7.2, 9.0], [0.0, 0.0, 200.0, 200.0, 0.0, 0.0])
    >>> good = judge(Trace(time=time, force=force), load_protocol())
    >>> good.verdict, good.measures.plateau_force_n
    ('accepted', 200.0)
    """
    effort = prepare(trace, smoothing_s=protocol.hold.smoothing_s)
    if effort is None:
        there = float(np.count_nonzero(~np.isnan(trace.force)))
        return _no_effort("few-samples", Kind.COUNT, measured=there, limit=float(LEAST_SAMPLES), effort=None)
    highest = float(effort.smooth.max())
    limit = max(protocol.no_effort.noise_sds * effort.noise, protocol.no_effort.force_n)
    if highest <= limit:
        return _no_effort("no-rise", Kind.FORCE, measured=highest, limit=limit, effort=effort)
    phases = find_phases(effort, protocol)
    measures, withheld = measure(effort, phases)
    evidence = Evidence(
        effort=effort, phases=phases, measures=measures, protocol=protocol, context=context or TrialContext()
    )
    found = [fault for rule in RULES if (fault := rule(evidence)) is not None]
    return Judgement(
        measures=measures,
        withheld=withheld,
        faults=_in_order(found),
        effort=effort,
        phases=phases,
        evidence=evidence,
    )


def _in_order(faults: list[Fault]) -> tuple[Fault, ...]:
    """Return the faults by `CODES`, those that reject first, and a trend that made the hold too short before that."""
    rejecting = {fault.code for fault in faults if fault.severity is Severity.REJECT}
    first = rejecting | (TRENDS if "short-hold" in rejecting else set())
    return tuple(sorted(faults, key=lambda fault: (fault.code not in first, CODES.index(fault.code))))


def _no_effort(finding: str, kind: Kind, *, measured: float, limit: float, effort: Effort | None) -> Judgement:
    fault = Fault(
        code="no-effort", severity=Severity.REJECT, measured=measured, limit=limit, kind=kind, finding=finding
    )
    baseline = None if effort is None else effort.zero
    measures, withheld = nothing_measured(Reason(Why.NO_EFFORT), baseline_n=baseline)
    return Judgement(measures=measures, withheld=withheld, faults=(fault,), effort=effort)
