"""The verdict of a trial as it is seen from three metres: one to three words, and what to do."""

from __future__ import annotations

from dataclasses import dataclass

from acquire.values.units import ForceUnit, from_newtons
from analysis.trial.verdict import Judgement
from ui.words.fault_text import fault_name
from ui.words.words import Words

SHOWN_S = 4.0
"""A verdict stands in the place of the cue for so long, or until the next press."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GiantVerdict:
    """What is written in the place of the cue."""

    big: str
    """One to three words, or the force."""
    below: str
    """That it is accepted, or what to do."""
    accepted: bool
    force_n: float | None
    """What the trial gave, N."""

    @property
    def colour(self) -> str:
        """The name of a colour of the theme; what it means stands in words beside it."""
        return "good" if self.accepted else "warn"


def giant_verdict(judgement: Judgement, words: Words, unit: ForceUnit, *, hidden: bool = False) -> GiantVerdict:
    """Return the verdict of a trial in one to three words.

    Parameters
    ----------
    judgement : Judgement
        Of the trial.
    words : Words
        The language.
    unit : ForceUnit
        Of the force.
    hidden : bool
        Whether the person tested must see no force.

    Examples
    --------
    >>> from acquire.simulation.efforts import FAULTY, simulate
    >>> from analysis.trial.protocol import load_protocol
    >>> from analysis.trial.verdict import judge
    >>> hasty = judge(simulate(FAULTY["fast-ramp"], seed=1).trace, load_protocol())
    >>> verdict = giant_verdict(hasty, Words(), ForceUnit.NEWTON)
    >>> verdict.big, verdict.below
    ('TOO FAST', 'build up more slowly')
    """
    measured = judgement.measures.plateau_force_n
    force_n = judgement.measures.peak_force_n if measured is None else measured
    if judgement.verdict == "rejected":
        code = judgement.rejecting[0].code
        big, below = words(f"verdict.big.{code}"), words(f"verdict.do.{code}")
        return GiantVerdict(big=big, below=below, accepted=False, force_n=force_n)
    nothing_to_show = hidden or force_n is None
    shown = "" if force_n is None else f"{round(from_newtons(force_n, unit))} {unit.symbol}"
    big = words("verdict.accepted_big") if nothing_to_show else shown
    warned = [fault_name(fault.code, words) for fault in judgement.faults[:1]]
    below = words("verdict.warned", what=warned[0]) if warned else words("verdict.accepted")
    return GiantVerdict(big=big, below=below, accepted=True, force_n=force_n)
