"""Measuring the examiner's limit: the sensor is opened, looked at, and let go of again."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial

from PyQt6.QtCore import QObject, QTimer, pyqtSignal
from PyQt6.QtWidgets import QWidget

from acquire.errors import AcquireError
from acquire.simulation.efforts import GOOD
from analysis.errors import AnalysisError
from analysis.trial.protocol import load_protocol
from ui.model.plan.plan import PlanDraft
from ui.session.force_watch import ForceWatch
from ui.session.holding import Holding, HoldingLimit
from ui.session.open_sensor import OpenSensor, open_sensor
from ui.window.widgets.connecting import opened_aside
from ui.words.error_text import error_text
from ui.words.words import Words

FRAME_MS = 30


def open_for(draft: PlanDraft, cancelled: threading.Event) -> OpenSensor:
    """Open the sensor of a plan; a simulated one plays a single push."""
    known = draft.calibration or None
    return open_sensor(draft.sensor, port=draft.port, calibration=known, efforts=(GOOD,), cancelled=cancelled)


class LimitMeasurement(QObject):
    """One measurement after the other; `measured` gives newtons, `said` what to do, `ended` that it is over."""

    measured = pyqtSignal(float)
    said = pyqtSignal(str)
    ended = pyqtSignal()

    def __init__(
        self,
        words: Words,
        parent: QWidget,
        *,
        opened: Callable[[PlanDraft, threading.Event], OpenSensor] = open_for,
    ) -> None:
        super().__init__(parent)
        self._words, self._place = words, parent
        self._open = opened
        self._watch: ForceWatch | None = None
        self._limit: HoldingLimit | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(FRAME_MS)
        self._timer.timeout.connect(self._look)

    @property
    def running(self) -> bool:
        """Whether the sensor is open."""
        return self._watch is not None

    def start(self, draft: PlanDraft) -> None:
        """Open the sensor of a plan and wait for the push."""
        try:
            self._limit = HoldingLimit(load_protocol(draft.protocol))
            self._watch = ForceWatch(opened_aside(partial(self._open, draft), draft, self._words, self._place))
        except (AcquireError, AnalysisError) as error:
            self.said.emit(error_text(error, self._words))
            self.ended.emit()
            return
        self.said.emit(self._words("plan.holding.waiting"))
        self._timer.start()

    def stop(self) -> None:
        """Let go of the sensor."""
        self._timer.stop()
        if self._watch is not None:
            watch, self._watch = self._watch, None
            watch.close()
            self.ended.emit()

    def _look(self) -> None:
        watch, limit = self._watch, self._limit
        if watch is None or limit is None:
            return
        try:
            fresh = watch.fresh()
        except AcquireError as error:
            self.said.emit(error_text(error, self._words))
            self.stop()
            return
        for now, force in fresh:
            limit.see(now, force)
        if fresh:
            self.said.emit(self._words(f"plan.holding.{limit.state.value}", seconds=limit.held_s()))
        if limit.state is Holding.DONE and limit.newtons is not None:
            self.measured.emit(limit.newtons)
            self.stop()
