import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.spatial import ConvexHull

from acquire.timing.clock_skew import Arrivals, HostTime, SkewLine, _hull


def arrivals_of(points):
    arrivals = Arrivals()
    for index, arrival in points:
        arrivals.add(index, arrival)
    return arrivals


def late(rng, count, *, period_s=0.01, every=3):
    index = every * np.arange(1, count + 1)
    return index, period_s * index + rng.exponential(0.01, count).round(6)


@given(st.lists(st.tuples(st.integers(1, 50), st.integers(0, 1000)), min_size=3, max_size=60))
def test_hull_is_that_of_an_independent_library(steps):
    points = [
        (int(x), float(y)) for x, y in zip(np.cumsum([step for step, _ in steps]), [y for _, y in steps], strict=True)
    ]
    assume(np.linalg.matrix_rank(np.diff(np.array(points), axis=0)) == 2)
    corners = ConvexHull(np.array(points)).vertices
    first, last = points[0], points[-1]
    chord = [first[1] + (last[1] - first[1]) * (points[k][0] - first[0]) / (last[0] - first[0]) for k in corners]
    below = {points[k] for k, y in zip(corners, chord, strict=True) if points[k][1] < y - 1e-9}
    assert set(_hull(points)) == below | {first, last}


@given(st.integers(0, 2**32 - 1))
def test_no_sample_is_said_to_be_taken_after_it_arrived(seed):
    index, arrival = late(np.random.default_rng(seed), 400)
    arrival = np.maximum.accumulate(arrival)
    line = arrivals_of(zip(index.tolist(), arrival.tolist(), strict=True)).line(default_period_s=0.01)
    assert (line.at(index.astype(float)) <= arrival + 1e-9).all()


def test_slope_lies_near_that_of_least_total_delay():
    # The classic choice, as a linear program: minimise the total delay with no point below the line.
    rng = np.random.default_rng(7)
    index, arrival = late(rng, 700)
    arrival = np.maximum.accumulate(arrival)
    below = linprog(
        [-1.0, -index.mean()], A_ub=np.c_[np.ones(len(index)), index], b_ub=arrival, bounds=[(None, None)] * 2
    )
    line = arrivals_of(zip(index.tolist(), arrival.tolist(), strict=True)).line(default_period_s=0.02)
    assert line.period_s == pytest.approx(below.x[1], rel=2e-5)
    assert line.period_s == pytest.approx(0.01, rel=2e-5)


def test_perfect_link_gives_the_period_and_no_doubt():
    line = arrivals_of((n, 5.0 + n / 80) for n in range(400)).line(default_period_s=1.0)
    assert line.period_s == pytest.approx(1 / 80, rel=1e-12)
    assert line.at(0.0) == pytest.approx(5.0)
    assert line.period_uncertainty_s < 1e-12


def test_events_of_one_chunk_count_as_its_last():
    whole = arrivals_of((4 * n, n * 0.04) for n in range(1, 200))
    parts = arrivals_of((4 * n + k, n * 0.04) for n in range(1, 200) for k in (-3, -1, 0))
    assert parts.line(default_period_s=1.0)[:3] == whole.line(default_period_s=1.0)[:3]


def test_link_that_collects_packets_is_doubted_by_the_wait_of_one():
    # Three packets of ten samples each 30 ms: 10 ms over the 6 s seen, as the spread of an even distribution.
    arrivals = Arrivals()
    for n in range(1, 201):
        arrivals.add(30 * n - 1, 0.03 * n, frames=3)
    line = arrivals.line(default_period_s=1.0)
    assert line.period_uncertainty_s == pytest.approx(0.001 * 0.010 / 5.97 / math.sqrt(12), rel=0.01)


def test_arrival_without_a_new_sample_changes_nothing():
    plain = arrivals_of((n, n * 0.01) for n in range(400))
    again = arrivals_of((n, n * 0.01 + late) for n in range(400) for late in (0.0, 0.004))
    assert again.line(default_period_s=1.0) == plain.line(default_period_s=1.0)


def test_short_stretch_takes_the_given_period_below_the_least_delayed():
    line = arrivals_of([(0, 10.5), (10, 10.13), (20, 10.9)]).line(default_period_s=0.01)
    assert line == SkewLine(10, 10.13, 0.01, pytest.approx(math.nan, nan_ok=True))


def test_line_without_arrivals_is_refused():
    with pytest.raises(ValueError, match="a line needs at least one arrival, got 0"):
        Arrivals().line(default_period_s=0.01)


def test_seconds_are_those_from_first_to_last():
    assert Arrivals().seconds == 0.0
    assert arrivals_of([(0, 10.0), (5, 10.5), (9, 12.25)]).seconds == 2.25


def test_line_follows_an_oscillator_that_changes():
    # 80 Hz for five minutes, then 84 Hz: the line of the last minute knows nothing of the first.
    slow = [(n, n / 80) for n in range(24000)]
    fast = [(24000 + n, 300 + n / 84) for n in range(8400)]
    arrivals = arrivals_of(slow + fast)
    assert arrivals.line(default_period_s=1.0, first=32000, last=32399).period_s == pytest.approx(1 / 84, rel=1e-9)
    assert arrivals.line(default_period_s=1.0, first=20000, last=20500).period_s == pytest.approx(1 / 80, rel=1e-9)


