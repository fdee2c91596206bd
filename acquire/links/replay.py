"""A recording as a link: the same bytes, in the same pieces, at the pace they came or faster.

No thread is needed: what is due is known from the clock. The chunks keep their *recorded* seconds, so
whatever is computed from them does not depend on the speed they are played at.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Self

from acquire.links.base import BluetoothState, Chunk

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from types import TracebackType

    from acquire.errors import LinkError

MOST_AT_ONCE = 1000
"""Chunks handed over in one go: a recording of hours, played at once, is not all in memory at any time."""


class ReplayLink:
    """A recording as a `Link`.

    The first chunk is due when `chunks` or `wait` is first called; the pauses between chunks are the
    recorded ones divided by the speed.

    Parameters
    ----------
    chunks : iterable of (float, bytes)
        Recorded seconds, not decreasing, and what arrived then.
    speed : float
        How many recorded seconds pass in one; ``math.inf`` gives all at once.
    port : str
        What the recording is called in messages.
    clock : callable
        Monotonic seconds.
    sleep : callable
        Waits so many seconds.

    Raises
    ------
    ValueError
        If `speed` is not positive; while playing, if recorded seconds decrease.

    Examples
    --------
    >>> link = ReplayLink([(7.0, b"a"), (9.5, b"b")], speed=float("inf"))
    >>> link.chunks()
    [Chunk(arrival=7.0, data=b'a'), Chunk(arrival=9.5, data=b'b')]
    >>> link.finished
    True
    """

    def __init__(
        self,
        chunks: Iterable[tuple[float, bytes]],
        *,
        speed: float = 1.0,
        port: str = "replay",
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        if not speed > 0:
            raise ValueError(f"speed must be positive, got {speed}")
        self.port = port
        self._speed = speed
        self._clock = clock
        self._sleep = sleep
        self._recorded: Iterator[tuple[float, bytes]] = iter(chunks)
        self._next: Chunk | None = None
        self._advance()
        self._first = self._next.arrival if self._next else 0.0
        self._began: float | None = None
        self._closed = False

    @property
    def finished(self) -> bool:
        """The whole recording has been handed over."""
        return self._next is None

    @property
    def ended(self) -> bool:
        """The whole recording has been handed over, or the link was closed."""
        return self._closed or self.finished

    @property
    def trouble(self) -> LinkError | None:
        """Never any: pauses were recorded so."""
        return None

    @property
    def bluetooth(self) -> BluetoothState | None:
        """None: there is no Bluetooth here."""
        return None

    def chunks(self) -> list[Chunk]:
        """Return what has fallen due since the last call; of very much, the rest in the next calls."""
        due: list[Chunk] = []
        while self._next is not None and not self._closed and self._seconds_to_next() <= 0 and len(due) < MOST_AT_ONCE:
            due.append(self._next)
            self._advance()
        return due

    def wait(self, timeout: float) -> bool:
        """Sleep until the next chunk is due, at most `timeout` seconds."""
        if not self.ended:
            self._sleep(min(max(0.0, self._seconds_to_next()), timeout))
        return self.ended or self._seconds_to_next() <= 0

    def send(self, data: bytes) -> None:
        """Do nothing: nobody listens in a recording."""

    def close(self) -> None:
        """Play no more; a second time does nothing."""
        self._closed = True

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _seconds_to_next(self) -> float:
        if self._next is None:
            return 0.0
        now = self._clock()
        if self._began is None:
            self._began = now
        return self._began + (self._next.arrival - self._first) / self._speed - now

    def _advance(self) -> None:
        before, recorded = self._next, next(self._recorded, None)
        self._next = None if recorded is None else Chunk(*recorded)
        if before and self._next and self._next.arrival < before.arrival:
            raise ValueError(f"recorded seconds must not decrease, got {self._next.arrival} s after {before.arrival} s")
