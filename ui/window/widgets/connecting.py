"""Opening the sensor of a plan: at once by cable; by Bluetooth in a thread, under a dialog that can be cancelled.

Looking for a Bluetooth sensor and connecting to it takes seconds, and the window goes on meanwhile.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Generic, TypeVar

from PyQt6.QtCore import pyqtSignal
from PyQt6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QVBoxLayout, QWidget

from acquire.errors import ProfileError
from acquire.sensor.profile import load_profile
from ui.model.plan.plan import PlanDraft
from ui.words.words import Words

Thing = TypeVar("Thing")
Work = Callable[[threading.Event], Thing]
"""Opens something; the event ends the search for a Bluetooth sensor when it is set."""


def opened_aside(work: Work[Thing], draft: PlanDraft, words: Words, parent: QWidget | None) -> Thing:
    """Do the work that opens the sensor of a plan, and return what came of it or raise what it raised.

    Parameters
    ----------
    work : callable
        Opens the sensor.
    draft : PlanDraft
        Names the sensor.
    words : Words
        The language.
    parent : QWidget
        What the dialog lies over.
    """
    if not over_bluetooth(draft):
        return work(threading.Event())
    return Connecting(work, draft.port or draft.sensor, words, parent).outcome()


def over_bluetooth(draft: PlanDraft) -> bool:
    """Return whether the sensor of a plan is a Bluetooth sensor."""
    try:
        return draft.port is not None and load_profile(draft.sensor).link == "bluetooth"
    except ProfileError:  # to be told when the sensor is opened
        return False


class Connecting(QDialog, Generic[Thing]):
    """Says what is looked for until the work is done; Esc and the button give it up."""

    _ended = pyqtSignal()

    def __init__(self, work: Work[Thing], name: str, words: Words, parent: QWidget | None) -> None:
        super().__init__(parent)
        self._work = work
        self._cancelled = threading.Event()
        self._thing: Thing
        self._error: BaseException | None = None
        self._thread = threading.Thread(target=self._run, name=f"open {name}", daemon=True)
        text = words("radio.connecting", name=name)
        self.setWindowTitle(name)
        self.setAccessibleName(text)
        self.buttons = QDialogButtonBox()
        cancel = self.buttons.addButton(words("radio.cancel"), QDialogButtonBox.ButtonRole.RejectRole)
        if cancel is not None:
            cancel.setAccessibleName(words("radio.cancel"))
        self.buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 20, 24, 20)
        column.setSpacing(16)
        column.addWidget(QLabel(text))
        column.addWidget(self.buttons)
        self._ended.connect(self.accept)  # emitted in the thread, and so queued

    def outcome(self) -> Thing:
        """Show the dialog until the work is done; return what came of it, or raise what it raised."""
        self._thread.start()
        self.exec()
        self._thread.join()
        self.deleteLater()
        if self._error is not None:
            raise self._error
        return self._thing

    def reject(self) -> None:
        """Give up; the dialog closes when the sensor has been let go of."""
        self._cancelled.set()
        self.buttons.setEnabled(False)

    def _run(self) -> None:
        try:
            self._thing = self._work(self._cancelled)
        except BaseException as error:  # noqa: BLE001 - raised where the outcome is asked for
            self._error = error
        self._ended.emit()
