"""What is true of a drawn effort: the protocol's measures of the force without noise, by other code than the judge's.

Shares are of the plateau, in per cent. Where the protocol leaves a choice, it is the drawing that knows: when the ramp
ends, when the release begins, which part of the force is tremor.
"""

from __future__ import annotations

import numpy as np
from drawn import Drawing, Person

BLOCK_S = 0.02
BAND = 0.15
SCORE_S = 3.0

AROUND_S = 0.05
"""Peak and trough of a drop lie within this of where they were drawn."""


def steady_run(force: np.ndarray, rate: float, *, band: float = BAND) -> tuple[int, int]:
    """Return the samples [start, stop) of the longest run of 20 ms means within the band about its own mean."""
    width = max(1, round(BLOCK_S * rate))
    levels = force[: len(force) // width * width].reshape(-1, width).mean(axis=1)
    top, best = levels.max(), (0, 1)
    for start in range(len(levels)):
        part = levels[start:]
        mean = np.cumsum(part) / np.arange(1, len(part) + 1)
        inside = np.maximum.accumulate(part) <= (1.0 + band) * mean
        inside &= (np.minimum.accumulate(part) >= (1.0 - band) * mean) & (mean >= 0.5 * top)
        lengths = np.flatnonzero(inside)
        if len(lengths) and lengths[-1] + 1 > best[1] - best[0]:
            best = (start, start + int(lengths[-1]) + 1)
    return best[0] * width, best[1] * width


def best_mean(values: np.ndarray, width: int) -> float:
    """Return the highest mean of so many values in a row, of all where there are fewer."""
    return float(np.convolve(values, np.full(min(width, len(values)), 1.0 / min(width, len(values))), "valid").max())


def plateau(drawing: Drawing, rate: float, *, seconds: float = SCORE_S, band: float = BAND) -> float:
    """Return the highest mean of so many seconds within the steady run of the force without tremor, N."""
    level = drawing.true - drawing.tremor
    start, stop = steady_run(level, rate, band=band)
    return best_mean(level[start:stop], round(seconds * rate))


def highest(drawing: Drawing, rate: float, *, seconds: float = SCORE_S) -> float:
    """Return the highest mean of so many seconds anywhere, steady or not, N."""
    return best_mean(drawing.true - drawing.tremor, round(seconds * rate))


def held(drawing: Drawing, rate: float) -> slice:
    """Return the samples from the end of the ramp, or of 90 % of the plateau, whichever is later, to the release."""
    high = np.flatnonzero(drawing.true - drawing.tremor >= 0.9 * plateau(drawing, rate))
    start = max(round(drawing.hold_start * rate), int(high[0]))
    return slice(start, min(round(drawing.release * rate), int(high[-1]) + 1))


def ramp_time(drawing: Drawing, rate: float) -> float:
    """Return the time from the onset to 90 % of the plateau, s."""
    level = drawing.true - drawing.tremor
    after = np.flatnonzero((level >= 0.9 * plateau(drawing, rate)) & (drawing.time > drawing.onset))
    return float(drawing.time[after[0]]) - drawing.onset


def steepest(drawing: Drawing, rate: float) -> float:
    """Return the highest rise over 0.2 s up to the end of the ramp, % of the plateau per second."""
    width = round(0.2 * rate)
    level = (drawing.true - drawing.tremor)[: round(drawing.hold_start * rate) + width]
    return 100.0 * float((level[width:] - level[:-width]).max()) * rate / width / plateau(drawing, rate)


def step_back(drawing: Drawing, rate: float) -> float:
    """Return the deepest fall of 20 ms means from what was reached before, up to the end of the ramp, %."""
    top = plateau(drawing, rate)
    width = max(1, round(BLOCK_S * rate))
    seen = np.convolve(drawing.true - drawing.tremor, np.full(width, 1.0 / width), "same")
    level = seen[: round((drawing.onset + ramp_time(drawing, rate)) * rate)]
    reached, deepest = level[0], 0.0
    for force in level:
        reached = max(reached, force)
        deepest = max(deepest, reached - force)
    return 100.0 * deepest / top


def trend(drawing: Drawing, rate: float) -> float:
    """Return the slope of the held part, % of the plateau per second."""
    part = held(drawing, rate)
    return 100.0 * float(np.polyfit(drawing.time[part], drawing.true[part], 1)[0]) / plateau(drawing, rate)


def spread(drawing: Drawing, rate: float) -> float:
    """Return the standard deviation of the held part about its straight line, %."""
    part = held(drawing, rate)
    line = np.polyval(np.polyfit(drawing.time[part], drawing.true[part], 1), drawing.time[part])
    return 100.0 * float(np.std(drawing.true[part] - line)) / plateau(drawing, rate)


def shaking(drawing: Drawing, rate: float) -> float:
    """Return the root mean square of the tremor of the held part, %."""
    return 100.0 * float(np.sqrt(np.mean(drawing.tremor[held(drawing, rate)] ** 2))) / plateau(drawing, rate)


def peak(drawing: Drawing, rate: float) -> float:
    """Return the highest 20 ms, %."""
    return 100.0 * best_mean(drawing.true, max(1, round(BLOCK_S * rate))) / plateau(drawing, rate)


def steady_time(drawing: Drawing, rate: float) -> float:
    """Return the length of the steady run, s."""
    start, stop = steady_run(drawing.true - drawing.tremor, rate)
    return (stop - start) / rate


def share(person: Person, drawing: Drawing, rate: float, *, of: float) -> float:
    """Return a share of the level that a person aims at as a percentage of the plateau."""
    return 100.0 * of * person.plateau / plateau(drawing, rate)


def second_rise(drawing: Drawing, rate: float, *, start: float, top: float) -> float:
    """Return the highest 50 ms about `top` above the half second before `start`, s of the hold, in % of that."""

    def between(first: float, last: float) -> np.ndarray:
        return drawing.true[round((drawing.hold_start + first) * rate) : round((drawing.hold_start + last) * rate)]

    before = float(between(start - 0.5, start).mean())
    return 100.0 * (best_mean(between(start, top + 0.1), max(1, round(0.05 * rate))) / before - 1.0)


def drop_depth(person: Person, drawing: Drawing, rate: float) -> float:
    """Return the middle one of the depths of the drops that were drawn, seen through 50 ms means, %."""
    width = max(1, round(0.05 * rate))
    seen = np.convolve(drawing.true, np.full(width, 1.0 / width), "same")
    points = np.array([point for bump in person.bumps for point in bump])
    tops, troughs = points[0::3, 0], points[1::3, 0]

    def around(second: float) -> np.ndarray:
        at = round((drawing.hold_start + second) * rate)
        return seen[at - round(AROUND_S * rate) : at + round(AROUND_S * rate) + 1]

    depths = [around(top).max() - around(trough).min() for top, trough in zip(tops, troughs, strict=True)]
    return 100.0 * float(np.median(depths)) / plateau(drawing, rate)
