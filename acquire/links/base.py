"""What every link is: bytes with the second they arrived, and one way to end.

A link is read by one thread, in a loop::

    with link:
        while not link.finished:
            link.wait(0.1)
            for chunk in link.chunks():
                ...

Nothing that has arrived is ever kept back: `chunks` raises `LinkError` only when a link has failed and
everything before the failure was handed over. A recording that has been played is not a failure: then
`finished` is true. Silence is no failure either, since a sensor may be switched on late or pause:
it is seen in `trouble` and is over with the next byte.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, Protocol, Self

if TYPE_CHECKING:
    from types import TracebackType

    from acquire.errors import LinkError


class Chunk(NamedTuple):
    """Bytes that arrived together."""

    arrival: float
    """Seconds on the link's clock, never decreasing: host seconds when live, recorded seconds in a replay."""
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class BluetoothState:
    """What a Bluetooth sensor is like now."""

    signal_dbm: int | None
    """Received strength when it was found; None when it was connected already."""
    battery_pct: int | None
    """None where it does not tell."""


class Link(Protocol):
    """Where bytes come from; every kind of link keeps these rules."""

    @property
    def port(self) -> str:
        """What the link is called in messages."""

    @property
    def finished(self) -> bool:
        """Everything there was has been handed over, as planned; a live sensor never finishes."""

    @property
    def ended(self) -> bool:
        """No more will come, for whatever reason, and everything that came was handed over."""

    @property
    def trouble(self) -> LinkError | None:
        """What is wrong now: silent or stalled (still open), or the error that ended the link."""

    @property
    def bluetooth(self) -> BluetoothState | None:
        """Signal and battery of a Bluetooth sensor; None for all others."""

    def chunks(self) -> list[Chunk]:
        """Return what has arrived since the last call, at once.

        After `close` that is what was left, then nothing.

        Raises
        ------
        LinkError
            If the link has failed and everything before the failure was handed over.
        """

    def wait(self, timeout: float) -> bool:
        """Block until there is something to do, at most `timeout` seconds; return whether there is."""

    def send(self, data: bytes) -> None:
        """Send bytes to the sensor.

        Raises
        ------
        LinkError
            If the sensor is gone, does not take them, or the link is closed.
        """

    def close(self) -> None:
        """Let go of the port; a second time does nothing."""

    def __enter__(self) -> Self: ...

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None: ...
