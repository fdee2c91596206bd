import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.links import Chunk, ReplayLink

RECORDING = [(50.0, b"a"), (50.5, b"b"), (50.5, b"c"), (53.0, b"d")]


def replay(fake_clock, speed=1.0, recording=RECORDING):
    return ReplayLink(recording, speed=speed, clock=fake_clock, sleep=fake_clock.sleep)


def test_chunks_come_with_the_recorded_pauses(fake_clock):
    link = replay(fake_clock)
    assert link.chunks() == [Chunk(50.0, b"a")]
    fake_clock.now += 0.49
    assert link.chunks() == []
    fake_clock.now += 0.02
    assert link.chunks() == [Chunk(50.5, b"b"), Chunk(50.5, b"c")]
    assert not link.finished
    fake_clock.now += 2.5
    assert link.chunks() == [Chunk(53.0, b"d")]
    assert link.finished


def test_double_speed_halves_the_pauses_and_keeps_the_recorded_seconds(fake_clock):
    link = replay(fake_clock, speed=2.0)
    link.chunks()
    fake_clock.now += 0.26
    assert link.chunks() == [Chunk(50.5, b"b"), Chunk(50.5, b"c")]


def test_unlimited_speed_gives_all_at_once(fake_clock):
    link = replay(fake_clock, speed=math.inf)
    assert link.chunks() == [Chunk(*recorded) for recorded in RECORDING]
    assert link.finished


def test_time_starts_when_first_asked(fake_clock):
    link = replay(fake_clock)
    fake_clock.now += 1000.0
    assert link.chunks() == [Chunk(50.0, b"a")]


def test_wait_sleeps_until_the_next_chunk_is_due(fake_clock):
    link = replay(fake_clock)
    link.chunks()
    assert link.wait(10.0)
    assert fake_clock.now == pytest.approx(100.5)


def test_wait_sleeps_no_longer_than_told(fake_clock):
    link = replay(fake_clock)
    link.chunks()
    assert not link.wait(0.2)
    assert fake_clock.now == pytest.approx(100.2)


def test_empty_recording_is_finished_from_the_start(fake_clock):
    link = replay(fake_clock, recording=[])
    assert link.finished
    assert link.wait(10.0)
    assert link.chunks() == []
    assert fake_clock.now == 100.0


def test_closed_early_gives_no_more_and_is_not_finished(fake_clock):
    link = replay(fake_clock, speed=math.inf)
    link.close()
    assert link.chunks() == []
    assert link.ended
    assert not link.finished


@pytest.mark.parametrize("speed", [0.0, -1.0, math.nan])
def test_speed_that_is_not_positive(speed):
    with pytest.raises(ValueError, match=f"speed must be positive, got {speed}"):
        ReplayLink([], speed=speed)


def test_recorded_seconds_that_decrease(fake_clock):
    link = replay(fake_clock, speed=math.inf, recording=[(2.0, b"a"), (1.0, b"b")])
    with pytest.raises(ValueError, match=r"must not decrease, got 1\.0 s after 2\.0 s"):
        link.chunks()


def test_recording_is_read_no_further_than_needed(fake_clock):
    def endless():
        second = 0.0
        while True:
            yield second, b"x"
            second += 1.0

    link = replay(fake_clock, recording=endless())
    assert link.chunks() == [Chunk(0.0, b"x")]


@given(
    pauses=st.lists(st.floats(0.0, 10.0), max_size=20),
    speed=st.floats(0.1, 1000.0),
    steps=st.lists(st.floats(0.0, 5.0), max_size=20),
)
def test_result_does_not_depend_on_speed_or_on_when_it_is_asked(pauses, speed, steps):
    recording, second = [], 7.0
    for number, pause in enumerate(pauses):
        second += pause
        recording.append((second, bytes([number])))
    now = [0.0]
    link = ReplayLink(recording, speed=speed, clock=lambda: now[0], sleep=lambda _: None)
    taken = []
    for step in [*steps, 1e9]:
        taken += link.chunks()
        now[0] += step
    assert taken + link.chunks() == recording
    assert link.finished
