"""A stream in which every sample can be told from all others, sent over a bad link, and what came out of it.

Each count holds the number of its sample in its lowest 16 bits, 0.016 N at most, so that what comes out of the
pipeline is either the sample that was sent at that place, or invented.
"""

import math
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from acquire.decoders import encode_line, frame_body, frame_end, packet_body
from acquire.links import DisturbedLink, ReplayLink
from acquire.sensor.profile import Profile
from acquire.simulation.disturbance import Disturbance, Disturber
from acquire.simulation.efforts import Effort, recording
from acquire.stream.pipeline import Pipeline
from acquire.values.records import Trial

COUNTS_PER_NEWTON = 4e6
NUMBER_BITS = 16
NOTIFICATION = 20
"""Bytes a notification carries with the smallest MTU."""

EFFORT = Effort(plateau_n=220.0, ramp_s=1.3, hold_s=3.7, rest_before_s=1.3, rest_after_s=1.8)


@dataclass(frozen=True, kw_only=True)
class Sensor:
    """A kind of sensor, and how its bytes travel."""

    name: str
    rate_hz: float
    columns: tuple[str, ...] = ()
    """Of lines; none for packets."""
    size: int = 1
    """Samples a packet."""
    radio: bool = False
    """By notifications: a bare packet each, or 20 bytes of lines."""

    @property
    def profile(self):
        return Profile(
            name=self.name,
            title="a sensor of the tests of bad links",
            framing="lines" if self.columns else "packets",
            columns=self.columns,
            count_bits=32,
            rate_hz=self.rate_hz,
            rated_force_n=500.0,
            counts_per_newton=COUNTS_PER_NEWTON,
        )


SENSORS = {
    sensor.name: sensor
    for sensor in (
        Sensor(name="packets", rate_hz=200.0, size=4),
        Sensor(name="datagrams", rate_hz=200.0, size=4, radio=True),
        Sensor(name="seq-lines", rate_hz=80.0, columns=("seq", "counts")),
        Sensor(name="ms-lines", rate_hz=160.0, columns=("ms", "counts")),
        Sensor(name="seq-ms-lines", rate_hz=80.0, columns=("seq", "ms", "counts")),
        Sensor(name="radio-lines", rate_hz=80.0, columns=("seq", "counts"), radio=True),
        Sensor(name="bare-lines", rate_hz=80.0, columns=("counts",)),
    )
}


@dataclass(frozen=True, kw_only=True, eq=False)
class Sent:
    """What a sensor measured and sent."""

    sensor: Sensor
    counts: np.ndarray
    frames: list[tuple[float, bytes]]
    """Seconds at which each was sent, and the bytes."""

    def numbers(self, counts):
        """Return the number of each sample, -1 for one that was never sent."""
        numbers = np.asarray(counts).astype(np.int64) & ((1 << NUMBER_BITS) - 1)
        there = numbers < len(self.counts)
        numbers = np.where(there, numbers, 0)
        return np.where(there & (self.counts[numbers] == counts), numbers, -1)


@lru_cache(maxsize=64)
def sent_by(name, effort=EFFORT, *, slow=0.0):
    """Return what a sensor sends of an effort; it may be slower by a share than its profile says."""
    sensor = SENSORS[name]
    force = recording([effort], rate_hz=sensor.rate_hz).force
    coarse = np.rint(force * COUNTS_PER_NEWTON).astype(np.int64) >> NUMBER_BITS << NUMBER_BITS
    counts = coarse + np.arange(len(force))
    frames = _lines(sensor, counts) if sensor.columns else _packets(sensor, counts)
    return Sent(sensor=sensor, counts=counts, frames=[(due * (1.0 + slow), data) for due, data in frames])


def _packets(sensor, counts):
    for number, at in enumerate(range(0, len(counts), sensor.size)):
        part = counts[at : at + sensor.size].tolist()
        body = packet_body(number % 65536, round(1e6 * at / sensor.rate_hz), part, count_bits=32)
        yield (at + len(part) - 1) / sensor.rate_hz, body if sensor.radio else frame_body(body)


def _lines(sensor, counts):
    lines = []
    for number, count in enumerate(counts.tolist()):
        seconds = number / sensor.rate_hz
        values = {"counts": count, "seq": number % 65536, "ms": round(1e3 * seconds)}
        lines.append((seconds, encode_line([values[column] for column in sensor.columns])))
    return _notifications(lines) if sensor.radio else lines


def _notifications(lines):
    waiting = b""
    for seconds, line in lines:
        waiting += line
        while len(waiting) >= NOTIFICATION:
            yield seconds, waiting[:NOTIFICATION]
            waiting = waiting[NOTIFICATION:]


@dataclass(kw_only=True, eq=False)
class Outcome:
    """What came out."""

    sent: Sent
    trials: list[Trial]
    pipeline: Pipeline
    done: dict[str, int]
    """How many pieces each kind of disturbance happened to."""
    chunks: list[tuple[float, bytes]] = field(repr=False)
    """What arrived."""


def play(sent, disturbance):
    """Send all over the bad link and through the pipeline."""
    chunks, done = received(sent, disturbance)
    trials, pipeline = fed(sent.sensor.profile, chunks)
    return Outcome(sent=sent, trials=trials, pipeline=pipeline, done=done, chunks=chunks)


def fed(profile, chunks):
    """Return the trials of a stream, and the pipeline that found them."""
    pipeline = Pipeline(profile, profile.nominal_calibration())
    trials = [trial for arrival, data in chunks for trial in pipeline.feed(arrival, data)]
    return trials + pipeline.finish(), pipeline


def received(sent, disturbance):
    """Return the chunks that arrive, and what was done to them."""
    if sent.sensor.radio:
        # as the Bluetooth link does it: what is disturbed is the bare notification, and it is framed then
        bad = Disturber(disturbance)
        through = [piece for seconds, data in sent.frames for piece in bad.feed(seconds, data)] + bad.finish()
        framed = bytes if sent.sensor.columns else frame_body
        return [(arrival, framed(data)) for arrival, data in through], dict(bad.done)
    link = DisturbedLink(ReplayLink(sent.frames, speed=math.inf), disturbance, frame_end=frame_end(sent.sensor.profile))
    chunks = []
    while not link.finished:
        chunks += link.chunks()
    return chunks, dict(link.done)


__all__ = ["EFFORT", "SENSORS", "Disturbance", "Outcome", "Sensor", "Sent", "fed", "play", "received", "sent_by"]
