"""Where the phases of an effort lie: onset, ramp, hold, release.

The hold is found first, since it is the surest. From its beginning the ramp is followed down to half of
the plateau, below that a near-constant stretch is looked for (preload: the ramp starts after it), and
from there the onset is placed. The release is the last time the force falls through half of the plateau.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.trial.effort import Effort
from analysis.trial.hold import Hold, longest_hold
from analysis.trial.onset import Onset, find_onset
from analysis.trial.preload import preload_level
from analysis.trial.protocol import Protocol
from analysis.trial.windows import LEVEL_BLOCK_S, best_window, block_means, crossing, first_true, last_true

HALF = 0.5
"""The release, and the foot of the ramp that the onset is looked for below, are at this share of the plateau."""

STEEP_PER_S = 0.25
"""Ramp and release are steeper than this share of the plateau per second; no hold is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Phases:
    """The phases of one effort; samples are indices into its arrays."""

    hold: Hold
    plateau_force: float
    """Mean of the best stretch inside the hold, N."""
    score_start: int
    score_stop: int
    """The samples [start, stop) whose mean the plateau force is."""
    onset: Onset | None
    """None when the trace begins within the effort."""
    onset_index: int
    """The first sample of the effort: 0 when the onset is not in the trace."""
    baseline: float
    """The level that the ramp leaves, N above zero: not 0 after a near-constant preload."""
    ramp_stop: int
    """The first sample of the effort at the top of the ramp."""
    ramp_end: float
    """When the smoothed force meets the top of the ramp, s."""
    level_start: int
    level_stop: int
    """The held part [start, stop): from the first to the last moment at the top level, without the last of the
    ramp and the first of the release. A hold that is broken in the middle is still one held part."""
    release: float | None
    """When the force falls through half of the plateau for the last time, s; None when the trace ends before."""
    release_index: int
    """The first sample after the release; the length of the trace when there is none."""
    peak_index: int

    def crossed(self, effort: Effort, share: float) -> float:
        """Return when the force last rises, on the way to the end of the ramp, through a share of the rise, s."""
        level = self.baseline + share * (self.plateau_force - self.baseline)
        high = first_true(effort.fine >= level, self.ramp_stop)
        low = last_true(effort.fine < level, 0, self.ramp_stop if high is None else high)
        return crossing(effort.time, effort.fine, level, 0 if low is None else min(low + 1, len(effort.fine) - 1))

    def rise_time(self, effort: Effort, low: float, high: float) -> float:
        """Return how long the force takes from one share of the rise to another, s; not below 0."""
        return max(0.0, self.crossed(effort, high) - self.crossed(effort, low))


def find_phases(effort: Effort, protocol: Protocol) -> Phases:
    """Return the phases of an effort that rises above the level of no effort.

    Parameters
    ----------
    effort : Effort
        A prepared trace; its highest smoothed force must be above 0.
    protocol : Protocol
        Its limits of ramp, hold and preload say what belongs to which phase.

    Examples
    --------
    >>> from acquire.values.records import Trace
    >>> from analysis.trial.effort import prepare
    >>> from analysis.trial.protocol import load_protocol
    >>> time = np.arange(0.0, 11.0, 0.01)
    >>> force = np.interp(time, [2.0, 3.5, 7.5, 7.7], [0.0, 200.0, 200.0, 0.0])
    >>> protocol = load_protocol()
    >>> effort = prepare(Trace(time=time, force=force), smoothing_s=protocol.hold.smoothing_s)
    >>> phases = find_phases(effort, protocol)
    >>> round(phases.onset.time, 2), round(phases.ramp_end, 2), round(phases.release, 2)
    (2.0, 3.34, 7.6)
    """
    hold = longest_hold(effort.smooth, band=protocol.hold.band_pct / 100.0)
    plateau, score_start, score_stop = _best_stretch(effort, hold, seconds=protocol.hold.score_s)
    foot = (last_true(effort.fine <= HALF * plateau, 0, hold.start) or 0) + 1
    baseline = preload_level(effort, protocol.preload, plateau=plateau, stop=foot)
    onset = find_onset(
        effort.time,
        effort.force,
        baseline=baseline,
        plateau=plateau,
        noise=effort.noise,
        before=foot,
        sample_rate=effort.rate,
    )
    onset_index = 0 if onset is None else effort.index(onset.time)
    top = protocol.ramp.level_pct / 100.0 * plateau
    ramp_stop, level_start, level_stop = _held_part(effort, hold, onset_index, top=top, plateau=plateau)
    release_index, release = _release(effort, hold, level=HALF * plateau)
    return Phases(
        hold=hold,
        plateau_force=plateau,
        score_start=score_start,
        score_stop=score_stop,
        onset=onset,
        onset_index=onset_index,
        baseline=baseline,
        ramp_stop=ramp_stop,
        ramp_end=crossing(effort.time, effort.smooth, top, ramp_stop),
        level_start=level_start,
        level_stop=level_stop,
        release=release,
        release_index=release_index,
        peak_index=onset_index + int(np.argmax(effort.fine[onset_index:release_index])),
    )


def _best_stretch(effort: Effort, hold: Hold, *, seconds: float) -> tuple[float, int, int]:
    """Return the highest mean over so long within the hold, N, and the samples [start, stop) it is of."""
    width = effort.samples(seconds)
    offset, plateau = best_window(effort.smooth[hold.start : hold.stop], width)
    start = hold.start + offset
    return plateau, start, min(hold.stop, start + width)


def _held_part(effort: Effort, hold: Hold, onset_index: int, *, top: float, plateau: float) -> tuple[int, int, int]:
    """Return where the ramp ends, and the held part [start, stop): from the first to the last moment at the top."""
    reached = effort.smooth >= top
    first = first_true(reached, onset_index)
    ramp_stop = hold.start if first is None else first
    stop = (last_true(reached, hold.start, len(reached)) or hold.stop - 1) + 1
    return ramp_stop, *_level_part(effort, ramp_stop, stop, plateau=plateau)


def _release(effort: Effort, hold: Hold, *, level: float) -> tuple[int, float | None]:
    """Return the first sample after the release, and when the force falls through the level for the last time, s."""
    last = last_true(effort.fine >= level, hold.start, len(effort.fine))
    if last is None or last + 1 == len(effort.fine):
        return len(effort.fine), None
    return last + 1, crossing(effort.time, effort.fine, level, last + 1)


def _level_part(effort: Effort, start: int, stop: int, *, plateau: float) -> tuple[int, int]:
    """Return [start, stop) without the steep ends that still belong to ramp and release."""
    width = effort.samples(LEVEL_BLOCK_S)
    levels = block_means(effort.force[start:stop], width)
    if len(levels) < 6:
        return start, stop
    change = (levels[2:] - levels[:-2]) / (2.0 * LEVEL_BLOCK_S * plateau)
    third = len(change) // 3
    head = first_true(change < STEEP_PER_S, 0, third)
    tail = last_true(change > -STEEP_PER_S, len(change) - third, len(change))
    begin = start if head is None else start + head * width
    return begin, stop if tail is None else min(stop, start + (tail + 3) * width)
