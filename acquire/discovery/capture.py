"""What a sensor sent, piece by piece, and what the person with it was asked to do meanwhile."""

from __future__ import annotations

import enum
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from acquire.links.base import Chunk
from acquire.values.arrays import FloatArray, IntArray


class Task(enum.StrEnum):
    """What a person is asked to do with the sensor."""

    QUIET = "quiet"
    """Leave it alone."""
    PUSH = "push"
    """Push on it as in a trial."""
    WEIGHT = "weight"
    """A known load hangs on it, still."""


class Asked(NamedTuple):
    """A stretch of time in which something was asked."""

    task: Task
    start: float
    """Seconds on the clock of the arrivals."""
    stop: float
    load_n: float = 0.0
    """Of a known weight, N."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Capture:
    r"""Bytes of a sensor.

    Examples
    --------
    >>> Capture.of([(0.0, b"12"), (0.1, b"3\n")]).data
    b'123\n'
    """

    chunks: tuple[Chunk, ...]
    timed: bool = True
    """False when nobody knows when the bytes arrived: a file of nothing but bytes."""
    datagrams: bool = False
    """Each chunk is a whole notification of a Bluetooth sensor."""
    asked: tuple[Asked, ...] = ()
    service: str = ""
    characteristic: str = ""
    """Of a Bluetooth sensor: where the notifications come from."""

    @classmethod
    def of(cls, chunks: Iterable[tuple[float, bytes]], **more: object) -> Capture:
        """Return a capture of pairs of arrival and bytes."""
        return cls(chunks=tuple(Chunk(*chunk) for chunk in chunks), **more)  # type: ignore[arg-type] # as the fields

    @property
    def data(self) -> bytes:
        """All bytes in a row."""
        return b"".join(chunk.data for chunk in self.chunks)

    @property
    def seconds(self) -> float:
        """From the first arrival to the last; 0 where arrivals are not known."""
        return self.chunks[-1].arrival - self.chunks[0].arrival if self.timed and self.chunks else 0.0

    def arrivals(self, offsets: IntArray) -> FloatArray:
        """Return when the bytes at some offsets arrived, s."""
        ends = np.cumsum([len(chunk.data) for chunk in self.chunks])
        at = np.searchsorted(ends, offsets, side="right")
        return np.array([chunk.arrival for chunk in self.chunks], dtype=np.float64)[at]

    def told(self, task: Task) -> Asked | None:
        """Return the last time a task was asked for; None if it never was."""
        return next((asked for asked in reversed(self.asked) if asked.task is task), None)
