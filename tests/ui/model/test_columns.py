"""Long traces made short: what is drawn lies on the data, no extreme is lost, and gaps stay gaps."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ui.model.columns import columns

NAN = float("nan")


@st.composite
def traces(draw):
    """An uneven trace with lost samples, and a part of it to show."""
    count = draw(st.integers(0, 200))
    steps = draw(st.lists(st.floats(0.001, 5.0), min_size=count, max_size=count))
    levels = st.one_of(st.integers(-9, 9).map(float), st.just(NAN))
    force = np.array(draw(st.lists(levels, min_size=count, max_size=count)), dtype=float)
    start = draw(st.floats(-5.0, 300.0))
    part = {"start": start, "stop": start + draw(st.floats(0.01, 500.0)), "width": draw(st.integers(1, 40))}
    return np.cumsum(np.array(steps, dtype=float)), force, part


def points(x, y):
    """The points that are drawn, without the breaks."""
    there = ~np.isnan(y)
    return list(zip(x[there].tolist(), y[there].tolist(), strict=True))


def is_of_the_trace(drawn, trace):
    time, force, _ = trace
    assert set(points(*drawn)) <= set(zip(time.tolist(), force.tolist(), strict=True))


def is_in_the_order_of_time(drawn, _):
    x, y = drawn
    assert x.shape == y.shape
    assert (np.diff(x) >= 0).all()


def has_the_lowest_and_highest_of_every_column(drawn, trace):
    time, force, part = trace
    drawn = set(points(*drawn))
    edges = np.linspace(part["start"], part["stop"], part["width"] + 1)
    edges[-1] = np.nextafter(part["stop"], np.inf)
    for left, right in pairwise(edges):
        inside = [(t, n) for t, n in zip(time, force, strict=True) if left <= t < right and not np.isnan(n)]
        if inside:
            heights = {n for t, n in drawn if left <= t < right}
            assert {min(n for _, n in inside), max(n for _, n in inside)} <= heights


def has_no_line_across_a_lost_sample(drawn, trace):
    time, force, _ = trace
    x, y = drawn
    lost = time[np.isnan(force)]
    for i in range(len(x) - 1):
        if not np.isnan(y[i]) and not np.isnan(y[i + 1]):
            assert not ((lost > x[i]) & (lost < x[i + 1])).any()


def breaks_only_where_samples_are_lost(_, trace):
    time, force, part = trace
    whole = ~np.isnan(force)
    _, y = columns(time[whole], force[whole], **part)
    assert not np.isnan(y).any()


def has_few_points(drawn, trace):
    x, _ = drawn
    distinct = len(set(x.tolist()))
    assert distinct <= 2 * trace[2]["width"] + 2
    assert len(x) <= 3 * distinct


PROMISED = (
    is_of_the_trace,
    is_in_the_order_of_time,
    has_the_lowest_and_highest_of_every_column,
    has_no_line_across_a_lost_sample,
    breaks_only_where_samples_are_lost,
    has_few_points,
)


@given(traces())
def test_any_part_of_any_trace_is_drawn_as_promised(trace):
    """All promises of one trace at once: making the traces is what takes the time."""
    time, force, part = trace
    drawn = columns(time, force, **part)
    for promise in PROMISED:
        promise(drawn, trace)


def test_spike_of_one_sample_in_a_minute_is_drawn():
    time = np.arange(600_000) / 10_000.0
    force = np.zeros(600_000)
    force[123_456] = 400.0
    x, y = columns(time, force, start=0.0, stop=60.0, width=1200)
    assert len(x) == 2400
    assert x[np.argmax(y)] == time[123_456]
    assert y.max() == 400.0


def test_few_samples_are_drawn_as_they_are():
    time, force = np.arange(5.0), np.array([1.0, 5.0, 2.0, 4.0, 3.0])
    x, y = columns(time, force, start=-1.0, stop=9.0, width=100)
    assert x.tolist() == time.tolist()
    assert y.tolist() == force.tolist()


@pytest.mark.parametrize("width", [1, 2, 50])
def test_line_runs_on_to_the_samples_outside(width):
    time, force = np.arange(100.0), np.arange(100.0)
    x, _ = columns(time, force, start=9.5, stop=80.5, width=width)
    assert (x[0], x[-1]) == (9.0, 81.0)


def test_gap_within_one_column_breaks_the_line():
    time = np.arange(100.0)
    force = np.where((time > 40) & (time < 45), np.nan, time)
    _, y = columns(time, force, start=0.0, stop=99.0, width=1)
    assert np.isnan(y).sum() == 1


def test_column_of_nothing_but_lost_samples_is_a_break():
    time = np.arange(100.0)
    force = np.where((time >= 20) & (time < 60), np.nan, time)
    x, y = columns(time, force, start=0.0, stop=100.0, width=10)
    assert [t for t, n in points(x, y) if 20 <= t < 60] == []
    assert np.isnan(y[(x >= 20) & (x < 60)]).all()


def test_sample_between_two_lost_ones_is_marked():
    time, force = np.arange(5.0), np.array([1.0, NAN, 7.0, NAN, 2.0])
    x, y = columns(time, force, start=0.0, stop=4.0, width=10)
    assert points(x, y).count((2.0, 7.0)) == 2


def test_trace_of_lost_samples_alone_draws_nothing():
    x, y = columns(np.arange(50.0), np.full(50, NAN), start=0.0, stop=50.0, width=4)
    assert points(x, y) == []


def test_part_without_samples_draws_nothing():
    x, y = columns(np.empty(0), np.empty(0), start=0.0, stop=1.0, width=10)
    assert len(x) == len(y) == 0


def test_inputs_are_left_as_they_are():
    time, force = np.arange(50.0), np.where(np.arange(50) % 7 == 0, np.nan, 1.0)
    before = time.copy(), force.copy()
    columns(time, force, start=0.0, stop=50.0, width=3)
    np.testing.assert_array_equal(time, before[0])
    np.testing.assert_array_equal(force, before[1])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"force": np.zeros(3)}, r"alike, got \(4,\) and \(3,\)"),
        ({"stop": 0.0}, r"stop must be above start, got 0\.0 s to 0\.0 s"),
        ({"stop": NAN}, r"got 0\.0 s to nan s"),
        ({"width": 0}, "width must be at least 1, got 0 columns"),
    ],
)
def test_part_that_cannot_be_is_named(change, message):
    asked = {"time": np.arange(4.0), "force": np.zeros(4), "start": 0.0, "stop": 4.0, "width": 2, **change}
    with pytest.raises(ValueError, match=message):
        columns(asked.pop("time"), asked.pop("force"), **asked)
