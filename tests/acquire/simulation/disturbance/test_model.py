"""What happens to a stream on a bad link: each kind by itself, and rules that hold for all of them together."""

import math
from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.simulation.disturbance import (
    Burst,
    Corrupt,
    Delay,
    Disturbance,
    Disturber,
    Drift,
    Drop,
    Duplicate,
    Reorder,
    Split,
    Stall,
)
from acquire.simulation.disturbance.model import LONGEST_FRAME

PERIOD_S = 0.125
"""A power of two, so that seconds of the stream are exact."""


def lines(count):
    return [b"%d\n" % number for number in range(count)]


def sent(disturbance, frames, *, period_s=PERIOD_S, first=0.0):
    """Send frames one by one; return the pieces, and what was done."""
    bad = Disturber(disturbance, frame_end=b"\n")
    pieces = [piece for n, frame in enumerate(frames) for piece in bad.feed(first + n * period_s, frame)]
    return pieces + bad.finish(), bad.done


def numbers(pieces):
    return [int(piece.data) for piece in pieces]


rates = st.sampled_from([0.0, 0.0, 0.02, 0.3, 1.0])
disturbances = st.builds(
    Disturbance,
    seed=st.integers(0, 2**32),
    split=st.builds(Split, rate=rates),
    drop=st.builds(Drop, rate=rates, run=st.integers(1, 5)),
    corrupt=st.builds(Corrupt, rate=rates, changes=st.integers(1, 4)),
    duplicate=st.builds(Duplicate, rate=rates, reach=st.integers(0, 4)),
    reorder=st.builds(Reorder, rate=rates, reach=st.integers(1, 4)),
    delay=st.builds(Delay, rate=rates, up_to_s=st.floats(0.0, 2.0)),
    stall=st.builds(Stall, rate=rates, for_s=st.floats(0.0, 3.0)),
    burst=st.builds(Burst, rate=rates, pieces=st.integers(1, 9)),
    drift=st.builds(Drift, ppm=st.floats(-1e5, 1e5), wander_ppm=st.floats(-1e4, 1e4)),
)


# by itself


def test_nothing_disturbed_is_handed_on_as_it_is():
    bad = Disturber(Disturbance(), frame_end=b"\n")
    assert bad.feed(7.0, b"12") == [(7.0, b"12")]
    assert bad.feed(7.5, b"3\n4\n5") == [(7.5, b"3\n4\n5")]
    assert not bad.holds
    assert bad.finish() == []
    assert bad.done == Counter()


def test_frames_are_dropped_in_runs_when_due():
    pieces, done = sent(Disturbance(drop=Drop(at_s=(0.25, 0.9), run=2)), lines(12))
    assert numbers(pieces) == [0, 1, 4, 5, 6, 7, 10, 11]
    assert done == {"drop": 4}


def test_dropped_chunks_are_whole_chunks():
    bad = Disturber(Disturbance(pieces="chunks", drop=Drop(at_s=(1.0,))), frame_end=b"\n")
    pieces = [piece for at, data in [(0.0, b"1\n2"), (1.0, b"3\n4"), (2.0, b"5\n6\n")] for piece in bad.feed(at, data)]
    assert pieces == [(0.0, b"1\n2"), (2.0, b"5\n6\n")]


def test_without_an_end_of_frame_chunks_are_the_pieces():
    bad = Disturber(Disturbance(drop=Drop(at_s=(1.0,))))
    assert [bad.feed(float(at), b"1\n2") for at in range(3)] == [[(0.0, b"1\n2")], [], [(2.0, b"1\n2")]]


@pytest.mark.parametrize("share", [0.02, 0.3])
def test_share_of_the_pieces_is_dropped(share):
    pieces, done = sent(Disturbance(drop=Drop(rate=share)), lines(5000))
    # four standard deviations of the binomial
    assert abs(done["drop"] - 5000 * share) < 4 * math.sqrt(5000 * share * (1 - share))
    assert len(pieces) == 5000 - done["drop"]


def test_copy_comes_at_once():
    pieces, done = sent(Disturbance(duplicate=Duplicate(at_s=(0.25,))), lines(4))
    assert numbers(pieces) == [0, 1, 2, 2, 3]
    assert done == {"duplicate": 1}


def test_copies_come_within_their_reach():
    pieces, _ = sent(Disturbance(duplicate=Duplicate(rate=0.2, reach=3)), lines(1000))
    came = numbers(pieces)
    apart = Counter()
    for number in range(1000):
        first, *again = [at for at, other in enumerate(came) if other == number]
        between = {came[at] for at in range(first, again[0])} if again else set()
        apart[len(between - {number} - set(range(number)))] += bool(again)
    assert set(apart) == {0, 1, 2, 3}


