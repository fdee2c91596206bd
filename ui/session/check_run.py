"""A check under way: the sensor is read, the routine is fed, and at the end there is a check to be kept."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable
from typing import Self

import numpy as np

from acquire.errors import CalibrationError, LinkDetail, LinkError, LinkFailure
from acquire.simulation.device import load_command
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import Failed, Finished, LinkLost, Recorder
from acquire.values.calibration import Calibration
from acquire.values.gravity import weight
from analysis.sensor_check import (
    CheckLimits,
    Hung,
    LimitsUsed,
    Loaded,
    SensorCheck,
    Stream,
    Unloaded,
    assess_loads,
    assess_unloaded,
    find,
)
from ui.session.check_routine import CheckRoutine
from ui.session.check_setup import CheckSetup, refuse_overload
from ui.session.open_sensor import SIMULATED, OpenSensor

FAR_OFF = 2.0
"""A sensitivity that differs from the profile's by this factor is another sensor's, or no weight hung on it."""


class CheckRun:
    """Carry a check through on an open sensor; close it to let go of the sensor.

    Parameters
    ----------
    sensor : OpenSensor
        Sending; closed with the run. On the simulated one, weights are hung as soon as they are asked for.
    setup : CheckSetup
        What is to be hung.
    limits : CheckLimits
        How it goes, and what is asked.
    clock : callable
        Monotonic seconds of the computer, by which a silent sensor is told.

    Raises
    ------
    CheckError
        If a weight would be too much for the sensor; the sensor is closed.
    """

    def __init__(
        self,
        sensor: OpenSensor,
        setup: CheckSetup,
        limits: CheckLimits,
        *,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._sensor, self._setup, self._limits, self._clock = sensor, setup, limits, clock
        try:
            refuse_overload(setup, sensor.profile.stated_force_n)
        except BaseException:
            sensor.link.close()
            raise
        self._between_runs_pct = limits.procedure.between_runs_pct
        self.routine = CheckRoutine(setup, limits.procedure, sensor.calibration, sensor.profile.rated_force_n)
        self.recorder = Recorder(sensor.link, Pipeline(sensor.profile, sensor.calibration))
        self._seen = 0
        self._fed = clock()
        self._hands_kg = 0.0
        self.recorder.start()

    def tick(self, timeout: float = 0.0) -> None:
        """Feed the routine with what came since the last call.

        Parameters
        ----------
        timeout : float
            Wait for so long at most, s.

        Raises
        ------
        AcquireError
            If the sensor is gone or says nothing that can be understood, or a weight never hangs still.
        """
        self._heed(timeout)
        pipeline = self.recorder.pipeline
        part = pipeline.ring.since(self._seen)
        self._seen = part.end
        if len(part.time):
            self._fed = self._clock()
        elif self._clock() - self._fed > pipeline.profile.silent_after_s:
            raise _silence(pipeline.profile.silent_after_s)
        self.routine.see(part.time, part.counts)
        self._lend_hands()

    def finish(self, *, now: dt.datetime, before: SensorCheck | None) -> SensorCheck:
        """Return the check, once the routine is done.

        Parameters
        ----------
        now : datetime
            When.
        before : SensorCheck, optional
            The last check of the same sensor.

        Raises
        ------
        CalibrationError
            If the counts do not follow the loads, or are far from what the profile says.
        """
        profile, calibration = self._sensor.profile, self._sensor.calibration
        unloaded, loaded = self._unloaded(calibration), self._loaded()
        return SensorCheck(
            made=now,
            sensor=profile.name,
            serial=self._setup.serial,
            by=self._setup.by,
            invented=profile.name == SIMULATED,
            calibration=calibration,
            rated_force_n=profile.rated_force_n,
            limits=LimitsUsed(name=self._limits.name, hash=self._limits.hash),
            gravity=self._setup.gravity,
            mass_tolerance_pct=self._hung.mass_tolerance_pct,
            unloaded=unloaded,
            readings=tuple(self.routine.readings),
            loaded=loaded,
            findings=find(
                unloaded,
                loaded,
                calibration=calibration,
                rated_force_n=profile.rated_force_n,
                limits=self._limits,
                before=before,
            ),
        )

    def close(self) -> None:
        """Let go of the sensor."""
        self.recorder.stop()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def _hung(self) -> Hung:
        own = self._setup.mass_tolerance_pct
        tolerance = self._limits.masses.tolerance_pct if own is None else own
        return Hung(gravity=self._setup.gravity, mass_tolerance_pct=tolerance)

    def _unloaded(self, calibration: Calibration) -> Unloaded:
        look = self.routine.look
        if look is None:
            raise ValueError("the check is not done")
        return assess_unloaded(look, calibration, self._stream())

    def _stream(self) -> Stream:
        pipeline = self.recorder.pipeline
        rate, lost = pipeline.flow
        return Stream(
            nominal_rate_hz=pipeline.profile.rate_hz,
            rate_hz=None if rate is None else rate.rate_hz,
            rate_uncertainty_hz=None if rate is None else rate.uncertainty_hz,
            samples=pipeline.ring.written,
            lost=lost,
            damaged=pipeline.damaged,
        )

    def _loaded(self) -> Loaded | None:
        routine, profile = self.routine, self._sensor.profile
        if not routine.readings:
            return None
        steps = self._unloaded(self._sensor.calibration).step_counts
        loaded = assess_loads(
            routine.readings,
            routine.creep,
            self._hung,
            rated_force_n=profile.rated_force_n,
            step_counts=steps,
            between_runs_pct=self._between_runs_pct,
        )
        found, nominal = loaded.counts_per_newton, profile.counts_per_newton
        if profile.sensitivity == "nominal" and not 1.0 / FAR_OFF < found / nominal < FAR_OFF:
            raise CalibrationError(
                f"the weights gave {found:.3g} counts a newton where the profile {profile.name} says {nominal:.3g}: "
                "check that each weight hung on the sensor, and that this is its profile"
            )
        return loaded

    def _heed(self, timeout: float) -> None:
        """Raise what ends a check; that the sensor is silent is told by what comes, or does not."""
        event = self.recorder.next_event(timeout)
        while event is not None:
            if isinstance(event, Failed | LinkLost):
                raise event.error
            if isinstance(event, Finished):
                raise _silence(self.recorder.pipeline.profile.silent_after_s)
            event = self.recorder.next_event(0.0)

    def _lend_hands(self) -> None:
        """Hang on the simulated sensor what is asked for."""
        if self._sensor.profile.name != SIMULATED or self.routine.done:
            return
        mass = self.routine.step.mass_kg
        if mass != self._hands_kg:
            self._hands_kg = mass
            newtons = weight(mass, self._setup.gravity.m_per_s2) if mass else 0.0
            self.recorder.send(load_command(newtons))


def _silence(seconds: float) -> LinkError:
    return LinkError(
        f"nothing that can be understood came from the sensor within {seconds:g} s: check that it is switched on, and "
        "that its profile's baud rate and framing are right",
        port="",
        reason=LinkFailure.SILENT,
        detail=LinkDetail.NOT_UNDERSTOOD,
        seconds=seconds,
    )


def recent(run: CheckRun, seconds: float) -> tuple[np.ndarray, np.ndarray]:
    """Return time (0 is now) and force above the zero of the look, of the last seconds."""
    pipeline = run.recorder.pipeline
    part = pipeline.ring.since(pipeline.ring.written - round(seconds * pipeline.profile.rate_hz))
    now = part.time[-1] if len(part.time) else 0.0
    return part.time - now, pipeline.calibration.force(part.counts) - run.routine.load.zero_n
