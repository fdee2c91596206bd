"""Listening for Bluetooth sensors while a plan is made: in a thread, so that the window goes on."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, QTimer, pyqtSignal

from acquire.errors import LinkError
from ui.model.plan.bluetooth_profile import services_of_profiles
from ui.window.widgets.background import LOOK_MS

if TYPE_CHECKING:
    from acquire.links.bluetooth_search import BluetoothSensor

Listen = Callable[[], "Sequence[BluetoothSensor]"]


def bluetooth_in_range() -> Sequence[BluetoothSensor]:
    """Listen for some seconds; bleak is imported only now, as most plans need none."""
    from acquire.links.bluetooth_search import bluetooth_sensors  # noqa: PLC0415

    return bluetooth_sensors(services=services_of_profiles())


class BluetoothSearch(QObject):
    """One search at a time; `found` and `failed` are emitted in the window's thread, unless it was closed meanwhile.

    Parameters
    ----------
    listen : callable
        Blocks, and returns what was heard or raises LinkError.
    """

    found = pyqtSignal(object)
    failed = pyqtSignal(object)

    def __init__(self, listen: Listen, parent: QObject) -> None:
        super().__init__(parent)
        self._listen = listen
        self._listening: Listening | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(LOOK_MS)
        self._timer.timeout.connect(self._look)

    @property
    def busy(self) -> bool:
        """Whether a search is under way."""
        return self._listening is not None

    def start(self) -> None:
        """Listen, unless that is being done."""
        if self._listening is None:
            self._listening = Listening(self._listen)
            self._listening.start()
            self._timer.start()

    def _look(self) -> None:
        done = self._listening
        if done is None or done.is_alive():
            return
        self._timer.stop()
        self._listening = None
        if isinstance(done.error, LinkError):
            self.failed.emit(done.error)
        elif done.error is not None:
            raise done.error
        else:
            self.found.emit(done.heard)


class Listening(threading.Thread):
    """A thread that listens once. It touches no widget: one of a window that is closed meanwhile crashes Qt."""

    def __init__(self, listen: Listen) -> None:
        super().__init__(name="listen for Bluetooth sensors", daemon=True)
        self._listen = listen
        self.heard: tuple[BluetoothSensor, ...] = ()
        self.error: BaseException | None = None

    def run(self) -> None:
        """Listen, and keep what came of it."""
        try:
            self.heard = tuple(self._listen())
        except BaseException as error:  # noqa: BLE001 - told, or raised, in the window's thread
            self.error = error
