"""`ramphold check`: whether the sensor tells the truth today, and what its counts mean."""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from acquire.calibration import (
    Calibration,
    CalibrationPoint,
    fit_calibration,
    residuals,
    save_calibration,
)
from acquire.errors import CalibrationError, LinkError, LinkFailure
from acquire.gravity import STANDARD_GRAVITY, normal_gravity, weight
from acquire.pipeline import Pipeline
from acquire.recorder import Failed, Finished, LinkLost, Recorder
from acquire.records import FloatArray
from acquire.simulation.efforts import Effort
from ui.opening import OpenSensor, open_sensor
from ui.tables import text_table

LEAST_SAMPLES = 10
"""A look at fewer says nothing of noise and drift."""

WEIGHED_S = 2.0
"""A weight is the mean of this long."""

STILL_SHARE = 0.002
"""A weight hangs still when the two halves of that differ by less than this share of rated force."""

TRIES = 15
"""Looks, one after the other, for a weight to hang still."""

FAR_OFF = 2.0
"""A sensitivity that differs from the profile's by this factor is another sensor's, or no weight hung on it."""

UNLOADED = (Effort(plateau_n=1e-9, sway_pct=0.0, tremor_pct=0.0, hold_s=600.0),)
"""What the simulated sensor plays for a check: nothing hangs on it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What an unloaded sensor was seen to do."""

    seconds: float
    samples: int
    zero_counts: float
    zero_n: float
    """Against the zero of the calibration, N."""
    noise_n: float
    """Standard deviation about the drift, N."""
    drift_n_per_min: float
    drift_uncertainty_n_per_min: float
    """From the noise alone: a short look cannot tell a small drift."""
    rate_hz: float | None
    rate_uncertainty_hz: float | None
    nominal_rate_hz: float
    lost: int
    damaged: int


def run(options: argparse.Namespace) -> int:
    """Look at the sensor, weigh if asked, and print what was found."""
    tell = sys.stderr
    if options.save and not Path(options.save).parent.is_dir():
        raise CalibrationError(
            f"{Path(options.save).parent}: there is no such folder; create it or choose another --save"
        )
    gravity = _gravity(options)
    sensor = open_sensor(options.sensor, port=options.port, calibration=options.calibration, efforts=UNLOADED)
    with sensor.link:
        recorder = Recorder(sensor.link, Pipeline(sensor.profile, sensor.calibration))
        recorder.start()
        try:
            print(f"looking at {sensor.profile.name} for {options.seconds:g} s: leave it unloaded and still", file=tell)
            look = _look(recorder, sensor, options.seconds)
            made = None
            if options.weights:
                points = [_weigh(recorder, sensor, mass, gravity, tell) for mass in options.weights]
                made = _calibrate(points, sensor, options)
        finally:
            recorder.stop()
    if options.json:
        print(json.dumps(_as_json(look, made, sensor, gravity), indent=1, allow_nan=False))
    else:
        _show(look, made, sensor, gravity)
    if made is not None and options.save:
        save_calibration(options.save, made)
        print(f"calibration: {options.save}", file=tell)
    return 0


def _gravity(options: argparse.Namespace) -> float:
    if options.gravity is not None:
        return float(options.gravity)
    if options.latitude is not None:
        return normal_gravity(options.latitude, options.height or 0.0)
    return STANDARD_GRAVITY


def _wait(recorder: Recorder, until: Callable[[], bool]) -> None:
    """Wait for samples; a sensor that goes away, falls silent or never speaks ends the check."""
    written, since = recorder.pipeline.ring.written, time.monotonic()
    patience = recorder.pipeline.profile.silent_after_s
    while not until():
        if recorder.pipeline.ring.written != written:
            written, since = recorder.pipeline.ring.written, time.monotonic()
        event = recorder.next_event(0.05)
        if isinstance(event, Failed):
            raise event.error
        if isinstance(event, LinkLost):
            raise event.error
        if isinstance(event, Finished) or time.monotonic() - since > patience:
            raise LinkError(
                f"nothing that can be understood came from the sensor within {patience:g} s: check that it is "
                "switched on, and that its profile's baud rate and framing are right",
                port="",
                reason=LinkFailure.SILENT,
            )


def _stretch(recorder: Recorder, seconds: float) -> tuple[FloatArray, FloatArray]:
    """Return times and counts of the next `seconds` of the stream."""
    ring, pipeline = recorder.pipeline.ring, recorder.pipeline
    if not ring.written:
        _wait(recorder, lambda: ring.written > 0)
    start = pipeline.now
    _wait(recorder, lambda: pipeline.now >= start + seconds)
    part = ring.between(start, start + seconds)
    return part.time, part.counts


def _look(recorder: Recorder, sensor: OpenSensor, seconds: float) -> Look:
    time_s, counts = _stretch(recorder, max(seconds, LEAST_SAMPLES / sensor.profile.rate_hz))
    force = sensor.calibration.force(counts)
    drift, level = np.polyfit(time_s - time_s[0], force, 1)
    rest = force - (level + drift * (time_s - time_s[0]))
    noise = float(rest.std(ddof=2)) if len(rest) > 2 else 0.0
    timebase = recorder.pipeline.timebase
    rate = timebase.rate
    return Look(
        seconds=float(time_s[-1] - time_s[0]),
        samples=len(counts),
        zero_counts=float(counts.mean()),
        zero_n=float(force.mean()),
        noise_n=noise,
        drift_n_per_min=60.0 * float(drift),
        drift_uncertainty_n_per_min=60.0 * noise / float(time_s.std() * len(time_s) ** 0.5),
        rate_hz=None if rate is None else rate.rate_hz,
        rate_uncertainty_hz=None if rate is None else rate.uncertainty_hz,
        nominal_rate_hz=sensor.profile.rate_hz,
        lost=timebase.lost,
        damaged=recorder.pipeline.damaged,
    )


