"""Clock skew: when samples were taken, judged by when they arrived.

A sample that is counted but not stamped has an index and an arrival. It arrives late by a constant latency and by a
delay that is never negative: it waits for the rest of its packet, for the next Bluetooth interval, for a busy computer.
Plot arrival against index: the true times are a straight line, the *skew line*. No point lies below it, and the points
with the lowest delay lie on it. Only the last sample of a chunk arrived when the chunk did, so a chunk is one point.

**Its slope** is the sensor's true sample period. Every possible line touches the lower convex hull of the points. The
classic choice is the edge of the hull at the mean index, which leaves the smallest total delay, but one lucky point
near the middle tilts that edge. Here the slope is that of the chord over the middle 60 % of the indices. In simulations
of a Bluetooth link at 80 Hz the worst of 150 records of seven seconds is then 2.6 ms off instead of 4.2, and the 95th
percentile is never worse.

**Its height**: as high as the points allow, so that no sample is said to be taken after it arrived.

**Its ends.** A link that had held data back when the recording began makes the hull too flat at its beginning; one that
begins to hold data back makes it too steep at its end. Edges that are not about as steep as expected are ignored, where
the others are enough.

**Its window.** The hull is kept in blocks of half a second. A line goes through the blocks of the last minute: long
enough for a good slope, short enough to follow an oscillator that drifts as it warms up. Ten minutes are kept.

**Its uncertainty** comes from the lowest delays of two dozen parts of the window: on a perfect link they are equal. One
error they cannot show. Where a link sends every 30 ms and the packets come every 10.1 ms, each waits a little longer
than the one before until one misses its turn, which looks just like a slow clock. Where several packets or lines come
at once, the uncertainty therefore includes the length of one of them over that of the window.

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

from acquire.values.arrays import FloatArray

if TYPE_CHECKING:
    from collections.abc import Iterable

Index = TypeVar("Index", float, NDArray[np.float64])

HULL_BLOCK_S = 0.5
WINDOW_S = 60.0
KEPT_BLOCKS = 1200
"""Ten minutes."""
REDUCE_AT = 256
CHORD_FROM = 0.2
PLAUSIBLE = 0.2
"""No oscillator differs from what is expected by more than this part."""
USELESS = 0.02
"""A slope whose standard uncertainty is above this part tells less than the expected one."""
GROUPS = 24
SEVERAL = 1.5
"""A link that brings more packets or lines a chunk than this is taken to collect them."""
ENOUGH_S = 2.0
"""Over less than this, delays of tens of ms tell no more than the nominal rate."""
RENEW_S = 1.0
"""How long `HostTime.now` uses a line before it draws the next one."""

Point = tuple[float, float]
"""Index of the last sample of a chunk (or its seconds on the sensor's clock), arrival of the chunk in s."""


class SkewLine(NamedTuple):
    """A straight line from sample index to arrival without delay."""

    sample: float
    """Index of a sample on the line."""
    arrival: float
    """Seconds at `sample`."""
    period_s: float
    """Seconds a sample."""
    period_uncertainty_s: float
    """Standard uncertainty; NaN when the period was given, or fewer than four blocks are complete."""

    def at(self, index: Index) -> Index:
        """Return the arrival without delay, s.

        Parameters
        ----------
        index : float or ndarray, shape (n,)
            Sample indices.

        Returns
        -------
        float or ndarray, shape (n,)
            Seconds on the clock of the arrivals.

        Examples
        --------
        >>> line = SkewLine(sample=0.0, arrival=5.0, period_s=0.01, period_uncertainty_s=1e-6)
        >>> line.at(200)
        7.0
        """
        return self.arrival + (index - self.sample) * self.period_s


@dataclass(slots=True)
class _Block:
    began: float
    points: list[Point]
    """Its lower hull; of the last block, also what came since it was last reduced to its hull."""
    reduce_at: int = REDUCE_AT
    """So many points are reduced to their hull: a stream that is read from a file may bring any number in one block."""

    def add(self, point: Point) -> None:
        self.points.append(point)
        if len(self.points) >= self.reduce_at:
            self.reduce()
            self.reduce_at = max(REDUCE_AT, 2 * len(self.points))

    def reduce(self) -> None:
        self.points = _hull(self.points)

    @property
    def last_index(self) -> float:
        return self.points[-1][0]

    def moved(self, by: float) -> _Block:
        """Return the block with other indices."""
        return _Block(self.began, [(index + by, arrival) for index, arrival in self.points])


class Arrivals:
    """Arrivals of one unbroken segment of samples, and the skew line below them.

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

    def add(self, last_index: float, arrival: float, *, frames: int = 1) -> None:
        """Note that the samples up to an index have arrived.

        Parameters
        ----------
        last_index : float
            Index of the last sample that has arrived, never falling.
        arrival : float
            Seconds, never falling; the same number for all events of a chunk.
        frames : int
            Packets or lines in the chunk.
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
        """Append the arrivals of a later segment, whose sample 0 has the index `at` here."""
        if self._pending is not None:
            self._settle(self._pending)
        self._blocks.extend(block.moved(at) for block in later._blocks)
        pending = later._pending
        self._pending = None if pending is None else (pending[0] + at, pending[1])
        self._frames += later._frames
        self._chunks += later._chunks

    def lowest_delay(self, line: SkewLine, *, first: int) -> float:
        """Return the lowest delay above a line that gives sample 0 the index `first`, s; infinite without arrivals."""
        points = chain(*(block.points for block in self._blocks), [self._pending] if self._pending else [])
        return min((arrival - line.at(float(index + first)) for index, arrival in points), default=math.inf)

    def _settle(self, point: Point) -> None:
        last = self._blocks[-1] if self._blocks else None
        if last is not None and point[1] - last.began < HULL_BLOCK_S:
            last.add(point)
        else:
            if last is not None:
                last.reduce()
            self._blocks.append(_Block(point[1], [point]))
        self._chunks += 1

    def line(
        self,
        *,
        default_period_s: float,
        enough_s: float = ENOUGH_S,
        first: float = -math.inf,
        last: float = math.inf,
    ) -> SkewLine:
        """Return the skew line for some samples.

        Parameters
        ----------
        default_period_s : float
            Seconds a sample, used where the arrivals span less than `enough_s`.
        enough_s : float
            Seconds.
        first, last : float
            Indices of the first and last sample that the line is wanted for. The line goes through the arrivals
            between them and those of the minute before `last`.

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
        uncertainty = _uncertainty(blocks[:-2], period)
        if uncertainty > USELESS * period:
            return _lowest(hull, default_period_s, math.nan)
        return _lowest(hull, period, math.hypot(self._doubt(hull) * period, uncertainty))

    def _doubt(self, hull: list[Point]) -> float:
        """Return the part of the period that packets waiting in step with the link may hide."""
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


def _lowest(hull: list[Point], period_s: float, uncertainty_s: float) -> SkewLine:
    index, arrival = min(hull, key=lambda point: point[1] - period_s * point[0])
    return SkewLine(index, arrival, period_s, uncertainty_s)


def _uncertainty(blocks: list[_Block], period_s: float) -> float:
    """Return the standard uncertainty of a slope through the lowest delays of groups of complete blocks."""
    if len(blocks) < 4:
        return math.nan
    each = math.ceil(len(blocks) / GROUPS)
    groups = [blocks[at : at + each] for at in range(0, len(blocks) - each + 1, each)]
    lowest = [min((y - period_s * x, x) for block in group for x, y in block.points) for group in groups]
    delay, index = np.array(lowest).T
    spread = float(((index - index.mean()) ** 2).sum())
    slope = float(((index - index.mean()) * delay).sum()) / spread
    rest = delay - delay.mean() - slope * (index - index.mean())
    return math.sqrt(float(rest @ rest) / (len(index) - 2) / spread)


class HostTime:
    """A stream's own seconds on the clock of this computer, so that two sensors, or another program, share a clock.

    The same line, from the sensor's seconds instead of a sample's index. The constant part of the latency stays in it,
    since nobody can see it from one end: a millisecond with a cable, an interval with Bluetooth.

    Examples
    --------
    >>> host = HostTime()
    >>> for n in range(100):
    ...     host.add(0.1 * n, 50.0 + 0.1 * n + (0.02 if n % 3 else 0.0))
    >>> float(host.at(np.array([5.0])).round(6)[0])
    55.0
    """

    def __init__(self) -> None:
        self._arrivals = Arrivals()
        self._line: SkewLine | None = None
        self._renewed = -RENEW_S

    def add(self, seconds: float, arrival: float) -> None:
        """Note when the samples up to some second of the stream have arrived."""
        self._arrivals.add(seconds, arrival)

    def at(self, seconds: FloatArray) -> FloatArray:
        """Return seconds of the stream on the clock of the arrivals.

        Parameters
        ----------
        seconds : ndarray, shape (n,)
            Seconds of the stream, increasing, n > 0, without NaN.

        Returns
        -------
        ndarray, shape (n,)
            Seconds on the clock of the arrivals.

        Raises
        ------
        ValueError
            If nothing has arrived yet.
        """
        return self._arrivals.line(default_period_s=1.0, first=float(seconds[0]), last=float(seconds[-1])).at(seconds)

    def now(self, seconds: FloatArray) -> FloatArray:
        """Return the newest seconds of the stream on the clock of the arrivals, by a line drawn once a second.

        Parameters
        ----------
        seconds : ndarray, shape (n,)
            As in `at`, all finite.
        """
        if self._line is None or float(seconds[-1]) - self._renewed >= RENEW_S:
            self._line = self._arrivals.line(default_period_s=1.0)
            self._renewed = float(seconds[-1])
        return self._line.at(seconds)
