"""The real port under load: 50,000 packets a second for 5 s, from another process, without one lost."""

import struct
import time

import numpy as np
import pytest
from cobs import cobs

from acquire.links import SimulatedLink
from acquire.sensor.profile import Profile

RATE_HZ = 50_000.0
SECONDS = 5
FRAME_S = 1 / 60
"""How often the window takes what has arrived."""


@pytest.mark.slow
@pytest.mark.timeout(120)
def test_fifty_thousand_packets_a_second_lose_none():
    profile = Profile(
        name="test-load",
        title="one sample a packet, as fast as it goes",
        framing="packets",
        rate_hz=RATE_HZ,
        rated_force_n=1000.0,
        counts_per_newton=100.0,
    )
    counts = np.arange(int(RATE_HZ) * SECONDS) % 10_000
    began = time.monotonic()
    received = bytearray()
    # With --overrun the device waits for nobody: what it cannot keep is gone, and a number is missing. It keeps
    # 2.7 s, for the sake of a busy computer that lets a process sleep; a reader too slow by half loses.
    options = ("--overrun", "--buffer", "2000000")
    with SimulatedLink(profile, counts, samples_per_packet=1, options=options) as link:
        while not link.finished:
            link.wait(FRAME_S)
            received += b"".join(chunk.data for chunk in link.chunks())
            assert time.monotonic() - began < SECONDS + 60
    frames = bytes(received).split(b"\x00")
    assert frames.pop() == b""
    # An independent decoder, on the format of hardware_notes/wire_formats.md.
    sequences = np.array([struct.unpack_from("<2xH", cobs.decode(frame))[0] for frame in frames])
    assert len(sequences) == len(counts)
    assert np.array_equal(sequences, np.arange(len(counts)) % 65_536)
