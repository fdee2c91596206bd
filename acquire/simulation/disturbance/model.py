"""The model of a bad link: pieces of a stream in, what is left of them out, later and perhaps in another order.

A piece goes through what can happen to it in this order::

    split -> drop -> corrupt -> duplicate, reorder -> burst, stall, delay -> the clock that stamps it

Each kind has a row of random numbers of its own, made from the seed and its name. So the same stream meets the
same events at any speed, and to take one kind away changes nothing in the others.

There is no clock but the stream: a piece that is held back is handed over when a later one shows that its time
has come, or at the end.
"""

from __future__ import annotations

import heapq
import random
from collections import Counter, deque
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

    from acquire.simulation.disturbance.settings import Chance, Corrupt, Disturbance

LONGEST_FRAME = 4096
"""Bytes without an end of frame that are taken for a piece: no frame is so long."""


class Piece(NamedTuple):
    """Bytes that arrived together."""

    arrival: float
    """Seconds, never decreasing."""
    data: bytes


class Disturber:
    r"""One stream on its way over a bad link.

    Parameters
    ----------
    disturbance : Disturbance
        What happens.
    frame_end : bytes
        The byte that ends a frame, where frames are disturbed; without it the chunks are.

    Attributes
    ----------
    done : Counter
        How many pieces each kind has happened to, by its name.

    Examples
    --------
    >>> from acquire.simulation.disturbance import Disturbance, Drop, Reorder
    >>> bad = Disturber(Disturbance(drop=Drop(at_s=(0.2,)), reorder=Reorder(at_s=(0.4,), reach=1)), frame_end=b"\n")
    >>> [piece.data for n in range(7) for piece in bad.feed(n / 10, b"%d\n" % n)] + bad.finish()
    [b'0\n', b'1\n', b'3\n', b'5\n', b'4\n', b'6\n']
    >>> dict(bad.done)
    {'drop': 1, 'reorder': 1}
    """

    def __init__(self, disturbance: Disturbance, *, frame_end: bytes = b"") -> None:
        self.done: Counter[str] = Counter()
        self._pieces = _Frames(frame_end) if disturbance.pieces == "frames" and frame_end else _Chunks()
        self._disturbance = disturbance
        self._split = _Strikes(disturbance.split, disturbance.seed, "split")
        self._drop = _Strikes(disturbance.drop, disturbance.seed, "drop")
        self._corrupt = _Strikes(disturbance.corrupt, disturbance.seed, "corrupt")
        self._order = _Order(disturbance, self.done)
        self._timing = _Timing(disturbance, self.done)
        self._dropping = 0
        self._first: float | None = None
        self._seconds = 0.0
        self._passed_s = 0.0

    @property
    def still_s(self) -> float:
        """For how long, in seconds of the stream, nothing has got through although something was sent."""
        return self._seconds - self._passed_s

    @property
    def holds(self) -> bool:
        """Whether something is held back."""
        return bool(self._pieces.rest or self._order.waiting or self._timing.waiting)

    def feed(self, arrival: float, data: bytes) -> list[Piece]:
        """Take bytes that were sent and return those that arrive now.

        Parameters
        ----------
        arrival : float
            Seconds on any steady clock, never decreasing.
        data : bytes
            What would have come then over a good link.
        """
        if self._disturbance.is_none:
            return [Piece(arrival, data)]
        if self._first is None:
            self._first = arrival
        self._seconds = seconds = arrival - self._first
        for piece in self._pieces.cut(data):
            for part in self._survivors(seconds, piece):
                for passed in self._order.put(seconds, part):
                    self._timing.put(seconds, passed)
        return self._stamped(self._timing.due(seconds))

    def finish(self) -> list[Piece]:
        """Return what was still held back, because no more will be sent."""
        for data in (self._pieces.rest, *self._order.rest()):
            if data:
                self._timing.put(self._seconds, data)
        self._pieces.rest = b""
        return self._stamped(self._timing.rest())

    def _survivors(self, seconds: float, piece: bytes) -> Iterator[bytes]:
        """Yield the parts of a piece that are not lost."""
        for part in self._parts(seconds, piece):
            struck = self._drop(seconds)
            if struck and not self._dropping:
                self._dropping = self._disturbance.drop.run
            if self._dropping:
                self._dropping -= 1
                self.done["drop"] += 1
                continue
            left = self._spoilt(part) if self._corrupt(seconds) else part
            if left:
                yield left

    def _parts(self, seconds: float, piece: bytes) -> tuple[bytes, ...]:
        if not self._split(seconds) or len(piece) < 2:
            return (piece,)
        self.done["split"] += 1
        at = self._split.chance.randrange(1, len(piece))
        return piece[:at], piece[at:]

    def _spoilt(self, piece: bytes) -> bytes:
        self.done["corrupt"] += 1
        return spoil(piece, self._disturbance.corrupt, self._corrupt.chance)

    def _stamped(self, pieces: list[tuple[float, bytes]]) -> list[Piece]:
        if pieces:
            self._passed_s = self._seconds
        first, stamp = self._first or 0.0, self._disturbance.drift.stamp
        return [Piece(first + stamp(seconds), data) for seconds, data in pieces]


class _Strikes:
    """Says to which pieces one kind happens."""

    def __init__(self, when: Chance, seed: int, name: str) -> None:
        self.chance = random.Random(f"{seed} {name}")  # noqa: S311 - it must be reproducible, not secret
        self._rate = when.rate
        self._due = deque(sorted(when.at_s))

    def __call__(self, seconds: float) -> bool:
        struck = self._rate > 0.0 and self.chance.random() < self._rate
        while self._due and self._due[0] <= seconds:
            self._due.popleft()
            struck = True
        return struck


