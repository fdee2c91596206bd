"""Hours of a 1 kHz sensor, in packets of ten, made as they are asked for: an effort each minute."""

import numpy as np

from acquire.decoders import encode_packet
from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import GOOD, simulate

PROFILE = load_profile("packets-1k")
SIZE = 10
MINUTE = 60_000


def long_stream(seconds):
    """Yield (arrival, bytes) of so many seconds; the wrap of every counter comes many times over."""
    force = np.zeros(MINUTE)
    played = simulate(GOOD, rate_hz=1000.0, seed=1).trace.force
    force[20_000 : 20_000 + len(played)] = played
    force += np.random.default_rng(1).normal(0.0, 0.2, MINUTE)
    counts = np.rint(force * PROFILE.counts_per_newton).astype(int).reshape(-1, SIZE).tolist()
    for number in range(round(seconds * 1000) // SIZE):
        tick = number * SIZE * 1000 % 2**32
        data = encode_packet(number % 65536, tick, counts[number % len(counts)], count_bits=24)
        yield (number + 1) * SIZE / 1000.0, data


def resident_mb():
    """Return the memory of this process, MB."""
    with open("/proc/self/statm") as file:  # noqa: PTH123 - a device, not a path of ours
        return int(file.read().split()[1]) * 4096 / 1e6