def test_what_is_kept_is_bounded():
    arrivals = arrivals_of((n, n / 80 + 0.01 * math.sin(n) ** 2) for n in range(200_000))  # 42 minutes
    blocks = arrivals._blocks
    assert len(blocks) == 1200
    assert sum(len(block.points) for block in blocks) < 12 * 1200
    assert arrivals.line(default_period_s=1.0).period_s == pytest.approx(1 / 80, rel=1e-5)


@pytest.mark.parametrize("seconds", [7, 60])
def test_uncertainty_covers_the_error(seconds):
    errors = []
    for seed in range(60):
        index, arrival = late(np.random.default_rng(seed), int(seconds / 0.03))
        pairs = zip(index.tolist(), np.maximum.accumulate(arrival).tolist(), strict=True)
        line = arrivals_of(pairs).line(default_period_s=1.0)
        errors.append(abs(line.period_s - 0.01) / line.period_uncertainty_s)
    assert np.mean(np.array(errors) < 2) > 0.85
    assert np.mean(np.array(errors) < 0.1) < 0.3  # and is not just large


def test_any_number_of_chunks_within_half_a_second_stays_few_points():
    """As of a stream that is read from a file, much faster than it was recorded."""
    chance, arrivals = np.random.default_rng(3), Arrivals()
    for index, delay in enumerate(chance.exponential(1e-6, 20_000)):
        arrivals.add(index, 1e-5 * index + float(delay))
    (block,) = arrivals._blocks
    assert len(block.points) <= 256
    assert arrivals.line(default_period_s=1e-5, enough_s=0.1).period_s == pytest.approx(1e-5, rel=1e-4)


# A stream's seconds on the clock of its arrivals


def test_late_chunks_do_not_move_the_line():
    chance, host = np.random.default_rng(1), HostTime()
    for n in range(1, 2000):
        host.add(0.01 * n, 1000.0 + 0.01 * n + 0.003 + chance.exponential(0.02) * (n % 5 > 0))
    assert host.at(np.array([5.0, 19.0])) == pytest.approx([1005.003, 1019.003], abs=1e-3)


def test_clock_that_runs_fast_is_followed():
    host = HostTime()
    for n in range(1, 6000):
        host.add(0.01 * n, 50.0 + 0.01 * n * 1.0002)
    assert float(host.at(np.array([59.0]))[0]) == pytest.approx(50.0 + 59.0 * 1.0002, abs=1e-4)


def test_newest_seconds_follow_the_same_line():
    host = HostTime()
    for n in range(1, 500):
        host.add(0.01 * n, 7.0 + 0.01 * n)
    seconds = np.array([4.8, 4.9])
    assert host.now(seconds) == pytest.approx(host.at(seconds), abs=1e-6)


def test_nothing_arrived_is_an_error():
    with pytest.raises(ValueError, match="at least one arrival"):
        HostTime().at(np.array([0.0]))


def test_slope_that_is_hardly_known_is_not_taken():
    """The link held the first four samples back, then lost 112: what is left spans a second and a half."""
    held_back = [(0, 0.325), (3, 0.325)]
    line = arrivals_of([*held_back, *((n, n / 80 + 0.0125) for n in range(116, 255))]).line(default_period_s=1 / 80)
    assert line.period_s == 1 / 80
    assert math.isnan(line.period_uncertainty_s)


def test_host_time_of_less_than_two_seconds_runs_as_fast_as_the_sensor_says():
    host = HostTime()
    host.add(0.0, 50.0)
    host.add(1.0, 51.02)
    assert host.at(np.array([0.0, 1.5])) == pytest.approx([50.0, 51.5])


def test_line_of_now_is_drawn_again_after_a_second():
    host = HostTime()
    host.add(0.0, 50.5)
    assert host.now(np.array([0.0])) == [50.5]
    host.add(0.9, 50.9)  # came with less delay: the line lies lower, from the next second on
    assert host.now(np.array([0.9])) == pytest.approx([51.4])
    assert host.now(np.array([1.0])) == pytest.approx([51.0])


@pytest.mark.parametrize(("ago_s", "kept"), [(500, True), (700, False)])
def test_arrivals_of_ten_minutes_are_kept(ago_s, kept):
    """A single chunk that came sooner than all others."""
    arrivals = Arrivals()
    for n in range(8_001):
        soon = 0.05 if n == 8_000 - 10 * ago_s else 0.0
        arrivals.add(n, 100.0 + n / 10 - soon)
    line = SkewLine(sample=0.0, arrival=100.0, period_s=0.1, period_uncertainty_s=math.nan)
    assert arrivals.lowest_delay(line, first=0) == pytest.approx(-0.05 if kept else 0.0, abs=1e-6)
