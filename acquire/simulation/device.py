"""A simulated sensor without its wire: which bytes it would send, and when.

`Device` is the sensor itself: sample n of the counts is measured n / rate seconds after the start, and a
frame leaves when its last sample is measured. `Player` is its firmware's main loop: it obeys the start
and stop commands and says which frames are due at a given second. Both do no I/O and read no clock;
`acquire.simulation.program` puts them on a pseudo-terminal.
"""

from __future__ import annotations

import contextlib
import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from acquire.decoders import encode_line, encode_packet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from acquire.sensor.profile import Profile

TICK_BITS = 32
CUE = b"go\n"
"""What the host sends when a simulated person is to push; no real sensor knows it."""
LOAD = re.compile(rb"load ([-+.0-9e]{1,32})\n")
"""What the host sends when a load is to be hung on a simulated cell, in newtons; see `load_command`."""
COMMAND_MAX = 256
"""Bytes from the host that are kept while they may still become a command."""


def load_command(newtons: float) -> bytes:
    r"""Return what is sent to hang a load on a simulated cell; 0 takes everything off.

    Examples
    --------
    >>> load_command(49.03325)
    b'load 49.03325\n'
    """
    return f"load {newtons!r}\n".encode()


class Frame(NamedTuple):
    """One packet or one line."""

    due: float
    """Seconds of device time at which the last sample in it is measured."""
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """What goes wrong with a simulated sensor, in seconds of device time; by default nothing."""

    corrupt_every: int = 0
    """Every so many frames one has a wrong byte in it."""
    stall_after: float = math.inf
    stall_for: float = 0.0
    """What is measured in these seconds after `stall_after` is never sent."""
    unplug_after: float = math.inf


class Device:
    """A sensor that measures given counts and speaks the wire format of its profile.

    Parameters
    ----------
    profile : Profile
        Framing, columns, widths and rate.
    counts : ndarray of int, shape (n,)
        What it measures, at the profile's rate; beyond the limits of its converter it clips.
    samples_per_packet : int
        Samples in each packet; a line always holds one.
    loop : bool
        Begin again at the end; sequence numbers and ticks go on.
    faults : Faults
        What goes wrong.

    Raises
    ------
    ValueError
        If the counts are empty, not 1-D or not whole numbers, or a packet would hold no sample.
    """

    def __init__(
        self,
        profile: Profile,
        counts: NDArray[np.integer],
        *,
        samples_per_packet: int = 10,
        loop: bool = False,
        faults: Faults | None = None,
    ) -> None:
        if counts.ndim != 1 or not len(counts) or not np.issubdtype(counts.dtype, np.integer):
            raise ValueError(f"counts must be whole numbers in one row, got {counts.dtype} {counts.shape}")
        if samples_per_packet < 1:
            raise ValueError(f"samples_per_packet must be at least 1, got {samples_per_packet}")
        self.profile = profile
        self.faults = faults or Faults()
        self._counts = np.clip(counts, *profile.limit_counts)
        self._size = samples_per_packet if profile.framing == "packets" else 1
        self._loop = loop

    def frames(self) -> Iterator[Frame]:
        """Yield what the sensor sends, in order; without end if it loops."""
        index = 0
        while self._loop or index * self._size < len(self._counts):
            frame = self._frame(index)
            index += 1
            if not self._stalled(frame.due):
                yield frame

    def cue(self) -> None:
        """Do nothing when told to push: nobody is on this sensor; `acquire.simulation.cued` has somebody."""

    def load(self, newtons: float) -> None:
        """Do nothing when a load is to be hung: nothing can be on this one; `acquire.simulation.cell` can carry it."""

    def _stalled(self, due: float) -> bool:
        return self.faults.stall_after <= due < self.faults.stall_after + self.faults.stall_for

    def _frame(self, index: int) -> Frame:
        first = index * self._size
        counts = self._measured(first)
        encode = self._packet if self.profile.framing == "packets" else self._line
        data = encode(index, first / self.profile.rate_hz, counts)
        if self.faults.corrupt_every and (index + 1) % self.faults.corrupt_every == 0:
            data = self._corrupt(data)
        return Frame((first + len(counts) - 1) / self.profile.rate_hz, data)

    def _measured(self, first: int) -> tuple[int, ...]:
        if not self._loop:
            return tuple(self._counts[first : first + self._size].tolist())
        return tuple(self._counts.take(range(first, first + self._size), mode="wrap").tolist())

    def _packet(self, index: int, seconds: float, counts: tuple[int, ...]) -> bytes:
        return encode_packet(
            index % (1 << self.profile.sequence_bits),
            round(seconds * self.profile.tick_hz) % (1 << TICK_BITS),
            counts,
            count_bits=self.profile.count_bits,
        )

    def _line(self, index: int, seconds: float, counts: tuple[int, ...]) -> bytes:
        values: dict[str, float] = {
            "counts": counts[0],
            "seq": index % (1 << self.profile.sequence_bits),
            "ms": round(seconds * 1e3) % (1 << TICK_BITS),
            "us": round(seconds * 1e6) % (1 << TICK_BITS),
            "s": seconds,
            "n": (counts[0] - self.profile.zero_counts) / self.profile.counts_per_newton,
            "value": float(counts[0]),
            "-": 0,
        }
        return encode_line([values[column] for column in self.profile.columns], self.profile.separator)

    def _corrupt(self, data: bytes) -> bytes:
        """Make the middle byte wrong: so that it shows, and never into an end of frame."""
        middle = (len(data) - 1) // 2
        wrong = ord("?") if self.profile.framing == "lines" else data[middle] ^ 0x55 or 0xAA
        return data[:middle] + bytes([wrong]) + data[middle + 1 :]


