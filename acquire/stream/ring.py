"""The ring: the last minutes of the stream in memory, one writer, many readers, no locks.

The writer copies samples in and then moves the count of what was written. A reader copies out and then
looks at the count again: what the writer may have overtaken meanwhile is dropped. So a reader that is
slow loses the oldest samples and never makes the writer wait.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from acquire.values.arrays import FloatArray


class Stretch(NamedTuple):
    """A piece of the stream, and where it ends."""

    time: FloatArray
    """Seconds of the stream, shape (n,)."""
    counts: FloatArray
    """What the sensor sent, shape (n,)."""
    end: int
    """The number of the sample after the last one: give it to `since` for what comes next."""


class Ring:
    """The last `capacity` samples of a stream.

    Examples
    --------
    >>> ring = Ring(4)
    >>> ring.append(np.arange(6.0), np.arange(6.0) * 10.0)
    >>> ring.since(0).counts.tolist()
    [20.0, 30.0, 40.0, 50.0]
    """

    def __init__(self, capacity: int) -> None:
        if capacity < 1:
            raise ValueError(f"capacity must be at least 1 sample, got {capacity}")
        self._capacity = capacity
        self._time = np.empty(capacity)
        self._counts = np.empty(capacity)
        self._begun = 0
        self._written = 0

    @property
    def written(self) -> int:
        """How many samples have been written since the beginning."""
        return self._written

    def append(self, time: FloatArray, counts: FloatArray) -> None:
        """Write samples; for the one writer only."""
        count = len(time)
        start = self._written % self._capacity
        self._begun = self._written + count
        if start + count <= self._capacity:  # nearly always
            self._time[start : start + count] = time
            self._counts[start : start + count] = counts
            self._written = self._begun
            return
        kept = min(count, self._capacity)
        _write(self._time, self._begun - kept, time[count - kept :])
        _write(self._counts, self._begun - kept, counts[count - kept :])
        self._written = self._begun

    def since(self, number: int) -> Stretch:
        """Return the samples from `number` on that are still here, oldest first."""
        end = self._written
        start = min(max(number, end - self._capacity, 0), end)
        time, counts = _read(self._time, start, end), _read(self._counts, start, end)
        lost = min(max(self._begun - self._capacity - start, 0), end - start)
        return Stretch(time[lost:], counts[lost:], end)

    def between(self, start: float, stop: float) -> Stretch:
        """Return the samples from `start` to `stop` seconds, both ends included, that are still here."""
        whole = self.since(0)
        low = int(np.searchsorted(whole.time, start, side="left"))
        high = int(np.searchsorted(whole.time, stop, side="right"))
        return Stretch(whole.time[low:high], whole.counts[low:high], whole.end - len(whole.time) + high)


def _write(buffer: FloatArray, start: int, values: FloatArray) -> None:
    """Write values from a running number on, round the end of the buffer if need be."""
    at = start % len(buffer)
    until_end = min(len(values), len(buffer) - at)
    buffer[at : at + until_end] = values[:until_end]
    buffer[: len(values) - until_end] = values[until_end:]


def _read(buffer: FloatArray, start: int, end: int) -> FloatArray:
    """Return a copy from one running number to another, round the end of the buffer if need be."""
    at = start % len(buffer)
    until_end = buffer[at : at + end - start]
    if len(until_end) == end - start:  # nearly always
        return until_end.copy()
    return np.concatenate([until_end, buffer[: end - start - len(until_end)]])
