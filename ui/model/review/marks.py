r"""What is drawn of a trial: its curve from the onset on, and the marks that name its phases and faults.

::

      | ramp too fast |              a bracket for each fault, in lanes so that no two names meet
              ____plateau____
             /               \       the curve, NaN where samples were lost
      ______/                 \_____
            | ramp || hold |         ramp and hold
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acquire.values.arrays import FloatArray
from analysis.trial.faults import Fault, Severity
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.phases import Phases

RAMP, HOLD = "ramp", "hold"

BEFORE_S, AFTER_S = 1.0, 1.0
"""What is shown of a curve before the onset and after the release."""

LEAST_N = 1.0
"""A scale is at least this high, so that a trace of nothing has one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A named stretch of a curve."""

    name: str
    """`ramp`, `hold` or the code of a fault."""
    start: float
    stop: float
    """Seconds from the onset."""
    rejects: bool = False
    """Whether it is a fault that rejects the trial."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """A trial as it is drawn."""

    time: FloatArray
    """Seconds from the onset, shape (n,); from the first sample where the onset is not known."""
    force: FloatArray
    """Newtons above the zero, shape (n,); NaN where a sample was lost."""
    phases: tuple[Mark, ...] = ()
    """Ramp and hold."""
    faults: tuple[Mark, ...] = ()
    """In the order in which the judgement lists them; one that is about the whole trial spans the effort."""
    plateau_n: float | None = None
    score: tuple[float, float] = (0.0, 0.0)
    """From when to when the plateau force is the mean, s from the onset."""
    span: tuple[float, float] = (0.0, 1.0)
    """What is worth showing, s from the onset."""


def curve_of(judged: JudgedTrial) -> Curve:
    """Return a trial as it is drawn."""
    effort, phases = judged.judgement.effort, judged.judgement.phases
    if effort is None:
        trace = judged.trial.trace()
        return Curve(time=trace.time, force=trace.force, span=_ends(trace.time))
    force = effort.force if effort.lost is None else np.where(effort.lost, np.nan, effort.force)
    if phases is None:
        return Curve(time=effort.time, force=force, span=_ends(effort.time))
    zero = 0.0 if phases.onset is None else phases.onset.time
    time = effort.time - zero
    first, last = _ends(time)
    released = last if phases.release is None else phases.release - zero
    begun = float(time[phases.onset_index])
    return Curve(
        time=time,
        force=force,
        phases=_phases(time, phases, zero, sample=1.0 / effort.rate),
        faults=tuple(_mark(fault, zero, whole=(begun, released)) for fault in judged.faults),
        plateau_n=phases.plateau_force,
        score=(float(time[phases.score_start]), float(time[phases.score_stop - 1])),
        span=(max(first, begun - BEFORE_S), min(last, released + AFTER_S)),
    )


def _ends(time: FloatArray) -> tuple[float, float]:
    return (float(time[0]), float(time[-1])) if len(time) > 1 else (0.0, 1.0)


def _phases(time: FloatArray, phases: Phases, zero: float, *, sample: float) -> tuple[Mark, ...]:
    """Return ramp and hold, which lasts as long as its measure says; without an onset there is no ramp to show."""
    hold = Mark(name=HOLD, start=float(time[phases.hold.start]), stop=float(time[phases.hold.stop - 1]) + sample)
    if phases.onset is None:
        return (hold,)
    return (Mark(name=RAMP, start=0.0, stop=phases.ramp_end - zero), hold)


def _mark(fault: Fault, zero: float, *, whole: tuple[float, float]) -> Mark:
    rejects = fault.severity is Severity.REJECT
    if fault.start is None or fault.stop is None:
        return Mark(name=fault.code, start=whole[0], stop=whole[1], rejects=rejects)
    return Mark(name=fault.code, start=fault.start - zero, stop=fault.stop - zero, rejects=rejects)


def lanes(extents: Sequence[tuple[float, float]]) -> list[int]:
    """Return a lane for each stretch, so that no two in a lane meet: the first that has room, in the order given.

    Examples
    --------
    >>> lanes([(0.0, 5.0), (3.0, 8.0), (6.0, 9.0)])
    [0, 1, 0]
    """
    taken: list[list[tuple[float, float]]] = []
    chosen = []
    for start, stop in extents:
        free = (i for i, lane in enumerate(taken) if all(stop < a or start > b for a, b in lane))
        lane = next(free, len(taken))
        if lane == len(taken):
            taken.append([])
        taken[lane].append((start, stop))
        chosen.append(lane)
    return chosen


def span_of(curves: Sequence[Curve]) -> tuple[float, float]:
    """Return from when to when curves are shown together, s from the onset."""
    return min(c.span[0] for c in curves), max(c.span[1] for c in curves)


def name_span(curve: Curve) -> tuple[float, float]:
    """Return from when to when the curves under this one are named, s: along its hold, where they lie apart."""
    held = [mark for mark in curve.phases if mark.name == HOLD]
    return (held[0].start, held[0].stop) if held else curve.span


def force_at(curve: Curve, seconds: float) -> float | None:
    """Return the force of a curve at a time, N; None where it has none.

    Examples
    --------
    >>> force_at(Curve(time=np.arange(3.0), force=np.array([1.0, 2.0, np.nan])), 1.2)
    2.0
    """
    if not len(curve.time) or not curve.time[0] <= seconds <= curve.time[-1]:
        return None
    level = float(curve.force[np.argmin(np.abs(curve.time - seconds))])
    return None if np.isnan(level) else level


def heights(curves: Sequence[Curve], start: float, stop: float) -> tuple[float, float]:
    """Return the lowest and the highest force that curves have from `start` to `stop`, N; 0 is among them.

    Examples
    --------
    >>> heights([Curve(time=np.arange(3.0), force=np.array([-2.0, 50.0, np.nan]))], 0.0, 2.0)
    (-2.0, 50.0)
    """
    low, high = 0.0, LEAST_N
    for curve in curves:
        shown = curve.force[(curve.time >= start) & (curve.time <= stop)]
        shown = shown[~np.isnan(shown)]
        low = min(low, float(shown.min(initial=0.0)))
        high = max(high, float(shown.max(initial=0.0)))
    return low, high


def framed(low: float, high: float, *, height: float, above: float, below: float) -> tuple[float, float]:
    """Return the ends of a scale that leaves so many pixels free above and below the data.

    Parameters
    ----------
    low, high : float
        Ends of the data.
    height : float
        Pixels in all; the data get a fifth of them at least.
    above, below : float
        Pixels to leave free.

    Examples
    --------
    >>> framed(0.0, 100.0, height=400.0, above=100.0, below=100.0)
    (-50.0, 150.0)
    """
    step = (high - low) / max(height - above - below, 0.2 * height, 1.0)
    return low - step * below, high + step * above
