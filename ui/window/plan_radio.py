"""Listening for radio sensors while a plan is made: in a thread, so that the window goes on."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, pyqtSignal

from acquire.errors import LinkError
from ui.model.radio_profile import services_of_profiles

if TYPE_CHECKING:
    from acquire.links.radio import RadioSensor

Listen = Callable[[], "Sequence[RadioSensor]"]


def radio_in_reach() -> Sequence[RadioSensor]:
    """Listen for some seconds; bleak is imported only now, as most plans need none."""
    from acquire.links.radio import radio_sensors  # noqa: PLC0415

    return radio_sensors(services=services_of_profiles())


class RadioSearch(QObject):
    """One search at a time; `found` and `failed` are emitted in the window's thread.

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
        self._thread: threading.Thread | None = None

    @property
    def busy(self) -> bool:
        """Whether a search is under way."""
        return self._thread is not None and self._thread.is_alive()

    def start(self) -> None:
        """Listen, unless that is being done."""
        if not self.busy:
            self._thread = threading.Thread(target=self._run, name="listen for radio sensors", daemon=True)
            self._thread.start()

    def _run(self) -> None:
        try:
            heard = tuple(self._listen())
        except LinkError as error:
            self._emit(self.failed.emit, error)
        else:
            self._emit(self.found.emit, heard)

    @staticmethod
    def _emit(emit: Callable[[object], None], what: object) -> None:
        try:
            emit(what)
        except RuntimeError:  # the window was closed meanwhile
            return
