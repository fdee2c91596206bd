"""A recorder at work, and a sensor on a port that is played as fast as it is read."""

import time
from contextlib import contextmanager

import msgspec
import numpy as np

from acquire.links import ReplayLink, SerialLink
from acquire.sensor.profile import load_profile
from acquire.simulation.device import Device
from acquire.simulation.efforts import Effort, recording
from acquire.simulation.pty import PseudoTerminal
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import (
    Recorder,
)

LIMIT_S = 20.0

PROFILE = msgspec.structs.replace(load_profile("packets-1k"), start="", stop="")
"""A sensor that waits for no command."""

PERSON = Effort(ramp_s=1.0, hold_s=1.5)


def measured(*efforts, seed=1):
    force = recording(efforts or (PERSON,), rate_hz=PROFILE.rate_hz, seed=seed).force
    return np.rint(force * PROFILE.counts_per_newton).astype(np.int32)


def sent(counts):
    return [tuple(frame) for frame in Device(PROFILE, counts).frames()]


def pipeline():
    return Pipeline(PROFILE, PROFILE.nominal_calibration())


def replay(*efforts):
    return ReplayLink(sent(measured(*efforts)), speed=float("inf"))


def until(condition):
    """Wait for a condition; fail when it does not come true in time."""
    end = time.monotonic() + LIMIT_S
    while not condition():
        assert time.monotonic() < end, "the condition did not come true in time"
        time.sleep(0.001)


def next_event(recorder):
    event = recorder.next_event(LIMIT_S)
    assert event is not None, "nothing happened in time"
    return event


def events_until(recorder, kind):
    """Every event up to the first of a kind."""
    events = [next_event(recorder)]
    while not isinstance(events[-1], kind):
        events.append(next_event(recorder))
    return events


@contextmanager
def recording_from(link, **kwargs):
    """A recorder at work, stopped in any case."""
    recorder = Recorder(link, kwargs.pop("pipeline", None) or pipeline(), **kwargs)
    recorder.start()
    try:
        yield recorder
    finally:
        recorder.stop()


class Clock:
    """Seconds that pass only when told."""

    now = 100.0

    def __call__(self):
        return self.now


class Sensor:
    """A sensor on a port that keeps its name, played by the test as fast as it is read.

    Its link's clock stands still, so that a slow test is no stall.
    """

    def __init__(self, path):
        self.path = path
        self.clock = Clock()
        self.terminal = PseudoTerminal(path)

    def link(self, kind=SerialLink):
        return kind.for_profile(self.terminal.port, PROFILE, clock=self.clock)

    def plug_in(self):
        self.clock.now += 1.0
        self.terminal = PseudoTerminal(self.path)

    def unplug(self):
        self.terminal.close()

    def send(self, frames, recorder):
        """Write frames; return when the recorder has taken all their samples, since a hang-up loses the rest."""
        before = recorder.pipeline.ring.written
        data = memoryview(b"".join(data for _, data in frames))

        def written():
            nonlocal data
            data = data[self.terminal.write(data[:1024]) :]
            return not data

        until(written)
        until(lambda: recorder.pipeline.ring.written == before + 10 * len(frames))


def part(counts, trial):
    """Whether a trial's counts are a stretch of those that were measured."""
    (starts,) = np.nonzero(counts == trial.counts[0])
    return any(np.array_equal(counts[at : at + len(trial.counts)], trial.counts) for at in starts)
