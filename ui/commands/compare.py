"""`ramphold compare`: one sensor against another that carries the same force."""

from __future__ import annotations

import argparse
import json
import sys
import time
from contextlib import ExitStack
from dataclasses import asdict

from acquire.errors import LinkError, LinkFailure
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import Failed, LinkLost, Recorder
from acquire.values.records import Trace
from analysis.sensor_check.comparison import Comparison, compare
from ui.papers.tables import text_table
from ui.progress import say
from ui.session.open_sensor import OpenSensor, open_sensor

QUIET_S = 2.0
"""Both are left alone for so long first: their zeros."""


def run(options: argparse.Namespace) -> int:
    """Open both sensors, watch them under the same force, and print how they agree."""
    tell = sys.stderr
    with ExitStack() as opened:
        pair = [
            _opened(opened, options.reference, options.reference_port, options.reference_calibration),
            _opened(opened, options.sensor, options.port, options.calibration),
        ]
        recorders = [_started(opened, sensor) for sensor in pair]
        print(f"leave both sensors unloaded for {QUIET_S:g} s", file=tell, flush=True)
        _watch(recorders, QUIET_S)
        zeros = [recorder.pipeline.zero_counts for recorder in recorders]
        print(f"now press one on the other, slowly up and down, for {options.seconds:g} s", file=tell, flush=True)
        _watch(recorders, options.seconds)
        for recorder in recorders:
            recorder.stop()
        reference, sensor = (_trace(recorder, zero) for recorder, zero in zip(recorders, zeros, strict=True))
    try:
        found = compare(reference, sensor)
    except ValueError as error:
        raise LinkError(f"the sensors cannot be compared: {error}", port="", reason=LinkFailure.FAILED) from error
    if options.json:
        content = {"sensor": pair[1].profile.name, "reference": pair[0].profile.name, **asdict(found)}
        print(json.dumps(content, indent=1, allow_nan=False))
    else:
        _show(found, pair[1])
    return 0


def _opened(opened: ExitStack, name: str, port: str | None, calibration: str | None) -> OpenSensor:
    sensor = open_sensor(name, port=port, calibration=calibration, tell=say)
    opened.callback(sensor.link.close)
    return sensor


def _started(opened: ExitStack, sensor: OpenSensor) -> Recorder:
    recorder = Recorder(sensor.link, Pipeline(sensor.profile, sensor.calibration, epoch=0.0))
    recorder.start()
    opened.callback(recorder.stop)
    return recorder


def _watch(recorders: list[Recorder], seconds: float) -> None:
    """Wait until both have sent for so long; a sensor that goes away, or does not speak, ends the comparison."""
    starts = [recorder.pipeline.now for recorder in recorders]
    deadline = time.monotonic() + 2.0 * seconds + 10.0
    while any(r.pipeline.now - start < seconds for r, start in zip(recorders, starts, strict=True)):
        for recorder in recorders:
            event = recorder.next_event(0.05)
            if isinstance(event, Failed | LinkLost):
                raise event.error
        if time.monotonic() > deadline:
            slow = min(recorders, key=lambda recorder: recorder.pipeline.now)
            raise LinkError(
                f"the sensor on {slow.link.port} does not send: switch it on, and see that its profile is right",
                port=slow.link.port,
                reason=LinkFailure.SILENT,
            )


def _trace(recorder: Recorder, zero_counts: float) -> Trace:
    pipeline = recorder.pipeline
    part = pipeline.ring.since(0)
    force = pipeline.calibration.force(part.counts, zero_counts=zero_counts)
    return Trace.from_samples(pipeline.host.at(part.time), force)


def _show(found: Comparison, sensor: OpenSensor) -> None:
    rated = sensor.profile.rated_force_n

    def newtons(value: float) -> str:
        return f"{value:+.2f} N ({100.0 * value / rated:+.2f} % of rated force)"

    low, high = found.limits_n
    rows = [
        ("compared", f"{found.seconds:.1f} s, {found.span_n[0]:.0f} to {found.span_n[1]:.0f} N"),
        ("gain", f"{found.gain:.4f} +- {found.gain_uncertainty:.4f} (standard uncertainty)"),
        ("offset", newtons(found.offset_n)),
        ("scatter about the line", f"{found.residual_sd_n:.2f} N"),
        ("mean difference", newtons(found.bias_n)),
        ("limits of agreement", f"{low:+.2f} to {high:+.2f} N"),
        ("largest difference", f"{found.largest_n:.2f} N"),
        ("delay against the reference", f"{1e3 * found.lag_s:+.1f} ms"),
    ]
    print(text_table(rows, (sensor.profile.name, "against the reference")))
