"""A Bluetooth force sensor for tests: what it is called, and what it notifies."""

import numpy as np
from peer import Peer

from acquire.decoders.packets import packet_body
from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import GOOD, recording

PACKETS = load_profile("ble-packets")
LINES = load_profile("ble-lines")
NAME, ADDRESS = "Grip-01", "C0:FF:EE:00:00:01"
OTHER_ADDRESS = "C0:FF:EE:00:00:02"


def grip(profile=PACKETS, **changed):
    """Return a sensor of a profile."""
    return Peer(**{"name": NAME, "service": profile.service, "characteristic": profile.characteristic, **changed})


def packets(counts, *, size=10, rate_hz=PACKETS.rate_hz, sequence=0):
    """Return counts as a Bluetooth sensor notifies them, from a packet number on."""
    step = PACKETS.tick_hz / rate_hz
    return [
        packet_body(
            (sequence + at // size) % 65536,
            round((sequence * size + at) * step) % 2**32,
            [int(c) for c in counts[at : at + size]],
            count_bits=24,
        )
        for at in range(0, len(counts), size)
    ]


def effort_counts(seed=1):
    """Return the counts of one good effort, with rest before and after it."""
    force = np.nan_to_num(recording((GOOD,), rate_hz=PACKETS.rate_hz, seed=seed).force)
    return np.rint(force * PACKETS.counts_per_newton).astype(int)