def _weigh(recorder: Recorder, sensor: OpenSensor, mass_kg: float, gravity: float, tell: object) -> CalibrationPoint:
    """Ask for a mass and return its load and the mean counts, once it hangs still."""
    what = "take everything off" if mass_kg == 0.0 else f"hang {mass_kg:g} kg on the sensor"
    print(f"{what}, wait until it is still, and press Enter", file=tell, flush=True)  # type: ignore[call-overload]
    if not sys.stdin.readline():
        raise LinkError(
            f"the input ended before {mass_kg:g} kg was confirmed: run the check in a terminal, or answer each "
            "weight with a line",
            port="",
            reason=LinkFailure.FAILED,
        )
    limit = STILL_SHARE * sensor.profile.rated_force_n
    for _ in range(TRIES):
        _, counts = _stretch(recorder, WEIGHED_S)
        half = len(counts) // 2
        moved = abs(float(counts[half:].mean() - counts[:half].mean()) * sensor.calibration.newtons_per_count)
        if moved <= limit:
            load = weight(mass_kg, gravity) if mass_kg else 0.0
            return CalibrationPoint(load_n=load, counts=float(counts.mean()))
        print(f"still moving by {moved:.1f} N: waiting", file=tell, flush=True)  # type: ignore[call-overload]
    raise LinkError(
        f"the load never hung still at {mass_kg:g} kg: hang it so that it cannot swing, and begin again",
        port="",
        reason=LinkFailure.FAILED,
    )


def _calibrate(points: list[CalibrationPoint], sensor: OpenSensor, options: argparse.Namespace) -> Calibration:
    made = fit_calibration(
        points,
        rated_force_n=sensor.profile.rated_force_n,
        limit_counts=sensor.profile.limit_counts,
        serial=options.serial,
        date=datetime.now(UTC).date(),
        by=options.by,
    )
    found, nominal = 1.0 / made.newtons_per_count, sensor.profile.counts_per_newton
    if not 1.0 / FAR_OFF < found / nominal < FAR_OFF:
        raise CalibrationError(
            f"the weights gave {found:.3g} counts a newton where the profile {sensor.profile.name} says {nominal:.3g}: "
            "check that each weight hung on the sensor, and that this is its profile"
        )
    return made


def _show(look: Look, made: Calibration | None, sensor: OpenSensor, gravity: float) -> None:
    rate = (
        "not known: look for longer"
        if look.rate_hz is None
        else f"{look.rate_hz:.3f} +- {look.rate_uncertainty_hz:.3f} Hz (nominal {look.nominal_rate_hz:g})"
    )
    rows = [
        ("zero", f"{look.zero_n:+.2f} N against the calibration's ({look.zero_counts:.1f} counts)"),
        ("noise", f"{look.noise_n:.3f} N (standard deviation)"),
        ("drift", f"{look.drift_n_per_min:+.2f} +- {look.drift_uncertainty_n_per_min:.2f} N a minute"),
        ("sample rate", rate),
        ("lost samples", f"{look.lost} of {look.samples + look.lost}"),
        ("damaged frames", str(look.damaged)),
    ]
    print(text_table(rows, (sensor.profile.name, f"{look.seconds:.1f} s unloaded")))
    if made is None:
        print(f"\n{sensor.calibration.statement(datetime.now(UTC).date())}")
        return
    left = residuals(made)
    table = [
        (f"{point.load_n:.3f}", f"{point.counts:.1f}", f"{newtons:+.3f}", f"{share:+.3f}")
        for point, newtons, share in zip(made.points, left.force_n, left.pct, strict=True)
    ]
    print(f"\nlocal gravity {gravity:.5f} m/s2")
    print(text_table(table, ("load N", "counts", "residual N", "% of rated force")))
    print(f"\n{1.0 / made.newtons_per_count:.3f} counts a newton, zero at {made.zero_counts:.1f} counts")
    print(made.statement(datetime.now(UTC).date()))


def _as_json(look: Look, made: Calibration | None, sensor: OpenSensor, gravity: float) -> dict[str, object]:
    content: dict[str, object] = {
        "sensor": sensor.profile.name,
        "check": asdict(look),
        "calibration": sensor.calibration.statement(datetime.now(UTC).date()),
    }
    if made is not None:
        left = residuals(made)
        content["calibration"] = made.statement(datetime.now(UTC).date())
        content["made"] = {
            "newtons_per_count": made.newtons_per_count,
            "zero_counts": made.zero_counts,
            "gravity_m_per_s2": gravity,
            "points": [
                {"load_n": p.load_n, "counts": p.counts, "residual_n": float(n), "residual_pct_of_rated": float(s)}
                for p, n, s in zip(made.points, left.force_n, left.pct, strict=True)
            ],
        }
    return content
