"""How a trial was carried out, in the numbers that the rules look at, whether or not they broke a limit."""

from __future__ import annotations

import msgspec

from analysis.trial.rules.hold import spread_pct, tremor_pct
from analysis.trial.rules.ramp import preload_pct, steepest
from analysis.trial.verdict import Judgement


class Technique(msgspec.Struct, frozen=True, kw_only=True):
    """The technique of one trial; None where the trace cannot show it."""

    ramp_time_s: float | None = None
    jerk_pct_per_s: float | None = None
    """Steepest stretch of the ramp, % of the plateau per second."""
    preload_pct: float | None = None
    """Force before the ramp, % of the plateau."""
    hold_time_s: float | None = None
    hold_spread_pct: float | None = None
    """Standard deviation of the held part about its trend, % of the plateau."""
    hold_trend_pct_per_s: float | None = None
    shake_pct: float | None = None
    """Trembling on the plateau, % of it."""


NAMES = Technique.__struct_fields__


def technique_of(judgement: Judgement) -> Technique:
    """Return the technique of a judged trial.

    Parameters
    ----------
    judgement : Judgement
        Of `analysis.trial.verdict.judge`.

    Returns
    -------
    Technique
        All None where no effort was found.

    Examples
    --------
    >>> from acquire.simulation.efforts import Effort, simulate
    >>> from analysis.trial.protocol import load_protocol
    >>> from analysis.trial.verdict import judge
    >>> done = technique_of(judge(simulate(Effort(preload_pct=8.0), seed=1).trace, load_protocol()))
    >>> round(done.preload_pct)
    9
    """
    evidence, measures = judgement.evidence, judgement.measures
    if evidence is None:
        return Technique()
    found = steepest(evidence)
    return Technique(
        ramp_time_s=measures.ramp_time_s,
        jerk_pct_per_s=None if found is None else found[0],
        preload_pct=preload_pct(evidence),
        hold_time_s=measures.hold_time_s,
        hold_spread_pct=spread_pct(evidence),
        hold_trend_pct_per_s=measures.hold_trend_pct_per_s,
        shake_pct=tremor_pct(evidence),
    )
