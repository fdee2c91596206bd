"""What a sensor sends while somebody leaves it alone, pushes for three seconds and lets go: all of it invented."""

import itertools
from typing import NamedTuple

import numpy as np
from cobs import cobs

from acquire.discovery import Asked, Capture, Task
from acquire.simulation.device import Device

QUIET = Asked(Task.QUIET, 0.0, 4.0)
PUSH = Asked(Task.PUSH, 4.5, 7.5)
END_S = 9.5
BEGAN_S = 371.25
"""On this computer's clock, when the sensor was heard first."""


def force_of_push(rate_hz, *, push_n=140.0, noise_n=0.05, late_s=0.6, seed=1, seconds=END_S):
    """Newtons, at the sensor's rate, from the first quiet second on."""
    time = np.arange(round(seconds * rate_hz)) / rate_hz
    begin = PUSH.start + late_s
    shape = np.interp(time, [begin, begin + 0.8, begin + 3.2, begin + 3.5], [0.0, 1.0, 0.9, 0.0])
    return push_n * shape + np.random.default_rng(seed).normal(0.0, noise_n, len(time))


TIME = np.arange(0.0, 10.0, 0.0125)


def pushed_counts(low, high, size=-5000.0):
    """Counts at `TIME` of one push between two moments, from a hundred, with noise of five."""
    return np.where((low < TIME) & (high > TIME), size, 100.0) + np.random.default_rng(1).normal(0.0, 5.0, len(TIME))


def counts_of(profile, force):
    return np.rint(force * profile.counts_per_newton + profile.zero_counts).astype(np.int64)


def frames_of(profile, force, **options):
    """(seconds, bytes) of every line or packet."""
    return [(frame.due, frame.data) for frame in Device(profile, counts_of(profile, force), **options).frames()]


def in_bursts(frames, every_s):
    """What arrives when a link hands over only so often; 0 hands over at once."""
    if not every_s:
        return [(BEGAN_S + due, data) for due, data in frames]
    grouped = itertools.groupby(frames, key=lambda frame: int(frame[0] / every_s))
    return [(BEGAN_S + (turn + 1) * every_s, b"".join(data for _, data in group)) for turn, group in grouped]


def asked_from(began_s, *asked):
    return tuple(one._replace(start=one.start + began_s, stop=one.stop + began_s) for one in asked)


def captured(frames, *, every_s=0.0, told=True, **more):
    asked = asked_from(BEGAN_S, QUIET, PUSH) if told else ()
    return Capture.of(in_bursts(frames, every_s), asked=asked, **more)


def as_file(frames):
    """Bytes alone."""
    return Capture.of([(0.0, b"".join(data for _, data in frames))], timed=False)


def as_notifications(frames):
    """Bare bodies, one a notification, as a Bluetooth sensor sends them."""
    return [(due, cobs.decode(data[:-1])) for due, data in frames]


def text_frames(write, *, rate_hz=80.0, end="\r\n", header=(), sign=1, counts_per_newton=800.0, zero=0, **push):
    """(seconds, bytes) of lines that `write(Row)` words."""
    force = sign * force_of_push(rate_hz, **push)
    chance = np.random.default_rng(7)
    first = [(0.0, (line + end).encode()) for line in header]
    rows = (
        Row(n, n / rate_hz, round(float(newtons) * counts_per_newton + zero), float(newtons), int(chance.integers(256)))
        for n, newtons in enumerate(force)
    )
    return first + [(row.seconds, (write(row) + end).encode()) for row in rows]


class Row(NamedTuple):
    """What a line may tell."""

    number: int
    seconds: float
    counts: int
    newtons: float
    random: int
    """0 to 255."""


def dropping(frames, share, *, seed=3):
    """Lose a byte of some lines or packets, never the one that ends it."""
    chance = np.random.default_rng(seed)

    def damaged(data):
        at = int(chance.integers(len(data) - 1)) if len(data) > 1 else 0
        return data[:at] + data[at + 1 :]

    return [(due, damaged(data) if chance.random() < share else data) for due, data in frames]
