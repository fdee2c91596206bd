"""One check of one sensor, apart from its dialog: how it is opened, the limits it is judged by, where it is stored."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from analysis.sensor_check import CheckLimits, SensorCheck, load_check_limits
from ui.model.check.log import CheckLog
from ui.model.check.note import SensorName
from ui.model.plan.plan import PlanDraft
from ui.session.check_run import CheckRun
from ui.session.check_setup import CheckSetup
from ui.session.open_sensor import OpenSensor, open_for_check
from ui.words.local_time import local_now


def open_sensor_of(draft: PlanDraft, cancelled: threading.Event) -> OpenSensor:
    """Open the sensor of a plan to be checked."""
    return open_for_check(draft.sensor, port=draft.port, calibration=draft.calibration or None, cancelled=cancelled)


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckJob:
    """What is checked, by which limits, and where the check is stored."""

    draft: PlanDraft
    """Names the sensor, its port and its calibration."""
    sensor: SensorName
    log: CheckLog
    folder: Path
    """Where a calibration is suggested to be saved."""
    limits: CheckLimits = field(default_factory=load_check_limits)
    now: Callable[[], dt.datetime] = local_now
    opened: Callable[[PlanDraft, threading.Event], OpenSensor] = open_sensor_of

    def open(self, cancelled: threading.Event) -> OpenSensor:
        """Open the sensor; setting the event ends the search for it."""
        return self.opened(self.draft, cancelled)

    def begin(self, sensor: OpenSensor, setup: CheckSetup) -> CheckRun:
        """Begin the check of an open sensor."""
        return CheckRun(sensor, setup, self.limits)

    def history(self, serial: str) -> tuple[SensorCheck, ...]:
        """Return the stored checks of the sensor with this serial number, the oldest first."""
        return tuple(self.log.all(self.sensor.profile, serial))

    def last(self, serial: str) -> SensorCheck | None:
        """Return the last stored check of the sensor with this serial number."""
        return self.log.last(self.sensor.profile, serial)

    def finish(self, run: CheckRun, serial: str) -> SensorCheck:
        """Return the check that a run comes to, judged beside the one before."""
        return run.finish(now=self.now(), before=self.last(serial))

    def calibration_path(self, check: SensorCheck) -> Path:
        """Return where to suggest saving the calibration of a check."""
        return self.folder / f"{check.serial or check.sensor}_{check.made:%Y-%m-%d}.toml"
