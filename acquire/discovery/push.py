"""How a column answers what the person was asked to do: nothing, then a push.

Values are taken in blocks of a tenth of a second by their median, so that a damaged number says nothing. A push
is the largest stretch of blocks that leave the quiet level to one side, far beyond what the quiet blocks do.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from acquire.discovery.capture import Asked
from acquire.values.arrays import FloatArray

PUSH_BLOCK_S = 0.1
LEAST_IN_BLOCK = 3
LEAST_BLOCKS = 5
BEYOND = 8.0
"""Standard deviations that a block must be away from the quiet level."""
STEPS_BEYOND = 4.0
"""Or so many steps of the numbers, where there is no noise to see."""
PUSH_S = 0.4
"""A push lasts; a knock does not."""
REACTION_S = 0.4
"""People are still busy when they begin to be quiet."""
LATE_S = 2.0
"""A push may begin and end so much later than it was asked for."""
LEAD_PART = 0.1
LEAD_S = 1.0
"""Without a word from the user, this much of the beginning is taken to be quiet, or a tenth of all."""
MAD_TO_SD = 1.4826
"""Of normal noise."""
OUTLIER = 5.0
"""Standard deviations."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a column did."""

    quiet: float
    """Level of the quiet stretch."""
    noise: float
    """Standard deviation about the drift of the quiet stretch."""
    resolution: float
    """Smallest step between two values; 0 where they never change."""
    drift: bool
    """The quiet stretch was not quiet: it moved by more than its noise."""
    pushed: float | None = None
    """Level of the push; None when there was none."""
    came_back: bool = False
    """The level returned after the push."""
    push_s: float = 0.0

    @property
    def change(self) -> float:
        """Push less quiet; 0 without a push."""
        return 0.0 if self.pushed is None else self.pushed - self.quiet

    @property
    def strength(self) -> float:
        """The push in standard deviations of the quiet stretch."""
        return abs(self.change) / max(self.noise, self.resolution / math.sqrt(12.0), 1e-300)


def answer(time: FloatArray, values: FloatArray, quiet: Asked | None, push: Asked | None) -> Answer | None:
    """Return what a column did; None when there is too little of it.

    Parameters
    ----------
    time, values : ndarray, shape (n,)
        Seconds and numbers; NaN is left out.
    quiet, push : Asked, optional
        When the sensor was to be left alone, and when to push. Without them the beginning is taken to be quiet
        and the largest stretch away from it to be the push.

    Examples
    --------
    >>> time = np.arange(0.0, 8.0, 0.0125)
    >>> force = np.where((time > 4.0) & (time < 7.0), -900.0, 100.0) + np.sin(1e4 * time)
    >>> seen = answer(time, force, None, None)
    >>> round(seen.quiet), round(seen.change), seen.came_back
    (100, -1000, True)
    """
    there = np.isfinite(values)
    time, values = time[there], values[there]
    size = _block_size(time)
    if len(time) < LEAST_BLOCKS * size:
        return None
    at, level = _blocks(time, size).mean(axis=1), np.median(_blocks(values, size), axis=1)
    still = _still(at, quiet)
    base = float(np.median(level[still]))
    resolution = _resolution(values)
    spread = max(MAD_TO_SD * float(np.median(np.abs(level[still] - base))), resolution / math.sqrt(12.0))
    away = np.abs(level - base) > max(BEYOND * spread, STEPS_BEYOND * resolution)
    first, last = np.flatnonzero(still)[[0, -1]]
    runs = _runs(at, level - base, away, after=last, push=push)
    if quiet is None:
        last = runs[0].begin - 1 if runs else len(at) - 1
    part = slice(first * size, (last + 1) * size)
    noise, drift = _noise(time[part], values[part])
    seen = Answer(
        quiet=float(np.median(values[part])),
        noise=noise,
        resolution=resolution,
        drift=drift > max(3.0 * noise, STEPS_BEYOND * resolution),
    )
    run = max(runs, key=lambda each: abs(each.change), default=None)
    return seen if run is None else _with_push(seen, run, at, level, away)


