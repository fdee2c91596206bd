"""A simulated sensor as a program of its own: ``python -m acquire.simulation --help``.

It prints the path of its port, waits for the start command of its profile (or, held, for a line on standard
input), plays its counts, and prints ``done BYTES DROPPED`` when all has been written: so many bytes sent, so
many frames dropped. It exits when its standard input ends, so it never outlives the program that started it.
These lines are the program's interface, like the bytes on the port.
"""

from __future__ import annotations

import argparse
import os
import select
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from acquire.errors import ProfileError
from acquire.sensor.profile import load_profile
from acquire.simulation.cell import Cell, LoadedDevice
from acquire.simulation.cued import CuedDevice
from acquire.simulation.device import Device, Faults, Player
from acquire.simulation.pty import PseudoTerminal

if TYPE_CHECKING:
    from collections.abc import Sequence

BURST_S = 0.001
"""Seconds between writes at high rates: a full-speed USB port is asked once a millisecond."""
BUFFER_BYTES = 65_536
"""What a device and its driver hold while nobody reads, before they wait or lose frames."""


class Outbox:
    """Frames on their way to the port.

    When the buffer is full the device waits, or, with `overrun`, loses what it cannot keep.
    """

    def __init__(self, terminal: PseudoTerminal, *, overrun: bool, size: int = BUFFER_BYTES) -> None:
        self._terminal = terminal
        self._overrun = overrun
        self._size = size
        self._waiting = bytearray()
        self.sent = 0
        self.dropped = 0

    @property
    def open(self) -> bool:
        """Whether more frames may be put in."""
        return self._overrun or len(self._waiting) < self._size

    @property
    def empty(self) -> bool:
        """Whether all that was put in has been written."""
        return not self._waiting

    def put(self, frame: bytes) -> None:
        """Take a frame, or drop it whole."""
        if self._overrun and len(self._waiting) + len(frame) > self._size:
            self.dropped += 1
        else:
            self._waiting += frame

    def flush(self) -> None:
        """Write what the port takes now."""
        while self._waiting and (taken := self._terminal.write(self._waiting)):
            del self._waiting[:taken]
            self.sent += taken


def play(player: Player, terminal: PseudoTerminal, outbox: Outbox) -> None:
    """Send and obey until standard input ends or the plug is pulled."""
    told = False
    while True:
        now = time.monotonic()
        if outbox.open:
            for frame in player.due(now):
                outbox.put(frame)
        outbox.flush()
        if outbox.empty and player.unplugged(now):
            return
        if outbox.empty and player.finished and not told:
            told = True
            _tell(f"done {outbox.sent} {outbox.dropped}")
        if not _listen(player, terminal, outbox):
            return


def _listen(player: Player, terminal: PseudoTerminal, outbox: Outbox) -> bool:
    """Wait until there is something to do, obey the host; return False when standard input ends."""
    wait = player.wait(time.monotonic()) if outbox.open else None
    writing = [] if outbox.empty else [terminal]
    ready, _, _ = select.select([sys.stdin, terminal], writing, [], None if wait is None else max(wait, BURST_S))
    if terminal in ready:
        player.receive(terminal.read(), time.monotonic())
    if sys.stdin in ready:
        if not os.read(sys.stdin.fileno(), 4096):
            return False
        player.release(time.monotonic())
    return True


def _tell(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the program; return its exit code."""
    chosen = _parser().parse_args(arguments)
    faults = Faults(
        corrupt_every=chosen.corrupt_every,
        stall_after=chosen.stall_after,
        stall_for=chosen.stall_for,
        unplug_after=chosen.unplug_after,
    )
    try:
        device = _device(chosen, faults)
        player = Player(device, speed=chosen.speed, held=chosen.held)
        with PseudoTerminal(chosen.link) as terminal:
            _tell(terminal.port)
            play(player, terminal, Outbox(terminal, overrun=chosen.overrun, size=chosen.buffer))
    except (ProfileError, OSError, ValueError, msgspec.MsgspecError) as error:
        sys.stderr.write(f"{error}\n")
        return 1
    return 0


def _device(chosen: argparse.Namespace, faults: Faults) -> Device:
    profile, size = load_profile(chosen.profile), chosen.samples_per_packet
    if chosen.cell:
        cell = msgspec.json.decode(chosen.cell.read_bytes(), type=Cell)
        return LoadedDevice(profile, cell, samples_per_packet=size, faults=faults)
    counts = np.load(chosen.counts)
    if chosen.starts:
        return CuedDevice(profile, counts, starts=chosen.starts, samples_per_packet=size, faults=faults)
    return Device(profile, counts, samples_per_packet=size, loop=chosen.loop, faults=faults)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m acquire.simulation",
        description="A simulated sensor on a pseudo-terminal; it ends when its standard input does.",
    )
    add, never = parser.add_argument, Faults()
    add("--profile", required=True, metavar="NAME_OR_FILE", help="the sensor to be")
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--counts", type=Path, metavar="FILE.npy", help="whole counts at the profile's rate")
    what.add_argument("--cell", type=Path, metavar="FILE.json", help="or a load cell: loads are hung when told")
    add("--speed", type=float, default=1.0, help="times real time, or inf (default 1)")
    add("--samples-per-packet", type=int, default=10, metavar="N", help="default 10")
    add("--link", type=Path, metavar="PATH", help="a symbolic link to make to the port")
    add("--starts", type=int, nargs="+", metavar="N", help="where rest and each effort begin: played when cued")
    add("--loop", action="store_true", help="begin again at the end of the counts")
    add("--held", action="store_true", help="without a start command, wait for a line on standard input")
    add("--overrun", action="store_true", help="lose frames when nobody reads, instead of waiting")
    add("--buffer", type=int, default=BUFFER_BYTES, metavar="BYTES", help=f"held meanwhile (default {BUFFER_BYTES})")
    add("--corrupt-every", type=int, default=0, metavar="N", help="make every N-th frame wrong")
    add(
        "--stall-after",
        type=float,
        default=never.stall_after,
        metavar="S",
        help="fall silent after S seconds ...",
    )
    add("--stall-for", type=float, default=never.stall_for, metavar="S", help="... for S seconds")
    add("--unplug-after", type=float, default=never.unplug_after, metavar="S", help="hang up after S seconds")
    return parser
