"""Packets and lines of a sensor, and the time base that places them."""

import numpy as np

from acquire.decoders import Damage, Lines, Packets
from acquire.sensor.profile import Profile
from acquire.timing.selection import time_base_for

TICK_TURN = 2**32


def profile(columns=(), **changes):
    """The profile of a sensor of packets, or of lines with these columns."""
    fields = {
        "name": "test",
        "title": "Test",
        "framing": "lines" if columns else "packets",
        "columns": columns,
        "rate_hz": 80.0 if columns else 1000.0,
        "rated_force_n": 500.0,
        "counts_per_newton": 1.0,
    }
    return Profile(**{**fields, **changes})


def sensor(columns=(), **changes):
    return time_base_for(profile(columns, **changes))


def packet(sequence, *, tick=None, samples=10):
    """A packet of a 1 kHz sensor with a 1 MHz clock, without anything lost before it."""
    at = sequence * samples * 1000 if tick is None else tick
    return single(sequence % 2**16, at % TICK_TURN, samples)


def single(sequence, tick, samples):
    return Packets((sequence,), (tick,), ((0,) * samples,), (samples,))


def lines(samples=1, *, sequence=None, tick_s=None):
    return Lines([0] * samples, sequence, tick_s)


BAD_LINE = Damage("not a number", 9, 1)


def place_all(base, events):
    placed = np.concatenate([base.place(event, arrival) for event, arrival in events])
    return placed[~np.isnan(placed)]  # of those that came before


def steady(first, count, *, delay=0.0):
    return [(lines(1), n / 80 + delay) for n in range(first, first + count)]