class _Chunks:
    """What arrived together is a piece."""

    rest = b""

    def cut(self, data: bytes) -> list[bytes]:
        return [data]


class _Frames(_Chunks):
    """A frame with its end is a piece."""

    def __init__(self, end: bytes) -> None:
        self._end = end

    def cut(self, data: bytes) -> list[bytes]:
        *frames, rest = (self.rest + data).split(self._end)
        pieces = [frame + self._end for frame in frames]
        if len(rest) > LONGEST_FRAME:
            pieces.append(rest)
            rest = b""
        self.rest = rest
        return pieces


class _Order:
    """Pieces that come twice, and pieces that are overtaken."""

    def __init__(self, disturbance: Disturbance, done: Counter[str]) -> None:
        self._disturbance, self._done = disturbance, done
        self._duplicate = _Strikes(disturbance.duplicate, disturbance.seed, "duplicate")
        self._reorder = _Strikes(disturbance.reorder, disturbance.seed, "reorder")
        self._number = 0
        self._heap: list[tuple[int, int, bytes]] = []

    @property
    def waiting(self) -> bool:
        return bool(self._heap)

    def put(self, seconds: float, piece: bytes) -> list[bytes]:
        """Take the next piece and return those that may go on now."""
        self._number += 1
        overtaken = copy_after = 0
        if self._reorder(seconds):
            overtaken = self._reorder.chance.randint(1, self._disturbance.reorder.reach)
            self._done["reorder"] += 1
        self._push(overtaken, piece)
        if self._duplicate(seconds):
            copy_after = self._duplicate.chance.randint(0, self._disturbance.duplicate.reach)
            self._done["duplicate"] += 1
            self._push(overtaken + copy_after, piece)
        return list(self._passing())

    def _push(self, after: int, piece: bytes) -> None:
        # of those that may go at the same time the later goes first: it has overtaken the other
        heapq.heappush(self._heap, (self._number + after, -self._number, piece))

    def _passing(self) -> Iterator[bytes]:
        while self._heap and self._heap[0][0] <= self._number:
            yield heapq.heappop(self._heap)[2]

    def rest(self) -> list[bytes]:
        """Return what still waits, in the order it would have gone."""
        left = [piece for _, _, piece in sorted(self._heap)]
        self._heap.clear()
        return left


class _Timing:
    """Pieces that come later than they were sent."""

    def __init__(self, disturbance: Disturbance, done: Counter[str]) -> None:
        self._disturbance, self._done = disturbance, done
        self._delay = _Strikes(disturbance.delay, disturbance.seed, "delay")
        self._stall = _Strikes(disturbance.stall, disturbance.seed, "stall")
        self._burst = _Strikes(disturbance.burst, disturbance.seed, "burst")
        self._stalled_until = 0.0
        self._collected: list[bytes] = []
        self._wanted = 0
        self._queue: deque[tuple[float, bytes]] = deque()
        self._latest = 0.0

    @property
    def waiting(self) -> bool:
        return bool(self._queue or self._collected)

    def put(self, seconds: float, piece: bytes) -> None:
        if self._stall(seconds) and seconds >= self._stalled_until:
            self._done["stall"] += 1
            self._stalled_until = seconds + self._disturbance.stall.for_s
        if self._burst(seconds) and not self._collected:
            self._done["burst"] += 1
            self._wanted = self._disturbance.burst.pieces
        self._collected.append(piece)
        if len(self._collected) >= self._wanted:
            self._send_collected(max(seconds, self._stalled_until) + self._late_by(seconds))

    def _late_by(self, seconds: float) -> float:
        if not self._delay(seconds):
            return 0.0
        self._done["delay"] += 1
        return self._delay.chance.uniform(0.0, self._disturbance.delay.up_to_s)

    def _send_collected(self, at: float) -> None:
        self._latest = max(self._latest, at)
        self._queue.extend((self._latest, piece) for piece in self._collected)
        self._collected.clear()
        self._wanted = 0

    def due(self, seconds: float) -> list[tuple[float, bytes]]:
        """Return what has come by now."""
        pieces = []
        while self._queue and self._queue[0][0] <= seconds:
            pieces.append(self._queue.popleft())
        return pieces

    def rest(self) -> list[tuple[float, bytes]]:
        """Return what is still to come."""
        self._send_collected(self._latest)
        pieces = list(self._queue)
        self._queue.clear()
        return pieces


def spoil(piece: bytes, how: Corrupt, chance: random.Random) -> bytes:
    """Return a piece with some wrong bytes; it may become empty.

    Parameters
    ----------
    piece : bytes
        At least one byte.
    how : Corrupt
        How many changes, of which kinds.
    chance : random.Random
        Decides where and which.

    Examples
    --------
    >>> from acquire.simulation.disturbance import Corrupt
    >>> spoil(b"12345", Corrupt(kinds=("lose",), changes=2), random.Random(1))
    b'124'
    """
    spoilt = bytearray(piece)
    for _ in range(how.changes):
        _change(spoilt, chance.choice(how.kinds), chance)
    return bytes(spoilt)


def _change(data: bytearray, kind: str, chance: random.Random) -> None:
    at = chance.randrange(len(data) + (kind == "add")) if data or kind == "add" else 0
    if kind == "add":
        data.insert(at, chance.randrange(256))
    elif not data:
        return
    elif kind == "lose":
        del data[at]
    elif kind == "flip":
        data[at] ^= 1 << chance.randrange(8)
    else:
        data[at] = (data[at] + chance.randrange(1, 256)) % 256
