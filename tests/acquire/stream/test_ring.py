"""The ring: what is read is what was written, however late and however fast."""

import threading

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.stream.ring import Ring

STRESS_SAMPLES = 8_000_000
RUNS = 40_000


def filled(capacity, *pieces):
    """A ring with numbered samples, written in pieces of the given lengths."""
    ring, number = Ring(capacity), 0
    for length in pieces:
        numbers = np.arange(number, number + length, dtype=float)
        ring.append(numbers / 8, numbers)
        number += length
    return ring


def test_new_ring_is_empty():
    stretch = Ring(3).since(0)
    assert (stretch.time.tolist(), stretch.counts.tolist(), stretch.end) == ([], [], 0)


def test_samples_come_back_in_order_across_the_wrap():
    ring = filled(5, 4, 3)
    assert ring.since(0).counts.tolist() == [2, 3, 4, 5, 6]
    assert ring.since(0).time.tolist() == [0.25, 0.375, 0.5, 0.625, 0.75]
    assert ring.written == ring.since(0).end == 7


def test_piece_longer_than_the_ring_leaves_its_end():
    assert filled(3, 2, 10).since(0).counts.tolist() == [9, 10, 11]


def test_since_returns_what_is_new():
    ring = filled(8, 5)
    end = ring.since(0).end
    assert ring.since(end).counts.tolist() == []
    ring.append(np.array([5 / 8]), np.array([5.0]))
    assert ring.since(end).counts.tolist() == [5]


@pytest.mark.parametrize("number", [-5, 0, 3])
def test_since_a_sample_that_is_gone_begins_with_the_oldest(number):
    assert filled(4, 9).since(number).counts.tolist() == [5, 6, 7, 8]


def test_since_a_sample_to_come_is_empty():
    stretch = filled(4, 9).since(99)
    assert (stretch.counts.tolist(), stretch.end) == ([], 9)


def test_between_includes_both_ends():
    stretch = filled(10, 10).between(0.25, 0.5)
    assert stretch.counts.tolist() == [2, 3, 4]
    assert stretch.end == 5


def test_between_goes_on_where_since_begins():
    ring = filled(10, 10)
    stretch = ring.between(0.25, 0.5)
    assert ring.since(stretch.end).counts.tolist() == [5, 6, 7, 8, 9]


def test_between_does_not_bring_back_what_was_overwritten():
    assert filled(4, 10).between(0.0, 0.8).counts.tolist() == [6]


@pytest.mark.parametrize(("start", "stop"), [(5.0, 6.0), (-2.0, -1.0), (0.3, 0.31), (0.5, 0.25)])
def test_between_moments_without_samples_is_empty(start, stop):
    assert filled(10, 10).between(start, stop).counts.tolist() == []


def test_what_was_read_does_not_change_later():
    ring = filled(4, 4)
    stretch = ring.since(0)
    ring.append(np.full(4, 9.0), np.full(4, 99.0))
    assert stretch.counts.tolist() == [0, 1, 2, 3]


@pytest.mark.parametrize("capacity", [0, -1])
def test_ring_without_room_is_refused(capacity):
    with pytest.raises(ValueError, match=f"capacity must be at least 1 sample, got {capacity}"):
        Ring(capacity)


@given(st.integers(1, 20), st.lists(st.integers(0, 30), max_size=12), st.integers(-3, 200))
def test_ring_holds_the_end_of_all_that_was_written(capacity, pieces, number):
    written = sum(pieces)
    expected = np.arange(written)[-capacity:] if written else np.arange(0)
    stretch = filled(capacity, *pieces).since(number)
    np.testing.assert_array_equal(stretch.counts, expected[expected >= number])
    np.testing.assert_array_equal(stretch.time, stretch.counts / 8)


def test_reader_never_sees_torn_data_while_a_writer_runs():
    """Sample n is n seconds and -n counts, so a torn or mixed-up one shows."""
    ring, rng = Ring(20_000), np.random.default_rng(20260302)
    lengths = rng.integers(1, 2 * STRESS_SAMPLES // RUNS, RUNS)
    under_way = threading.Event()

    def write():
        number = 0
        for length in lengths:
            time = np.arange(number, number + length, dtype=float)
            ring.append(time, -time)
            number += length
            under_way.set()

    writer = threading.Thread(target=write)
    writer.start()
    assert under_way.wait(10)
    reads = overtaken = number = 0
    while number < lengths.sum():
        before = ring.written
        stretch = ring.since(0)
        first = stretch.end - len(stretch.time)
        np.testing.assert_array_equal(stretch.time, np.arange(first, stretch.end, dtype=float))
        np.testing.assert_array_equal(stretch.counts, -stretch.time)
        assert stretch.end >= before
        number = stretch.end
        reads += 1
        overtaken += len(stretch.time) < min(20_000, stretch.end)
    writer.join()
    assert reads > 20
    assert overtaken > 0, "the writer never overtook the reader: this test tests nothing"
