"""The sensors of one recording: one, or two on one clock."""

from __future__ import annotations

import argparse
import sys
from contextlib import ExitStack
from dataclasses import dataclass, replace
from types import TracebackType
from typing import Self

import msgspec

from acquire.errors import CalibrationError
from acquire.sensor.calibration_file import far_from_nominal
from acquire.stream.recorder import Recorder
from acquire.values.records import OTHER_SIDE, Side, Trial, TrialContext
from ui.progress import say
from ui.session.crash import journal_path, second_journal_path
from ui.session.open_sensor import OpenSensor, open_sensor
from ui.session.recording import recorder_of
from ui.session.store import SessionStore
from ui.words.bluetooth_text import bluetooth_text
from ui.words.words import Words

EPOCH = 0.0
"""Two sensors count the seconds of the computer's steady clock, which both links stamp their arrivals with."""
UNWATCHED_S = 0.04
"""Between two looks at a sensor where no trace is drawn: a third of the processor time is saved."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensors:
    """One sensor, or two; a with block lets go of them."""

    first: OpenSensor
    second: OpenSensor | None = None
    second_side: Side | None = None
    """The side the second is held at; the other one, where nothing is said."""

    def recorders(self, store: SessionStore) -> Recorders:
        """Return a recorder for each sensor, not yet started."""
        context = store.session.context
        first, second = journal_path(store.path), second_journal_path(store.path)
        if self.second is None:
            return Recorders(sensors=self, first=recorder_of(self.first, context, first, pause_s=UNWATCHED_S))
        return Recorders(
            sensors=self,
            first=recorder_of(self.first, context, first, epoch=EPOCH, pause_s=UNWATCHED_S),
            second=recorder_of(self.second, context, second, epoch=EPOCH, pause_s=UNWATCHED_S),
        )

    def without_verdict_of_second(self, trial: Trial) -> Trial:
        """Return a trial of the session, without its verdict if it is of the second sensor: it counts for nothing."""
        second = self.second is not None and trial.context.sensor == _named(2, self.second)
        return replace(trial, verdict=None) if second else trial

    def bluetooth_lines(self) -> tuple[str, ...]:
        """Return signal and battery of each Bluetooth sensor, a line each."""
        both = [sensor for sensor in (self.first, self.second) if sensor is not None]
        said = [(sensor.link.port, bluetooth_text(sensor.link.bluetooth, Words())) for sensor in both]
        return tuple(f"{port}: {text}" for port, text in said if text)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.first.link.close()
        if self.second is not None:
            self.second.link.close()


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorders:
    """The recorders of one recording."""

    sensors: Sensors
    first: Recorder
    second: Recorder | None = None

    def plan(self, item: TrialContext) -> None:
        """Say what the next trials are."""
        sensors = self.sensors
        if sensors.second is None or self.second is None:
            self.first.plan(item)
            return
        self.first.plan(msgspec.structs.replace(item, sensor=_named(1, sensors.first)))
        side = sensors.second_side or (OTHER_SIDE[item.side] if item.side else None)
        self.second.plan(msgspec.structs.replace(item, side=side, sensor=_named(2, sensors.second)))


def open_sensors(options: argparse.Namespace) -> Sensors:
    """Open the sensor that the options name, and the second one; if that fails, the first is let go of."""
    with ExitStack() as opened:
        first = open_sensor(
            options.sensor,
            port=options.port,
            calibration=options.calibration,
            speed=options.speed,
            zero=options.zero,
            tell=say,
        )
        opened.callback(first.link.close)
        _ask_if_far(first, trusted=options.trust_calibration)
        second = None
        if options.second_sensor:
            second = open_sensor(
                options.second_sensor, port=options.second_port, calibration=options.second_calibration, tell=say
            )
            opened.callback(second.link.close)
            _ask_if_far(second, trusted=options.trust_calibration)
        opened.pop_all()
    return Sensors(first=first, second=second, second_side=options.second_side)


def _ask_if_far(sensor: OpenSensor, *, trusted: bool) -> None:
    """Ask whether a calibration that is far from the nominal sensitivity is the right one; refuse it where not.

    Raises
    ------
    CalibrationError
        If it is not, or nobody can be asked.
    """
    factor = far_from_nominal(sensor.calibration, sensor.profile)
    if factor is None or trusted:
        return
    far = f"by this calibration forces are {factor:.2f} times those of the nominal sensitivity of {sensor.profile.name}"
    if not sys.stdin.isatty():
        raise CalibrationError(f"{far}: if it is of this sensor, say so with --trust-calibration")
    print(f"{far}. Is it of this sensor (y/n)? ", end="", file=sys.stderr, flush=True)
    if not sys.stdin.readline().strip().lower().startswith("y"):
        raise CalibrationError("nothing was recorded: give the calibration of this sensor with --calibration")


def _named(number: int, sensor: OpenSensor) -> str:
    return f"{number}: {sensor.profile.name} at {sensor.link.port}"
