"""Pictures of the check of a sensor, for those of every place: each stage, after an invented summer of checks."""

from __future__ import annotations

import datetime as dt
import tempfile
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec
import numpy as np
from PyQt6.QtCore import QEventLoop
from PyQt6.QtWidgets import QApplication, QWidget

from acquire.values.units import ForceUnit
from analysis.sensor_check import SensorCheck, find, load_check_limits
from ui.model.check.job import CheckJob
from ui.model.check.log import CheckLog
from ui.model.check.note import SensorName
from ui.model.plan.plan import PlanDraft
from ui.model.theme import Theme
from ui.session.open_sensor import SIMULATED, OpenSensor, open_for_check
from ui.window.check.dialog import CheckDialog
from ui.words.words import Words

SPEED = 25.0
GRABBED = 6
"""The step in which a check under way is grabbed."""
WEIGHTS = "20 5 10"
LATITUDE = "52.1"
CHECKS, DAYS_APART, DROPPED = 14, 9, 9
"""So many checks came before; before one of them the sensor was dropped."""

FileFor = Callable[[str], Path]


def check_pictures(theme: Theme, language: str, file_for: FileFor) -> list[Path]:
    """Carry a check through on the simulated sensor, and return the pictures taken."""
    with tempfile.TemporaryDirectory(prefix="ramphold-pictures-") as scratch:
        log, place = CheckLog(Path(scratch)), QWidget()
        for check in _earlier(_carried_through(_dialog(theme, language, log, place), lambda _: None)):
            log.keep(check)
        taken: list[Path] = []
        dialog = _dialog(theme, language, log, place)

        def grab(name: str) -> None:
            taken.append(file_for(f"check-{name}"))
            dialog.grab().save(str(taken[-1]))

        _carried_through(dialog, grab)
        place.deleteLater()
        return taken


def _dialog(theme: Theme, language: str, log: CheckLog, place: QWidget) -> CheckDialog:
    dialog = CheckDialog(
        Words(language),
        theme,
        ForceUnit.NEWTON,
        job=CheckJob(
            draft=PlanDraft(), sensor=SensorName(profile=SIMULATED), log=log, folder=log.folder, opened=_opened
        ),
        parent=place,
    )
    dialog.setup_page.weights.setText(WEIGHTS)
    dialog.setup_page.latitude.setText(LATITUDE)
    dialog.show()
    return dialog


def _opened(draft: PlanDraft, _: threading.Event) -> OpenSensor:
    return open_for_check(draft.sensor, port=None, calibration=None, speed=SPEED)


def _carried_through(dialog: CheckDialog, grab: Callable[[str], None]) -> SensorCheck:
    """Press where the dialog waits, and return the check."""
    grab("begin")
    dialog.press()
    grabbed = False
    while (run := dialog.run) is not None:
        QApplication.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)
        if not grabbed and run.routine.number == GRABBED:
            grabbed = True
            grab("hang")
    grab("result")
    check = dialog.check
    if check is None:
        raise RuntimeError(dialog.trouble.text())
    dialog.accept()
    dialog.deleteLater()
    return check


def _earlier(check: SensorCheck) -> Iterator[SensorCheck]:
    """Yield checks like one, made before it: some without weights, and the zero further off after a fall."""
    chance, before, replace = np.random.default_rng(3), None, msgspec.structs.replace
    for number in range(CHECKS):
        newtons = 0.15 * chance.standard_normal() + (0.0 if number >= DROPPED else 6.0)
        seen = replace(
            check.unloaded,
            zero_counts=check.unloaded.zero_counts + newtons / check.calibration.newtons_per_count,
            noise_n=check.unloaded.noise_n * (1.0 + 0.1 * chance.random()),
        )
        loaded = None
        if check.loaded is not None and number % 3 == 0:
            share = 1.0 + 0.0006 * chance.standard_normal()
            loaded = replace(check.loaded, counts_per_newton=share * check.loaded.counts_per_newton)
        findings = find(
            seen,
            loaded,
            calibration=check.calibration,
            rated_force_n=check.rated_force_n,
            limits=load_check_limits(),
            before=before,
        )
        before = replace(
            check,
            made=check.made - dt.timedelta(days=DAYS_APART * (CHECKS - number)),
            unloaded=seen,
            loaded=loaded,
            findings=findings,
        )
        yield before