def test_overtaken_piece_comes_behind_later_ones():
    pieces, done = sent(Disturbance(reorder=Reorder(at_s=(0.25,), reach=1)), lines(5))
    assert numbers(pieces) == [0, 1, 3, 2, 4]
    assert done == {"reorder": 1}


def test_pieces_are_overtaken_within_their_reach():
    pieces, done = sent(Disturbance(reorder=Reorder(rate=0.05, reach=3)), lines(2000))
    late = [at - number for at, number in enumerate(numbers(pieces))]
    assert sorted(numbers(pieces)) == list(range(2000))
    assert max(late) == 3
    # one that is overtaken by another that is late too may come in its own place
    assert 0.9 * done["reorder"] < sum(by > 0 for by in late) <= done["reorder"]


def test_overtaken_at_the_end_is_not_lost():
    assert numbers(sent(Disturbance(reorder=Reorder(at_s=(0.25,), reach=5)), lines(3))[0]) == [0, 1, 2]


def test_delays_are_up_to_their_most_and_nothing_overtakes():
    pieces, done = sent(Disturbance(delay=Delay(rate=0.5, up_to_s=0.1)), lines(2000))
    late = [piece.arrival - number * PERIOD_S for number, piece in enumerate(pieces)]
    assert numbers(pieces) == list(range(2000))
    assert all(0.0 <= by <= 0.1 for by in late)
    assert max(late) > 0.099
    assert done["delay"] == sum(by > 0.0 for by in late)


def test_delayed_piece_is_handed_over_once_its_time_has_come():
    bad = Disturber(Disturbance(seed=3, delay=Delay(at_s=(0.0,), up_to_s=1.0)), frame_end=b"\n")
    assert bad.feed(10.0, b"0\n") == []
    assert bad.holds
    (late,) = bad.feed(10.0001, b"") + bad.feed(11.0, b"")
    assert 10.0 < late.arrival < 11.0
    assert not bad.holds


def test_stall_holds_everything_back_and_then_lets_it_go_at_once():
    pieces, done = sent(Disturbance(stall=Stall(at_s=(0.25,), for_s=1.0)), lines(20))
    assert numbers(pieces) == list(range(20))
    assert [piece.arrival for piece in pieces] == [0.0, 0.125, *[1.25] * 9, *[n * PERIOD_S for n in range(11, 20)]]
    assert done == {"stall": 1}


def test_stall_within_a_stall_makes_it_no_longer():
    pieces, done = sent(Disturbance(stall=Stall(at_s=(0.25, 0.5), for_s=1.0)), lines(20))
    assert pieces[10].arrival == 1.25
    assert done == {"stall": 1}


def test_how_long_nothing_came_is_told():
    bad = Disturber(Disturbance(stall=Stall(at_s=(1.0,), for_s=2.0), drift=Drift(ppm=1e5)), frame_end=b"\n")
    still = [(bad.feed(0.5 * n, b"1\n"), bad.still_s)[1] for n in range(8)]
    assert still == [0.0, 0.0, 0.5, 1.0, 1.5, 2.0, 0.0, 0.0]


def test_burst_comes_when_its_last_piece_does():
    pieces, done = sent(Disturbance(burst=Burst(at_s=(0.25,), pieces=4)), lines(8))
    assert numbers(pieces) == list(range(8))
    assert [piece.arrival / PERIOD_S for piece in pieces] == [0, 1, 5, 5, 5, 5, 6, 7]
    assert done == {"burst": 1}


def test_split_piece_comes_in_two():
    bad = Disturber(Disturbance(split=Split(at_s=(0.0,))), frame_end=b"\n")
    one, other = bad.feed(5.0, b"123456\n")
    assert one.data + other.data == b"123456\n"
    assert one.data
    assert other.data
    assert one.arrival == other.arrival == 5.0


def test_part_of_a_split_piece_is_lost_alone():
    pieces, done = sent(Disturbance(split=Split(rate=1.0), drop=Drop(at_s=(0.25,))), lines(4))
    assert done == {"split": 4, "drop": 1}
    assert b"".join(piece.data for piece in pieces) == b"0\n1\n\n3\n"


