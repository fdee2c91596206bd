"""The check of a sensor as a dialog over Plan: weights are asked for, taken when they hang still, judged and kept.

The button that goes on has the focus at each stage, so that the space bar, or a foot switch that presses it, does
the next sensible thing: begin, end the look or take what hangs there, close.
"""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import QTimer, pyqtSignal
from PyQt6.QtGui import QCloseEvent
from PyQt6.QtWidgets import QDialog, QFileDialog, QHBoxLayout, QLabel, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from acquire.errors import AcquireError, CalibrationError
from acquire.sensor.calibration_file import save_calibration
from acquire.values.units import ForceUnit
from analysis.errors import AnalysisError
from analysis.sensor_check import SensorCheck
from ui.model.check.fields import setup_like
from ui.model.check.job import CheckJob
from ui.model.stage.trouble_text import trouble_sentence
from ui.model.theme import Theme
from ui.session.check_routine import State
from ui.session.check_run import CheckRun
from ui.session.check_setup import CheckError
from ui.window.check.curves import CheckCurves
from ui.window.check.pages import ResultPage, RunPage, SetupPage, quiet
from ui.window.widgets.connecting import opened_aside
from ui.window.widgets.panels import say
from ui.words.words import Words

FRAME_MS = 50
SIZE = (1080, 700)


def pick_calibration(start: str) -> str:
    """Ask the user for a file to write a calibration to."""
    return QFileDialog.getSaveFileName(None, "", start, "*.toml")[0]


