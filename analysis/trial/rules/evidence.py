"""What a rule may look at."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np

from acquire.values.records import TrialContext
from analysis.trial.effort import Effort
from analysis.trial.faults import Fault
from analysis.trial.measures import Measures
from analysis.trial.phases import Phases
from analysis.trial.protocol import Protocol


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One measured effort, the protocol it is judged by, and what it was."""

    effort: Effort
    phases: Phases
    measures: Measures
    protocol: Protocol
    context: TrialContext
    answers: dict[Callable[..., Any], Any] = field(default_factory=dict, init=False, repr=False, compare=False)
    """What `once` has computed of it."""

    def percent(self, newtons: float) -> float:
        """Return a force as a percentage of the plateau force."""
        return 100.0 * newtons / self.phases.plateau_force

    def at(self, index: int) -> float:
        """Return the time of a sample, s; the last one's when there is no such sample."""
        return float(self.effort.time[min(index, len(self.effort.time) - 1)])

    @property
    def hold_span(self) -> tuple[float, float]:
        """When the hold begins and ends, s."""
        return self.at(self.phases.hold.start), self.at(self.phases.hold.stop - 1)

    def lost_in_hold(self) -> int:
        """Return how many samples are missing in the hold."""
        if self.effort.lost is None:
            return 0
        return int(np.count_nonzero(self.effort.lost[self.phases.hold.start : self.phases.hold.stop]))


Rule = Callable[[Evidence], Fault | None]

Answer = TypeVar("Answer")


def once(compute: Callable[[Evidence], Answer]) -> Callable[[Evidence], Answer]:
    """Compute something of an effort once, however many rules, and its technique, ask for it.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> asked = []
    >>> once_only = once(lambda evidence: asked.append("computed") or 7)
    >>> effort = SimpleNamespace(answers={})
    >>> once_only(effort), once_only(effort), asked
    (7, 7, ['computed'])
    """

    @functools.wraps(compute)
    def asked(evidence: Evidence) -> Answer:
        if compute not in evidence.answers:
            evidence.answers[compute] = compute(evidence)
        answer: Answer = evidence.answers[compute]
        return answer

    return asked