@pytest.mark.parametrize(
    ("kind", "length", "differ"), [("flip", 5, 1), ("replace", 5, 1), ("lose", 4, None), ("add", 6, None)]
)
def test_one_byte_of_a_corrupt_piece_is_wrong(kind, length, differ):
    for seed in range(50):
        bad = Disturber(Disturbance(seed=seed, corrupt=Corrupt(at_s=(0.0,), kinds=(kind,))))
        ((_, data),) = bad.feed(0.0, b"12345")
        assert len(data) == length
        assert data != b"12345"
        if differ:
            wrong = [one ^ other for one, other in zip(data, b"12345", strict=True) if one != other]
            assert len(wrong) == 1
            assert kind != "flip" or wrong[0].bit_count() == 1


def test_piece_that_lost_all_its_bytes_does_not_come():
    bad = Disturber(Disturbance(corrupt=Corrupt(rate=1.0, kinds=("lose",), changes=3)))
    assert bad.feed(0.0, b"12") == []


@pytest.mark.parametrize(
    ("drift", "shown"),
    [
        (Drift(ppm=100.0), [0.0, 600.06, 1200.12]),
        # a sine of 50 ppm and a period of 1200 s: 50e-6 * 1200 / pi = 19.0986 ms after half of it, 0 after all
        (Drift(wander_ppm=50.0, wander_s=1200.0), [0.0, 600.0190986, 1200.0]),
    ],
)
def test_drifting_clock_stamps_by_its_closed_form(drift, shown):
    pieces, _ = sent(Disturbance(drift=drift), lines(3), period_s=600.0, first=50.0)
    assert [piece.arrival - 50.0 for piece in pieces] == pytest.approx(shown, abs=1e-6)


def test_bytes_without_an_end_of_frame_do_not_pile_up():
    bad = Disturber(Disturbance(drop=Drop(at_s=(1e3,))), frame_end=b"\n")
    came = [piece for n in range(100) for piece in bad.feed(n / 100, b"x" * 1000)]
    assert sum(len(piece.data) for piece in came) >= 100_000 - LONGEST_FRAME


# all together


def test_same_seed_same_events_and_another_seed_others():
    settings = {"drop": Drop(rate=0.1), "delay": Delay(rate=0.5), "corrupt": Corrupt(rate=0.1)}
    first, again, other = (sent(Disturbance(seed=seed, **settings), lines(300))[0] for seed in (1, 1, 2))
    assert first == again
    assert first != other


def test_events_of_one_kind_do_not_depend_on_the_others():
    alone, _ = sent(Disturbance(drop=Drop(rate=0.1)), lines(500))
    among, _ = sent(Disturbance(drop=Drop(rate=0.1), delay=Delay(rate=0.5), burst=Burst(rate=0.1)), lines(500))
    assert numbers(among) == numbers(alone)


@given(disturbances, st.lists(st.integers(0, 600), max_size=8))
def test_bytes_do_not_depend_on_how_frames_arrived(disturbance, cuts):
    """Within what arrives at the same moment."""
    data = b"".join(lines(200))
    whole, cut = Disturber(disturbance, frame_end=b"\n"), Disturber(disturbance, frame_end=b"\n")
    expected = whole.feed(3.0, data) + whole.finish()
    edges = [0, *sorted(cuts), len(data)]
    came = [piece for begin, end in pairwise(edges) for piece in cut.feed(3.0, data[begin:end])]
    # but a schedule or a delay of the last, incomplete frame may come elsewhere: there is none here
    assert came + cut.finish() == expected


@given(disturbances)
def test_arrivals_never_decrease_and_nothing_is_empty(disturbance):
    pieces, _ = sent(disturbance, lines(100), first=1e5)
    arrivals = [piece.arrival for piece in pieces]
    assert arrivals == sorted(arrivals)
    assert all(piece.data for piece in pieces)


@given(disturbances)
def test_every_piece_comes_as_often_as_was_done_to_it(disturbance):
    whole = Disturbance(
        seed=disturbance.seed,
        drop=disturbance.drop,
        duplicate=disturbance.duplicate,
        reorder=disturbance.reorder,
        delay=disturbance.delay,
        stall=disturbance.stall,
        burst=disturbance.burst,
    )
    pieces, done = sent(whole, lines(100))
    came = Counter(numbers(pieces))
    assert set(came) <= set(range(100))
    assert max(came.values(), default=1) <= 2
    assert sum(came.values()) == 100 - done["drop"] + done["duplicate"]


@given(disturbances)
def test_nothing_is_held_after_the_end(disturbance):
    bad = Disturber(disturbance, frame_end=b"\n")
    for n in range(30):
        bad.feed(n * PERIOD_S, b"%d\nhalf" % n)
    bad.finish()
    assert not bad.holds
    assert bad.finish() == []