class CheckDialog(QDialog):
    """One check of the sensor of a plan; `calibrated` gives the file of a calibration that was saved.

    Parameters
    ----------
    words, theme, unit
        Language, colours and unit of force.
    job : CheckJob
        What is checked, by which limits, and where the check is stored.
    parent : QWidget
        The place it lies over.
    pick : callable
        How the user picks a file.
    """

    calibrated = pyqtSignal(str)

    def __init__(
        self,
        words: Words,
        theme: Theme,
        unit: ForceUnit,
        *,
        job: CheckJob,
        parent: QWidget,
        pick: Callable[[str], str] = pick_calibration,
    ) -> None:
        super().__init__(parent)
        self._words, self._job, self._pick = words, job, pick
        self.run: CheckRun | None = None
        """The check under way."""
        self.check: SensorCheck | None = None
        """The check that was made."""
        self.setWindowTitle(f"{words('check.title')}: {job.sensor.profile}")
        self.resize(*SIZE)
        serial = job.sensor.serial
        self.setup_page = SetupPage(words, setup_like(job.last(serial), serial=serial), job.limits.procedure)
        self.run_page = RunPage(words, theme, unit)
        self.result_page = ResultPage(words)
        self.curves = CheckCurves(words, theme)
        self.trouble = QLabel()
        self.trouble.setObjectName("bad")
        self.trouble.setWordWrap(True)
        self._buttons()
        self._lay_out()
        self._timer = QTimer(self)
        self._timer.setInterval(FRAME_MS)
        self._timer.timeout.connect(self._tick)
        self._show_history(serial)
        self._stage(self.setup_page)

    def press(self) -> None:
        """Do the next sensible thing: what the main button says."""
        if self.run is not None:
            self.run.routine.press()
        elif self.check is not None:
            self.accept()
        else:
            self._begin()

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Let go of the sensor."""
        self._let_go()
        super().closeEvent(event)

    def done(self, result: int) -> None:
        """Let go of the sensor, however the dialog ends."""
        self._let_go()
        super().done(result)

    # a check

    def _begin(self) -> None:
        try:
            setup = self.setup_page.setup()
            sensor = opened_aside(self._job.open, self._job.draft, self._words, self)
            self.run = self._job.begin(sensor, setup)
        except (AcquireError, AnalysisError) as error:
            self._fail(error)
            return
        self._stage(self.run_page)
        self.run_page.enlarge()
        self._timer.start()

    def _tick(self) -> None:
        run = self.run
        if run is None:
            return
        try:
            run.tick()
            if run.routine.done:
                self._finish(run)
                return
        except AcquireError as error:
            self._let_go()
            self._fail(error)
            return
        self.run_page.show_run(run)
        self.main.setText(self._words("check.take_look" if run.routine.state is State.LOOKING else "check.take"))

    def _finish(self, run: CheckRun) -> None:
        serial = self.setup_page.serial.text().strip()
        check = self._job.finish(run, serial)
        self._let_go()
        path = self._job.log.keep(check)
        self.check = check
        self.result_page.show_check(check, str(path))
        self._show_history(serial)
        self._stage(self.result_page)

    def _let_go(self) -> None:
        self._timer.stop()
        if self.run is not None:
            run, self.run = self.run, None
            run.close()

    def _stop(self) -> None:
        """Abandon a check under way; nothing of it is saved."""
        self._let_go()
        self._stage(self.setup_page)

    def _fail(self, error: AcquireError | AnalysisError) -> None:
        self._stage(self.setup_page)
        say(self.trouble, f"! {self._sentence(error)}")

    def _sentence(self, error: AcquireError | AnalysisError) -> str:
        if isinstance(error, CheckError):
            return error.phrase.said(self._words)
        if isinstance(error, AnalysisError | CalibrationError):
            return str(error)
        return trouble_sentence(error, self._words)

    # what came of it

    def _save(self) -> None:
        made = self.check.made_calibration() if self.check is not None else None
        if self.check is None or made is None:
            return
        path = self._pick(str(self._job.calibration_path(self.check)))
        if not path:
            return
        try:
            save_calibration(path, made)
        except CalibrationError as error:
            say(self.trouble, f"! {error}")
            return
        say(self.told, self._words("check.saved", file=path))
        self.calibrated.emit(path)

    def _show_history(self, serial: str) -> None:
        self.curves.show_checks(self._job.history(serial))

    # how it looks

    def _stage(self, page: QWidget) -> None:
        """Show a page, with the buttons that go with it; the one that goes on has the focus."""
        self.stack.setCurrentWidget(page)
        running, over = page is self.run_page, page is self.result_page
        say(self.trouble, "")
        words = self._words
        self.main.setText(words("check.take_look" if running else "check.close" if over else "check.begin"))
        self.stop.setText(words("check.stop" if running else "check.close"))
        self.stop.setVisible(not over)
        self.again.setVisible(over)
        has_loads = over and self.check is not None and self.check.loaded is not None
        self.save.setVisible(has_loads)
        self.history.setVisible(not running)
        self.curves.setVisible(not running)
        empty = page is self.setup_page and not self.setup_page.weights.text()
        (self.setup_page.weights if empty else self.main).setFocus()

    def _again(self) -> None:
        self.check = None
        say(self.told, "")
        fresh = ResultPage(self._words)
        self.stack.removeWidget(self.result_page)
        self.result_page.deleteLater()
        self.result_page = fresh
        self.stack.addWidget(fresh)
        self._stage(self.setup_page)

    def _buttons(self) -> None:
        self.main, self.stop, self.again, self.save = (QPushButton() for _ in range(4))
        self.main.setObjectName("main")
        self.main.setDefault(True)
        self.again.setText(self._words("check.again"))
        self.save.setText(self._words("check.save"))
        for button, act in (
            (self.main, self.press),
            (self.again, self._again),
            (self.save, self._save),
            (self.stop, lambda: self._stop() if self.run is not None else self.reject()),
        ):
            button.setAutoDefault(button is self.main)
            button.clicked.connect(act)

    def _lay_out(self) -> None:
        self.stack = QStackedWidget()
        for page in (self.setup_page, self.run_page, self.result_page):
            self.stack.addWidget(page)
        self.told = quiet("")
        self.told.hide()
        self.history = quiet(self._words("check.history"))
        row = QHBoxLayout()
        row.addWidget(self.told, 1)
        row.addStretch(1)
        for button in (self.stop, self.again, self.save, self.main):
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 16, 18, 14)
        column.setSpacing(10)
        column.addWidget(self.stack, 1)
        column.addWidget(self.trouble)
        column.addWidget(self.history)
        column.addWidget(self.curves)
        column.addLayout(row)
