import itertools
import math
from dataclasses import replace

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.decoders import Packet, PacketDecoder, decoder_for
from acquire.sensor.profile import Profile
from acquire.simulation.device import Device, Faults, Player

PACKETS = Profile(
    name="test-packets",
    title="packets for tests",
    framing="packets",
    rate_hz=1000.0,
    rated_force_n=1000.0,
    counts_per_newton=100.0,
)
LINES = Profile(
    name="test-lines",
    title="lines for tests",
    framing="lines",
    columns=("seq", "ms", "counts"),
    rate_hz=80.0,
    rated_force_n=1000.0,
    counts_per_newton=100.0,
)
COMMANDED = msgspec.structs.replace(PACKETS, start="start\n", stop="stop\n")


def frames(profile, counts, most=1000, **settings):
    device = Device(profile, np.asarray(counts), **settings)
    return list(itertools.islice(device.frames(), most))


def packets(profile, counts, **settings):
    return [event for frame in frames(profile, counts, **settings) for event in decoder_for(profile).feed(frame.data)]


def test_packets_carry_counts_ticks_and_sequence():
    assert packets(PACKETS, range(5), samples_per_packet=2) == [
        Packet(0, 0, (0, 1)),
        Packet(1, 2000, (2, 3)),
        Packet(2, 4000, (4,)),
    ]


def test_packet_is_due_when_its_last_sample_is_measured():
    assert [frame.due for frame in frames(PACKETS, range(5), samples_per_packet=2)] == [0.001, 0.003, 0.004]


def test_lines_carry_their_columns_in_order():
    sent = [frame.data for frame in frames(LINES, [7, -8, 9])]
    assert sent == [b"0,0,7\n", b"1,12,-8\n", b"2,25,9\n"]  # 12.5 ms rounds to even


@pytest.mark.parametrize(("column", "second_value"), [("us", b"12500"), ("s", b"0.0125"), ("n", b"2.5"), ("-", b"0")])
def test_line_columns_of_other_kinds(column, second_value):
    profile = msgspec.structs.replace(LINES, columns=("counts", column), zero_counts=50.0)
    sent = frames(profile, [0, 300])[1].data.strip().split(b",")
    assert sent[0] == b"300"
    assert float(sent[1]) == float(second_value)


def test_loop_goes_on_counting():
    assert [(p.sequence, p.counts) for p in packets(PACKETS, range(3), most=4, samples_per_packet=2, loop=True)] == [
        (0, (0, 1)),
        (1, (2, 0)),
        (2, (1, 2)),
        (3, (0, 1)),
    ]


@pytest.mark.slow
def test_sequence_and_tick_wrap():
    profile = msgspec.structs.replace(PACKETS, rate_hz=0.001)
    sent = packets(profile, [0], most=65_538, samples_per_packet=1, loop=True)
    assert [packet.sequence for packet in sent[-3:]] == [65_535, 0, 1]
    assert sent[4].tick == 4_000_000_000
    assert sent[5].tick == 5_000_000_000 - 2**32


@given(
    counts=st.lists(st.integers(-(2**23), 2**23 - 1), min_size=1, max_size=60),
    size=st.integers(1, 20),
)
def test_every_count_is_sent_once_in_order(counts, size):
    sent = packets(PACKETS, counts, samples_per_packet=size)
    assert [count for packet in sent for count in packet.counts] == counts


@pytest.mark.parametrize("profile", [PACKETS, LINES])
def test_corrupt_frame_is_damage_and_hides_no_neighbour(profile):
    sent = frames(profile, range(1000, 1060), samples_per_packet=2, faults=Faults(corrupt_every=10))
    decoder = decoder_for(profile)
    decoder.feed(b"".join(frame.data for frame in sent))
    assert decoder.damaged == len(sent) // 10


def test_corrupt_byte_never_ends_a_frame():
    # At this rate the byte that is made wrong, of the tick, takes every value.
    profile = msgspec.structs.replace(PACKETS, rate_hz=1e6 / 65_536)
    sent = frames(profile, range(256), samples_per_packet=1, faults=Faults(corrupt_every=1))
    for frame in sent:
        assert frame.data.count(0) == 1
        decoder = PacketDecoder()
        decoder.feed(frame.data)
        assert decoder.damaged == 1


def test_stall_loses_what_is_measured_meanwhile():
    faults = Faults(stall_after=0.010, stall_for=0.005)
    sent = packets(PACKETS, range(20), samples_per_packet=1, faults=faults)
    assert [packet.sequence for packet in sent] == [*range(10), *range(15, 20)]