class Player:
    """A sensor under way: started and stopped by the host's commands, at a given speed.

    A stopped sensor goes on where it stopped.

    Parameters
    ----------
    device : Device
        What is played; without a start command in its profile it runs from the first call of `due` on,
        unless it is held.
    speed : float
        Seconds of device time in one second; ``math.inf`` as fast as it can.
    held : bool
        Wait for `release`, where there is no start command to wait for.
    """

    def __init__(self, device: Device, *, speed: float = 1.0, held: bool = False) -> None:
        if not speed > 0:
            raise ValueError(f"speed must be positive, got {speed}")
        self._device = device
        self._frames = device.frames()
        self._next = next(self._frames, None)
        self._unplug_after = device.faults.unplug_after
        self._start = device.profile.start.encode()
        self._stop = device.profile.stop.encode()
        self._speed = speed
        self._heard = b""
        self._position = 0.0
        self._since: float | None = None
        self._waits = held or bool(self._start)

    @property
    def finished(self) -> bool:
        """All has been sent."""
        return self._next is None

    def unplugged(self, now: float) -> bool:
        """Whether the plug is to be pulled now: all due before was returned."""
        before = self._next is not None and self._next.due <= self._unplug_after
        return not before and self._seconds(now) >= self._unplug_after < math.inf

    def receive(self, data: bytes, now: float) -> None:
        """Obey the host's commands, however they are cut into pieces."""
        self._heard += data
        while found := self._first_command():
            at, command = found
            self._heard = self._heard[at + len(command) :]
            if command == CUE:
                self._device.cue()
            elif load := LOAD.fullmatch(command):
                self._hang(load[1])
            elif command == self._start:
                self.run(now)
            else:
                self.halt(now)
        self._heard = self._heard[-COMMAND_MAX:]

    def release(self, now: float) -> None:
        """Let a held sensor run; one with a start command goes on waiting for that."""
        if not self._start:
            self.run(now)

    def run(self, now: float) -> None:
        """Measure and send from now on."""
        self._waits = False
        if self._since is None:
            self._since = now

    def halt(self, now: float) -> None:
        """Send no more, until run again."""
        self._position = self._seconds(now)
        if self._next is not None:
            self._position = min(self._position, self._next.due)
        self._waits, self._since = True, None

    def due(self, now: float, most: int = 1000) -> list[bytes]:
        """Return the frames that are due and were not returned yet, at most `most` of them."""
        if not self._waits:
            self.run(now)
        seconds = min(self._seconds(now), self._unplug_after)
        frames: list[bytes] = []
        while self._running and self._next is not None and self._next.due <= seconds and len(frames) < most:
            frames.append(self._next.data)
            self._next = next(self._frames, None)
        return frames

    def wait(self, now: float) -> float | None:
        """Return the seconds until the next frame is due; None while there is none to wait for."""
        if not self._running or self._next is None:
            return None
        return max(0.0, (self._next.due - self._seconds(now)) / self._speed)

    @property
    def _running(self) -> bool:
        return self._since is not None

    def _seconds(self, now: float) -> float:
        if self._since is None:
            return self._position
        if math.isinf(self._speed):
            return math.inf
        return self._position + (now - self._since) * self._speed

    def _first_command(self) -> tuple[int, bytes] | None:
        known = (self._start, self._stop, CUE)
        found = [(self._heard.find(command), command) for command in known if command]
        if load := LOAD.search(self._heard):
            found.append((load.start(), load[0]))
        return min(((at, command) for at, command in found if at >= 0), default=None)

    def _hang(self, text: bytes) -> None:
        with contextlib.suppress(ValueError):  # what is no number is no command
            newtons = float(text)
            if math.isfinite(newtons):
                self._device.load(newtons)