@dataclass(frozen=True, slots=True)
class _Run:
    """Blocks in a row that are away to one side."""

    begin: int
    end: int
    """The first block after it."""
    change: float
    """Median of the blocks that are away by at least half of the farthest."""


def _with_push(seen: Answer, run: _Run, at: FloatArray, level: FloatArray, away: NDArray[np.bool_]) -> Answer:
    return replace(
        seen,
        pushed=float(np.median(level[: run.begin])) + run.change,
        came_back=not away[run.end :].all(),
        push_s=float(at[run.end - 1] - at[run.begin]),
    )


def _block_size(time: FloatArray) -> int:
    """Return how many samples make a block."""
    span = float(time[-1] - time[0]) if len(time) else 0.0
    return max(LEAST_IN_BLOCK, round(PUSH_BLOCK_S * len(time) / span)) if span > 0.0 else len(time) + 1


def _blocks(numbers: FloatArray, size: int) -> FloatArray:
    """Return numbers as rows of one block each; what is left at the end is left out."""
    count = len(numbers) // size
    return numbers[: count * size].reshape(count, size)


def _still(at: FloatArray, quiet: Asked | None) -> NDArray[np.bool_]:
    """Return which blocks are quiet: those asked for, or the first."""
    if quiet is not None:
        asked = (at >= quiet.start + REACTION_S) & (at <= quiet.stop)
        if asked.sum() >= LEAST_BLOCKS:
            return np.asarray(asked)
    lead = at[0] + max(LEAD_S, LEAD_PART * (at[-1] - at[0]))
    return np.asarray((at <= lead) | (np.arange(len(at)) < LEAST_BLOCKS))


def _runs(at: FloatArray, change: FloatArray, away: NDArray[np.bool_], *, after: int, push: Asked | None) -> list[_Run]:
    """Return the stretches that are away for long enough, in order."""
    side = np.where(away, np.sign(change), 0.0)
    edges = np.flatnonzero(np.diff(side, prepend=0.0, append=0.0)).tolist()
    block = float(np.median(np.diff(at)))
    found = []
    for begin, end in itertools.pairwise(edges):
        if not away[begin] or begin <= after or at[end - 1] - at[begin] + block < PUSH_S:
            continue
        if push is not None and (at[end - 1] < push.start or at[begin] > push.stop + LATE_S):
            continue
        part = change[begin:end]
        far = part[np.abs(part) >= 0.5 * np.abs(part).max()]
        found.append(_Run(begin, end, float(np.median(far))))
    return found


def _resolution(values: FloatArray) -> float:
    steps = np.abs(np.diff(values))
    steps = steps[steps > 0.0]
    return float(np.quantile(steps, 0.01)) if len(steps) else 0.0


def _noise(time: FloatArray, values: FloatArray) -> tuple[float, float]:
    """Return the standard deviation about a straight line, and how far the line goes, both without outliers."""
    kept = np.ones(len(values), dtype=np.bool_)
    rest, way = values - values.mean(), 0.0
    for _ in range(3):
        slope, level = _line(time[kept], values[kept])
        rest, way = values - level - slope * (time - time[0]), abs(slope) * float(time[-1] - time[0])
        kept = np.abs(rest) <= OUTLIER * MAD_TO_SD * float(np.median(np.abs(rest)))
        kept |= rest == 0.0
    return float(rest[kept].std()), way


def _line(time: FloatArray, values: FloatArray) -> tuple[float, float]:
    """Return slope and level at the first second of the line of least squares; a level one where time stands still."""
    away = time - time.mean()
    spread = float(away @ away)
    slope = float(away @ values) / spread if spread > 0.0 else 0.0
    return slope, float(values.mean()) + slope * float(time[0] - time.mean())
