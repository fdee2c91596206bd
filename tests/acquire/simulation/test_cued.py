"""A simulated person who pushes when cued."""

import numpy as np
import pytest

from acquire.decoders import PacketDecoder
from acquire.sensor.profile import load_profile
from acquire.simulation.cued import CuedDevice
from acquire.simulation.device import CUE, Player

PROFILE = load_profile("packets-1k")
COUNTS = np.array([0] * 10 + [1] * 5 + [2] * 5, dtype=np.int32)


def played(player, until):
    packets = PacketDecoder().feed(b"".join(player.due(until)))
    return [count for packet in packets for count in packet.counts]


def test_rest_is_repeated_until_a_cue_and_each_cue_plays_the_next_effort():
    device = CuedDevice(PROFILE, COUNTS, starts=[0, 10, 15], samples_per_packet=5)
    player = Player(device)
    player.run(0.0)
    assert set(played(player, 0.05)) == {0}
    player.receive(CUE, 0.05)
    # one frame may have been measured before the cue came
    assert [count for count in played(player, 0.1) if count] == [1] * 5
    player.receive(CUE, 0.1)
    assert [count for count in played(player, 0.15) if count] == [2] * 5
    player.receive(CUE, 0.15)
    assert [count for count in played(player, 0.2) if count] == [1] * 5


@pytest.mark.parametrize("starts", [[0], [5, 10], [0, 30], [0, 10, 10]])
def test_starts_that_are_no_pieces_are_refused(starts):
    with pytest.raises(ValueError, match="starts must begin at 0 and rise within 20 counts"):
        CuedDevice(PROFILE, COUNTS, starts=starts)
