"""A bad link: any other link, with a disturbance on the way.

`acquire.simulation.disturbance` decides what happens to the bytes; here it is put around a link. With a disturbance
that disturbs nothing this is the link itself. Only what is read is disturbed; what is sent goes through.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from acquire.errors import LinkError, LinkFailure
from acquire.links.base import Chunk
from acquire.simulation.disturbance import Disturbance, Disturber

if TYPE_CHECKING:
    from collections import Counter
    from types import TracebackType

    from acquire.links.base import BluetoothState, Link

STALLED_AFTER_S = 0.5
"""As on the real links."""


class DisturbedLink:
    r"""A link on whose way things go wrong; a `Link`.

    Parameters
    ----------
    link : Link
        What is disturbed, open; closed with this one.
    disturbance : Disturbance
        What happens.
    frame_end : bytes
        The byte that ends a frame (`acquire.decoders.frame_end`), where frames are disturbed and not chunks.

    Examples
    --------
    >>> from acquire.simulation.disturbance import Duplicate
    >>> from acquire.links import ReplayLink
    >>> good = ReplayLink([(0.0, b"1\n"), (0.1, b"2\n"), (0.2, b"3\n")], speed=float("inf"))
    >>> bad = DisturbedLink(good, Disturbance(duplicate=Duplicate(at_s=(0.1,))), frame_end=b"\n")
    >>> [chunk.data for chunk in bad.chunks()]
    [b'1\n', b'2\n', b'2\n', b'3\n']
    """

    def __init__(self, link: Link, disturbance: Disturbance, *, frame_end: bytes = b"") -> None:
        self._link = link
        self._disturber = Disturber(disturbance, frame_end=frame_end)

    @property
    def port(self) -> str:
        """That of the link."""
        return self._link.port

    @property
    def done(self) -> Counter[str]:
        """How many pieces each kind of disturbance has happened to."""
        return self._disturber.done

    @property
    def finished(self) -> bool:
        """The link has finished, and nothing is held back."""
        return self._link.finished and not self._disturber.holds

    @property
    def ended(self) -> bool:
        """The link has ended, and nothing is held back."""
        return self._link.ended and not self._disturber.holds

    @property
    def trouble(self) -> LinkError | None:
        """That of the link; STALLED too while nothing gets through the disturbance."""
        trouble, still_s = self._link.trouble, self._disturber.still_s
        if trouble is not None or still_s <= STALLED_AFTER_S:
            return trouble
        return LinkError(
            f"nothing has got through the disturbed link to {self.port} for {still_s:.1f} s",
            port=self.port,
            reason=LinkFailure.STALLED,
        )

    @property
    def bluetooth(self) -> BluetoothState | None:
        """That of the link."""
        return self._link.bluetooth

    def chunks(self) -> list[Chunk]:
        """Return what has got through since the last call; see `Link.chunks`."""
        try:
            sent = self._link.chunks()
        except LinkError:
            if left := self._left():
                return left
            raise
        through = [Chunk(*piece) for chunk in sent for piece in self._disturber.feed(*chunk)]
        return through + self._left() if self._link.ended else through

    def wait(self, timeout: float) -> bool:
        """Block until the link has something, or `timeout` seconds are over; it may still be held back then."""
        return self._link.wait(timeout)

    def send(self, data: bytes) -> None:
        """Send bytes to the sensor, undisturbed."""
        self._link.send(data)

    def close(self) -> None:
        """Close the link; a second time does nothing."""
        self._link.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _left(self) -> list[Chunk]:
        return [Chunk(*piece) for piece in self._disturber.finish()]
