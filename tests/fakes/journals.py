"""Recordings with a journal, and what was recorded beside what was recovered."""

import random
import time
from datetime import UTC, datetime

import msgspec
import numpy as np

from acquire.sensor.profile import load_profile
from acquire.simulation.device import Device
from acquire.simulation.efforts import Effort, recording
from acquire.storage.journal import JournalWriter
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import (
    Failed,
    Finished,
    Recorder,
    TrialRecorded,
)
from acquire.stream.recovery import JournalHeader
from acquire.values.records import SessionContext, TrialContext
from analysis.trial.protocol import load_protocol

LIMIT_S = 20.0
PROTOCOL = load_protocol("ramp-and-hold")
MORNING = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
SESSION = SessionContext(session="s-1", started=MORNING)
LEFT, RIGHT, BELT = TrialContext(side="left"), TrialContext(side="right"), TrialContext(method="belt")
PERSON = Effort(ramp_s=1.0, hold_s=1.5, rest_before_s=2.0, rest_after_s=2.0)


def profile(name):
    return msgspec.structs.replace(load_profile(name), start="", stop="")


def measured(sensor, *efforts, seed=1):
    force = recording(efforts, rate_hz=sensor.rate_hz, seed=seed).force
    return np.rint(force * sensor.counts_per_newton).astype(np.int32)


def chunks(sensor, counts, *, later=0.0, seed=3):
    """What arrives, some ten milliseconds at a time and cut anywhere."""
    chance = random.Random(seed)
    waiting, arrived = b"", []
    for due, data in Device(sensor, counts, samples_per_packet=16).frames():
        waiting += data
        if chance.random() < 0.3:
            cut = chance.randrange(len(waiting))
            arrived.append((due + later, waiting[:cut]))
            waiting = waiting[cut:]
    return [*arrived, (due + later, waiting)]


def recorded(path, sensor, link, *, plan=(LEFT, RIGHT, BELT), reopen=None):
    """Record a link with a journal; return the trials that the recorder gave."""
    pipeline = Pipeline(sensor, sensor.nominal_calibration())
    recorder = Recorder(link, pipeline, journal=JournalWriter(path, header(sensor)), reopen=reopen)
    recorder.plan(*plan)
    recorder.start()
    trials = []
    while True:
        event = recorder.next_event(LIMIT_S)
        assert event is not None, "nothing happened in time"
        if isinstance(event, TrialRecorded):
            trials.append(event.trial)
        if isinstance(event, Finished | Failed):
            return trials + recorder.stop()


def until(condition):
    """Wait for a condition; fail when it does not come true in time."""
    end = time.monotonic() + LIMIT_S
    while not condition():
        assert time.monotonic() < end, "the condition did not come true in time"
        time.sleep(0.001)


def header(sensor):
    return JournalHeader(session=SESSION, profile=sensor, calibration=sensor.nominal_calibration(), began=MORNING)


def alike(one, other):
    """Whether two trials are the very same but for when, by the wall clock, they began."""
    return (
        one.counts.dtype == other.counts.dtype
        and np.array_equal(one.counts, other.counts)
        and np.array_equal(one.time, other.time)
        and one.zero_counts == other.zero_counts
        and one.calibration == other.calibration
        and one.damage == other.damage
        and undated(one) == undated(other)
    )


def undated(trial):
    return msgspec.structs.replace(trial.context, started=None)


def check_same(found, live):
    assert all(alike(one, other) for one, other in zip(found.trials, live, strict=True))
