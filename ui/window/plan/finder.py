"""Looking for sensors while Plan is open: what is plugged in is found, named, and looked at in a thread."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from PyQt6.QtCore import QObject, QTimer, pyqtSignal

from acquire.errors import LinkFailure
from acquire.links.ports import PortInfo
from ui.session.find_sensor import Seen, find_on_port, look_over_bluetooth
from ui.window.plan.port import Ports

EVERY_MS = 1500
"""So often the ports are listed."""
TAKE_MS = 50
"""So often the window looks whether a look is over."""
AGAIN = {LinkFailure.BUSY, LinkFailure.NOT_FOUND}
"""What may pass by itself: the port is looked at again."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is looked for."""

    port: str | None
    """The port of the plan, which is looked at first; None for the simulated sensor."""
    profile: str
    """The profile that was used last."""
    bluetooth: bool = False
    """Whether `port` is a Bluetooth sensor in range."""


class SensorFinder(QObject):
    """Looks whether a sensor was plugged in, and what it is; it holds no port for longer than a look.

    `plugged` gives the ports whenever they change, `looking` the port that is looked at, `found` what it is.

    Parameters
    ----------
    ports : callable
        The ports there are.
    wanted : callable
        What the plan wants, asked in the window's thread.
    parent : QObject
        The place.
    """

    plugged = pyqtSignal(object)
    looking = pyqtSignal(str)
    found = pyqtSignal(object)

    def __init__(self, ports: Ports, wanted: Callable[[], Wanted], parent: QObject) -> None:
        super().__init__(parent)
        self._list, self._wanted = ports, wanted
        self.ports: tuple[PortInfo, ...] = ()
        self._looked: set[str] = set()
        self._round: Round | None = None
        self._every, self._take = QTimer(self), QTimer(self)
        self._every.setInterval(EVERY_MS)
        self._every.timeout.connect(self._begin)
        self._take.setInterval(TAKE_MS)
        self._take.timeout.connect(self._taken)

    def start(self) -> None:
        """Begin, and go on until `stop`."""
        if not self._every.isActive():
            self._every.start()
            self._begin()

    def stop(self) -> None:
        """Let go of the port that is looked at, and look at none until `start`."""
        self._every.stop()
        self._take.stop()
        if self._round is not None:
            self._round.cancelled.set()
            self._round.join()
            self._round = None

    def look_again(self) -> None:
        """Look at all ports anew."""
        self._looked.clear()

    def _begin(self) -> None:
        if self._round is None:
            self._round = Round(self._list, self._wanted(), frozenset(self._looked))
            self._round.start()
            self._take.start()

    def _taken(self) -> None:
        done = self._round
        if done is None:
            return
        if done.port and done.port not in self._looked:
            self._looked.add(done.port)
            self.looking.emit(done.port)
        if done.is_alive():
            return
        self._take.stop()
        self._round = None
        if done.ports is not None and done.ports != self.ports:
            self.ports = done.ports
            self.plugged.emit(done.ports)
        self._looked &= {port.device for port in self.ports} | done.own
        if done.seen is not None:
            if done.seen.trouble is not None and done.seen.trouble.reason in AGAIN:
                self._looked.discard(done.seen.port)
            self.found.emit(done.seen)
        if done.error is not None:
            raise done.error


class Round(threading.Thread):
    """A thread that lists the ports and looks at one that is new. It touches no widget, as `plan.bluetooth` says."""

    def __init__(self, ports: Ports, wanted: Wanted, looked: frozenset[str]) -> None:
        super().__init__(name="look for sensors", daemon=True)
        self._list, self._looked = ports, looked
        self.wanted = wanted
        self.cancelled = threading.Event()
        self.ports: tuple[PortInfo, ...] | None = None
        self.own: frozenset[str] = frozenset()
        """The port of the plan, where it is there."""
        self.port = ""
        """What is looked at."""
        self.seen: Seen | None = None
        self.error: BaseException | None = None

    def run(self) -> None:
        """List, and look at one."""
        try:
            self.ports = tuple(self._list())
            self.port = next((port for port in self._candidates(self.ports) if port not in self._looked), "")
            if self.port:
                self.seen = self._look(self.port)
        except BaseException as error:  # noqa: BLE001 - raised in the window's thread
            self.error = error

    def _look(self, port: str) -> Seen | None:
        if self.wanted.bluetooth and port == self.wanted.port:
            return look_over_bluetooth(port, profile=self.wanted.profile, cancelled=self.cancelled)
        return find_on_port(port, chosen=self.wanted.profile, cancelled=self.cancelled)

    def _candidates(self, ports: Sequence[PortInfo]) -> list[str]:
        """Return what may be opened unasked: the port of the plan, and what is on USB."""
        own = self.wanted.port
        there = own is not None and (
            self.wanted.bluetooth or own in {port.device for port in ports} or Path(own).is_char_device()
        )
        self.own = frozenset([own] if own and there else [])
        return [*self.own, *(port.device for port in ports if port.vid and port.device != own)]