def test_counts_beyond_the_converter_are_clipped():
    assert packets(PACKETS, [2**23, -(2**30)])[0].counts == (2**23 - 1, -(2**23))


@pytest.mark.parametrize("counts", [np.array([]), np.zeros((2, 2), dtype=int), np.array([0.5])])
def test_counts_that_are_no_row_of_whole_numbers(counts):
    with pytest.raises(ValueError, match="counts must be whole numbers in one row, got"):
        Device(PACKETS, counts)


def test_packet_without_samples():
    with pytest.raises(ValueError, match="samples_per_packet must be at least 1, got 0"):
        Device(PACKETS, np.array([1]), samples_per_packet=0)


def player(profile=PACKETS, counts=range(100), **settings):
    chosen = {key: settings.pop(key) for key in ("speed", "held") if key in settings}
    return Player(Device(profile, np.asarray(counts), samples_per_packet=10, **settings), **chosen)


def test_frames_fall_due_with_the_seconds():
    playing = player()
    assert playing.due(50.0) == []
    assert len(playing.due(50.0091)) == 1
    assert playing.wait(50.0091) == pytest.approx(0.0099)
    assert len(playing.due(50.0391)) == 3
    assert not playing.finished
    assert len(playing.due(60.0)) == 6
    assert playing.finished
    assert playing.wait(60.0) is None


def test_speed_shortens_the_seconds():
    playing = player(speed=100.0)
    playing.due(50.0)
    assert len(playing.due(50.0 + 0.000391)) == 4
    assert playing.wait(50.000391) == pytest.approx(0.000099)


def test_unlimited_speed_makes_all_due_but_no_more_than_asked_for():
    playing = player(speed=math.inf)
    assert len(playing.due(50.0, most=6)) == 6
    assert playing.wait(50.0) == 0.0
    assert len(playing.due(50.0)) == 4


@pytest.mark.parametrize("speed", [0.0, -2.0, math.nan])
def test_player_speed_that_is_not_positive(speed):
    with pytest.raises(ValueError, match=f"speed must be positive, got {speed}"):
        player(speed=speed)


def test_held_player_waits_to_be_run():
    playing = player(held=True)
    assert playing.due(50.0) == []
    assert playing.due(99.0) == []
    playing.release(100.0)
    assert len(playing.due(100.0091)) == 1


def test_release_does_not_stand_for_the_start_command():
    playing = player(COMMANDED, held=True)
    playing.release(100.0)
    assert playing.due(200.0) == []


def test_start_command_in_pieces_among_other_bytes():
    playing = player(COMMANDED)
    assert playing.due(50.0) == playing.due(60.0) == []
    playing.receive(b"?\nsta", 60.0)
    playing.receive(b"rt", 61.0)
    assert playing.wait(61.0) is None
    playing.receive(b"\n?", 62.0)
    assert len(playing.due(62.0091)) == 1


def test_stopped_player_goes_on_where_it_stopped():
    playing, reference = player(COMMANDED), player()
    playing.receive(b"start\n", 0.0)
    sent = playing.due(0.025)
    playing.receive(b"stop\n", 0.025)
    assert playing.due(10.0) == []
    playing.receive(b"start\n", 20.0)
    assert playing.due(20.0) == []
    sent += playing.due(21.0)
    reference.due(0.0)
    assert sent == reference.due(1.0)


def test_stop_while_behind_leaves_no_backlog():
    playing = player(COMMANDED)
    playing.receive(b"start\n", 0.0)
    playing.receive(b"stop\n", 0.095)
    playing.receive(b"start\n", 20.0)
    assert len(playing.due(20.0)) == 1


def test_start_and_stop_in_one_piece_leave_it_stopped():
    playing = player(COMMANDED)
    playing.receive(b"start\nstop\n", 0.0)
    assert playing.due(10.0) == []
    playing.receive(b"stop\nstart\n", 10.0)
    assert len(playing.due(10.0091)) == 1


def test_noise_from_the_host_is_not_kept():
    playing = player(COMMANDED)
    for _ in range(100):
        playing.receive(bytes(1000), 0.0)
    assert len(playing._heard) < 1000


@pytest.mark.parametrize("speed", [1.0, math.inf])
def test_unplugged_after_all_that_was_due_before(speed):
    playing = player(speed=speed, faults=replace(Faults(), unplug_after=0.05))
    playing.due(0.0, most=1)
    assert not playing.unplugged(0.0)
    playing.due(1.0)
    assert playing.unplugged(1.0)
    assert not playing.finished
