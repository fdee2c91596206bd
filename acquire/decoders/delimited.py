"""What the two framings share: cutting at a delimiter, and coming back into step after damage.

The bytes after the last delimiter are kept for the next call. They are never more than `limit`: where
`limit + 1` bytes stand without a delimiter they are thrown away as one damage, and so is all that
follows up to the next delimiter, in pieces of the same size. A stream without any delimiter, from a
wrong baud rate say, is thus reported steadily and never piles up. Where the pieces end depends on the
bytes alone, not on how they arrive.

A link is opened in the middle of whatever the sensor is sending, so a first frame that is not good is
expected. It gets a reason of its own and counts as no lost sample.
"""

from __future__ import annotations

from abc import ABC, abstractmethod

from acquire.decoders.events import Damage, Event, Reason


class DelimitedDecoder(ABC):
    """A decoder of frames that end with one byte.

    Parameters
    ----------
    delimiter : bytes
        The one byte that ends a frame and is never inside one.
    limit : int
        The most bytes a frame may have, without its delimiter.
    partial : Reason
        What a bad first frame is called.
    samples_per_frame : int
        How many samples are certainly lost with a bad frame.
    """

    def __init__(self, *, delimiter: bytes, limit: int, partial: Reason, samples_per_frame: int) -> None:
        self.damaged = 0
        self._delimiter = delimiter
        self._limit = limit
        self._partial = partial
        self._samples_per_frame = samples_per_frame
        self._rest = b""
        self._in_step = False  # False until a delimiter was seen, and in a frame that is too long
        self._dropping = False

    @property
    def pending(self) -> int:
        """Bytes held back because their frame is not complete."""
        return len(self._rest)

    def feed(self, data: bytes) -> list[Event]:
        """Return what the bytes complete: samples and damage, in the order of the stream.

        Parameters
        ----------
        data : bytes
            The next bytes of the stream, cut anywhere.
        """
        frames = (self._rest + data).split(self._delimiter)
        self._rest = frames.pop()
        events: list[Event] = []
        if frames:
            if not self._in_step:
                self._come_into_step(frames, events)
            self._decode(frames, events)
        if len(self._rest) > self._limit:
            self._drop_rest(events)
        return events

    @abstractmethod
    def _decode(self, frames: list[bytes], events: list[Event]) -> None:
        """Append what the complete frames hold, and hand each bad one to `_refuse`."""

    @abstractmethod
    def _fault(self, frame: bytes) -> Reason | None:
        """Return what is wrong with a frame of allowed length; None for a good or an empty one."""

    def _come_into_step(self, frames: list[bytes], events: list[Event]) -> None:
        first = frames[0]
        if self._dropping:
            self._drop(frames.pop(0), events)
        elif len(first) <= self._limit and self._fault(first):
            self._damage(self._partial, len(frames.pop(0)) + 1, 0, events)
        self._in_step = True
        self._dropping = False

    def _refuse(self, frame: bytes, events: list[Event]) -> None:
        if len(frame) > self._limit:
            self._drop(frame, events)
        elif reason := self._fault(frame):
            self._damage(reason, len(frame) + 1, self._samples_per_frame, events)

    def _drop(self, frame: bytes, events: list[Event]) -> None:
        """Throw away a frame that is too long, its delimiter too."""
        rest = self._drop_whole_pieces(frame, events)
        self._damage(Reason.TOO_LONG, len(rest) + 1, 0, events)
        self._dropping = False

    def _drop_rest(self, events: list[Event]) -> None:
        self._rest = self._drop_whole_pieces(self._rest, events)
        self._in_step = False

    def _drop_whole_pieces(self, data: bytes, events: list[Event]) -> bytes:
        piece = self._limit + 1
        for _ in range(len(data) // piece):
            self._damage(Reason.TOO_LONG, piece, 0 if self._dropping else self._samples_per_frame, events)
            self._dropping = True
        return data[len(data) // piece * piece :]

    def _damage(self, reason: Reason, length: int, samples: int, events: list[Event]) -> None:
        events.append(Damage(reason, length, samples))
        self.damaged += 1
