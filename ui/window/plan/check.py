"""The check of the sensor from Plan: what is known of the sensor, and the dialog in which it is checked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, pyqtSignal
from PyQt6.QtWidgets import QWidget

from acquire.values.units import ForceUnit
from analysis.sensor_check import load_check_limits
from ui.model.check.job import CheckJob
from ui.model.check.log import FOLDER, CheckLog
from ui.model.check.note import CheckNote, SensorName, check_note, known_as, sensor_name
from ui.model.plan.plan import PlanDraft
from ui.model.plan.remembered import Remembered
from ui.model.theme import Theme
from ui.session.open_sensor import SIMULATED
from ui.words.words import Words

if TYPE_CHECKING:
    from ui.window.check.dialog import CheckDialog


class PlanCheck(QObject):
    """Checks the sensor of a plan; `calibrated` gives the file of a calibration that came of it, `ended` its end.

    Parameters
    ----------
    words, theme, unit
        Language, colours and unit of force.
    remembered : Remembered
        What the program remembers between starts; checks lie beside it.
    place : QWidget
        The place that dialogs lie over.
    now : callable
        The time.
    """

    calibrated = pyqtSignal(str)
    ended = pyqtSignal()

    def __init__(
        self,
        words: Words,
        theme: Theme,
        unit: ForceUnit,
        remembered: Remembered,
        place: QWidget,
        *,
        now: Callable[[], dt.datetime],
    ) -> None:
        super().__init__(place)
        self._words, self._theme, self._unit = words, theme, unit
        self._remembered, self._place, self._now = remembered, place, now
        self.log = CheckLog(remembered.path.parent / FOLDER)
        self.dialog: CheckDialog | None = None
        """The dialog that is open."""

    def note(self, draft: PlanDraft) -> CheckNote | None:
        """Return what is known of the sensor of a plan; None when it cannot be told which one it is."""
        sensor = self._sensor(draft)
        if sensor is None:
            return None
        note = check_note(self.log, sensor, now=self._now(), limits=load_check_limits())
        if sensor.profile == SIMULATED and self.log.last(sensor.profile, sensor.serial) is None:
            return CheckNote(good=True, phrases=())  # an invented sensor need not be checked
        return note

    def open(self, draft: PlanDraft) -> None:
        """Open the dialog on the sensor of a plan."""
        sensor = self._sensor(draft)
        if sensor is None:
            return
        from ui.window.check.dialog import CheckDialog  # noqa: PLC0415 - seldom needed, and slow to import

        dialog = CheckDialog(
            self._words,
            self._theme,
            self._unit,
            job=CheckJob(draft=draft, sensor=sensor, log=self.log, folder=self._remembered.folder(), now=self._now),
            parent=self._place,
        )
        dialog.calibrated.connect(self.calibrated)
        dialog.finished.connect(self._over)
        self.dialog = dialog
        dialog.open()

    def _over(self) -> None:
        if self.dialog is not None:
            self.dialog.deleteLater()
            self.dialog = None
        self.ended.emit()

    def _sensor(self, draft: PlanDraft) -> SensorName | None:
        if not draft.sensor or (draft.port is not None and not draft.port.strip()):
            return None
        found = sensor_name(draft.sensor, draft.calibration)
        return None if found is None else known_as(self.log, found)
