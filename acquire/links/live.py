"""What every link to a live sensor does alike: chunks wait in a queue, silence is seen, one failure ends it.

One thread writes (`_queue_chunk`, `_fail`), one reads (`wait`, `chunks`). What a kind of link must add is how
it reads, `send` and `close`.

- What ends a link is handed to `_fail`: `chunks` gives what had arrived, then raises it.
- SILENT (not one byte since opening) and STALLED (bytes came, then stopped) do not end it and are never
  raised: `trouble` tells them while they last.
"""

from __future__ import annotations

import threading
from abc import ABC, abstractmethod
from collections import deque
from typing import TYPE_CHECKING, Self

from acquire.errors import LinkDetail, LinkError, LinkFailure
from acquire.links.base import BluetoothState, Chunk

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import TracebackType

CHUNK_OVERHEAD = 150
"""Bytes of memory that a queued chunk takes besides its data (tuple, float, bytes header)."""
QUEUE_LIMIT = 64_000_000
"""Bytes of memory; at 700 kB/s more than a minute during which nobody read."""


class LiveLink(ABC):
    """A link to a sensor that sends as it measures; most of a `Link`.

    Parameters
    ----------
    port : str
        What the link is called in messages.
    called : str
        The sensor in a sentence, such as "the sensor on COM3".
    hint : str
        What to look at when it stops sending.
    silent_after_s : float
        Seconds without one byte after which `trouble` is SILENT.
    stalled_after_s : float
        Seconds since the last byte after which `trouble` is STALLED.
    queue_limit : int
        Bytes of memory that unread data may take.
    clock : callable
        Monotonic seconds; stamps the chunks and measures silence.
    """

    def __init__(
        self,
        port: str,
        *,
        called: str,
        hint: str,
        silent_after_s: float,
        stalled_after_s: float,
        queue_limit: int,
        clock: Callable[[], float],
    ) -> None:
        self.port = port
        self._called, self._hint = called, hint
        self._silent_after_s = silent_after_s
        self._stalled_after_s = stalled_after_s
        self._queue_limit = queue_limit
        self._clock = clock
        self._queue: deque[Chunk] = deque()
        self._queue_bytes = 0
        self._changed = threading.Condition()
        self._failure: LinkError | None = None
        self._closed = False
        self._opened = clock()
        self._last: float | None = None

    @property
    def finished(self) -> bool:
        """Never: a live sensor has no planned end."""
        return False

    @property
    def ended(self) -> bool:
        """No more will come, and everything that came was handed over."""
        with self._changed:
            return self._over and not self._queue

    @property
    def trouble(self) -> LinkError | None:
        """What is wrong now: SILENT or STALLED while it lasts, or the error that ended the link."""
        if self._over:
            return self._failure
        last = self._last
        since = self._clock() - (self._opened if last is None else last)
        if last is None and since > self._silent_after_s:
            return self._error(
                LinkFailure.SILENT,
                f"{self._called} has sent nothing for {since:.1f} s: "
                "check that it is switched on and is the sensor chosen",
            )
        if last is not None and since > self._stalled_after_s:
            return self._error(LinkFailure.STALLED, f"{self._called} stopped sending {since:.1f} s ago: {self._hint}")
        return None

    @property
    def bluetooth(self) -> BluetoothState | None:
        """Signal and battery of a Bluetooth sensor; None by cable."""
        return None

    def chunks(self) -> list[Chunk]:
        """Return what has arrived since the last call; see `Link.chunks`."""
        with self._changed:
            arrived = list(self._queue)
            self._queue.clear()
            self._queue_bytes = 0
            if not arrived and self._failure is not None:
                raise self._failure
            return arrived

    def wait(self, timeout: float) -> bool:
        """Block until something arrives, the link ends, or `timeout` seconds are over."""
        with self._changed:
            return self._changed.wait_for(lambda: bool(self._queue) or self._over, timeout)

    @abstractmethod
    def send(self, data: bytes) -> None:
        """Send bytes to the sensor; see `Link.send`."""

    @abstractmethod
    def close(self) -> None:
        """Let go of the sensor; a second time does nothing."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def _over(self) -> bool:
        return self._closed or self._failure is not None

    def _queue_chunk(self, data: bytes) -> None:
        with self._changed:
            self._last = self._clock()
            self._queue.append(Chunk(self._last, data))
            self._queue_bytes += len(data) + CHUNK_OVERHEAD
            self._changed.notify_all()
        if self._queue_bytes > self._queue_limit:
            self._fail(self._overflow())

    def _forget(self) -> None:
        """Throw away what waits, and count silence from now on."""
        with self._changed:
            self._queue.clear()
            self._queue_bytes = 0
            self._last = None
            self._opened = self._clock()

    def _fail(self, failure: LinkError, cause: BaseException | None = None) -> None:
        failure.__cause__ = cause
        with self._changed:
            self._failure = self._failure or failure
            self._changed.notify_all()

    def _shut(self) -> None:
        """Mark the link as closed by the user, and wake who waits."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()

    def _overflow(self) -> LinkError:
        return self._error(
            LinkFailure.FAILED,
            f"data from {self.port} was not taken and over {self._queue_limit / 1e6:g} MB wait: open the port again",
            detail=LinkDetail.OVERFLOW,
            megabytes=self._queue_limit / 1e6,
        )

    def _error(
        self, reason: LinkFailure, message: str, *, detail: LinkDetail | None = None, **values: object
    ) -> LinkError:
        return LinkError(message, port=self.port, reason=reason, detail=detail, **values)
