"""A simulated sensor with a person on it who pushes when told to: for the window's demo and its tests.

The counts hold several pieces. The first is rest, and is repeated; each cue plays the next piece
once, and after the last one the first effort comes again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from acquire.sensor.profile import Profile
from acquire.simulation.device import Device, Faults, Frame


class CuedDevice(Device):
    """A sensor that measures rest, and one of several efforts each time it is cued.

    Parameters
    ----------
    profile, counts, samples_per_packet, faults
        As for `Device`.
    starts : sequence of int
        Where each piece of the counts begins; the first, at 0, is rest.

    Raises
    ------
    ValueError
        If there is no piece besides rest, or the starts do not rise within the counts.
    """

    def __init__(
        self,
        profile: Profile,
        counts: NDArray[np.integer],
        *,
        starts: Sequence[int],
        samples_per_packet: int = 10,
        faults: Faults | None = None,
    ) -> None:
        super().__init__(profile, counts, samples_per_packet=samples_per_packet, faults=faults)
        edges = [*starts, len(counts)]
        if len(starts) < 2 or starts[0] != 0 or any(b <= a for a, b in pairwise(edges)):
            raise ValueError(f"starts must begin at 0 and rise within {len(counts)} counts, got {list(starts)}")
        self._pieces = [(edges[i], edges[i + 1]) for i in range(len(starts))]
        self._piece = 0
        self._cursor = 0
        self._played = 0

    def cue(self) -> None:
        """Play the next effort from its beginning."""
        self._piece = 1 + self._played % (len(self._pieces) - 1)
        self._played += 1
        self._cursor = self._pieces[self._piece][0]

    def frames(self) -> Iterator[Frame]:
        """Yield what the sensor sends, without end."""
        index = 0
        while True:
            frame = self._frame(index)
            index += 1
            if not self._stalled(frame.due):
                yield frame

    def _measured(self, first: int) -> tuple[int, ...]:
        del first
        return tuple(self._next_count() for _ in range(self._size))

    def _next_count(self) -> int:
        if self._cursor >= self._pieces[self._piece][1]:
            self._piece, self._cursor = 0, 0
        count = int(self._counts[self._cursor])
        self._cursor += 1
        return count
