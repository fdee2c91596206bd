"""Control charts against the tables of the handbook and the paper, and what must hold of any chart."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.statistics.control_charts import cusum, ewma

# Montgomery, Introduction to Statistical Quality Control, tables 9.1 and 9.10, as a public test suite quotes them:
# value, EWMA (weight 0.1), upper CUSUM (target 10, slack 0.5, limit 5) and its run
MONTGOMERY = (
    (9.45, 9.945, 0.0, 0),
    (7.99, 9.7495, 0.0, 0),
    (9.29, 9.70355, 0.0, 0),
    (11.66, 9.8992, 1.16, 1),
    (12.16, 10.1253, 2.82, 2),
    (10.18, 10.1307, 2.5, 3),
    (8.04, 9.92167, 0.04, 4),
    (11.46, 10.0755, 1.0, 5),
    (9.2, 9.98796, 0.0, 0),
    (10.34, 10.0232, 0.0, 0),
    (9.03, 9.92384, 0.0, 0),
    (11.47, 10.0785, 0.97, 1),
    (10.51, 10.1216, 0.98, 2),
    (9.4, 10.0495, 0.0, 0),
    (10.08, 10.0525, 0.0, 0),
    (9.37, 9.98426, 0.0, 0),
    (10.62, 10.0478, 0.12, 1),
    (10.31, 10.074, 0.0, 0),
    (8.52, 9.91864, 0.0, 0),
    (10.84, 10.0108, 0.34, 1),
    (10.9, 10.0997, 0.74, 2),
    (9.33, 10.0227, 0.0, 0),
    (12.29, 10.2495, 1.79, 1),
    (11.5, 10.3745, 2.79, 2),
    (10.6, 10.3971, 2.89, 3),
    (11.08, 10.4654, 3.47, 4),
    (10.38, 10.4568, 3.35, 5),
    (11.62, 10.5731, 4.47, 6),
    (11.31, 10.6468, 5.28, 7),
    (10.52, 10.6341, 5.3, 8),
)
VALUES = [row[0] for row in MONTGOMERY]
# recomputed: the lower CUSUM, 30 values
LOWER = [
    0.05, 1.56, 1.77, 0.0, 0.0, 0.0, 1.46, 0.0, 0.3, 0.0, 0.47, 0.0, 0.0, 0.1, 0.0,
    0.13, 0.0, 0.0, 0.98, 0.0, 0.0, 0.17, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0,
]  # fmt: skip

# Lucas and Crosier 1982, Technometrics 24:199-205: k 0.5, h 5, without and with a head start of 2.5
LUCAS_CROSIER = (
    (0.8, 0.3, 2.8),
    (1.9, 1.7, 4.2),
    (1.4, 2.6, 5.1),
    (2.0, 4.1, 6.6),
    (1.1, 4.7, 7.2),
    (0.7, 4.9, 7.4),
    (2.6, 7.0, 9.5),
)


def test_moving_average_of_montgomery():
    chart = ewma(VALUES, target=10.0, sd=1.0, weight=0.1, width=2.7)
    assert chart.average == pytest.approx([row[1] for row in MONTGOMERY], abs=6e-5)
    # the book: 9.73 and 10.27 at the first value, 9.38 and 10.62 when steady; values 29 and 30 are out
    assert (chart.low[0], chart.high[0]) == pytest.approx((9.73, 10.27), abs=5e-3)
    assert (chart.low[-1], chart.high[-1]) == pytest.approx((9.3811, 10.6189), abs=5e-5)
    assert np.flatnonzero(chart.out).tolist() == [28, 29]


def test_cumulative_sum_of_montgomery():
    chart = cusum(VALUES, target=10.0, sd=1.0, slack=0.5, limit=5.0)
    assert chart.above == pytest.approx([row[2] for row in MONTGOMERY], abs=1e-9)
    assert chart.run_above.tolist() == [row[3] for row in MONTGOMERY]
    assert chart.below == pytest.approx(LOWER, abs=1e-9)
    assert chart.below.max() == pytest.approx(1.77)
    assert np.flatnonzero(chart.out).tolist() == [28, 29]
    # signal at value 29, run of 7: the shift came after value 22
    assert chart.shift_after() == 22


@pytest.mark.parametrize(("head_start", "column", "signals"), [(0.0, 1, [6]), (2.5, 2, [2, 3, 4, 5, 6])])
def test_head_start_of_lucas_and_crosier(head_start, column, signals):
    values = [row[0] for row in LUCAS_CROSIER]
    chart = cusum(values, target=0.0, sd=1.0, head_start=head_start)
    assert chart.above == pytest.approx([row[column] for row in LUCAS_CROSIER], abs=1e-9)
    assert np.flatnonzero(chart.out).tolist() == signals


def test_chart_without_a_signal_has_no_shift():
    assert cusum([0.1, -0.2, 0.3], target=0.0, sd=1.0).shift_after() is None


def test_shift_downwards_is_found_too():
    values = [0.0] * 10 + [-2.0] * 10
    chart = cusum(values, target=0.0, sd=1.0)
    assert chart.shift_after() == 10
    assert not chart.above.any()


finite = st.lists(st.floats(-5.0, 5.0), min_size=1, max_size=40)


@given(finite, st.floats(-100.0, 100.0), st.floats(0.1, 50.0))
def test_unit_and_target_do_not_matter(values, target, sd):
    plain, moved = np.array(values), target + sd * np.array(values)
    assert ewma(moved, target=target, sd=sd).average == pytest.approx(
        target + sd * ewma(plain, target=0.0, sd=1.0).average, abs=1e-8
    )
    assert cusum(moved, target=target, sd=sd).above == pytest.approx(cusum(plain, target=0.0, sd=1.0).above, abs=1e-8)


@given(finite)
def test_mirrored_values_change_the_sides(values):
    chart, mirrored = (cusum(sign * np.array(values), target=0.0, sd=1.0) for sign in (1.0, -1.0))
    assert chart.above.tolist() == mirrored.below.tolist()
    assert chart.run_above.tolist() == mirrored.run_below.tolist()


@given(finite)
def test_weight_of_one_is_the_chart_of_single_values(values):
    chart = ewma(values, target=0.0, sd=1.0, weight=1.0, width=3.0)
    assert chart.average.tolist() == values
    assert np.unique(chart.high).tolist() == [3.0]


def test_average_is_its_definition_written_out():
    # z_3 = 0.2 x3 + 0.16 x2 + 0.128 x1 + 0.512 target, with weight 0.2
    chart = ewma([1.0, 2.0, 4.0], target=10.0, sd=1.0, weight=0.2)
    assert chart.average[2] == pytest.approx(0.8 + 0.32 + 0.128 + 5.12)


def test_chance_alone_gives_a_signal_about_every_500_values():
    # Montgomery, table 9.11: weight 0.1 and width 2.814 have an average run length of 500 (from memory)
    chance = np.random.default_rng(4)
    lengths = []
    for _ in range(150):
        out = ewma(chance.standard_normal(6000), target=0.0, sd=1.0, weight=0.1, width=2.814).out
        lengths.append(np.argmax(out) + 1)
    assert np.mean(lengths) == pytest.approx(500.0, rel=0.25)


def test_no_values_make_an_empty_chart():
    assert len(ewma([], target=0.0, sd=1.0).average) == 0
    assert cusum([], target=0.0, sd=1.0).shift_after() is None


@pytest.mark.parametrize("chart", [ewma, cusum])
@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"values": [1.0, np.nan]}, r"values must be finite and 1-D, got the shape \(2,\)"),
        ({"values": [[1.0]]}, r"values must be finite and 1-D, got the shape \(1, 1\)"),
        ({"sd": 0.0}, r"sd must be positive, got 0\.0"),
        ({"sd": np.nan}, "sd must be positive, got nan"),
        ({"target": np.inf}, "target must be finite, got inf"),
    ],
)
def test_what_cannot_be_charted_is_refused(chart, changes, message):
    given = {"values": [1.0], "target": 0.0, "sd": 1.0, **changes}
    with pytest.raises(ValueError, match=message):
        chart(given.pop("values"), **given)


@pytest.mark.parametrize(
    ("chart", "changes", "message"),
    [
        (ewma, {"weight": 0.0}, r"weight must be above 0 and at most 1, got 0\.0"),
        (ewma, {"weight": 1.1}, r"weight must be above 0 and at most 1, got 1\.1"),
        (ewma, {"width": -1.0}, r"width must be positive, got -1\.0"),
        (cusum, {"slack": -0.1}, r"slack must not be negative, got -0\.1"),
        (cusum, {"limit": 0.0}, r"limit must be positive, got 0\.0"),
        (cusum, {"head_start": 5.0}, r"head_start must lie between 0 and the limit, 5\.0, got 5\.0"),
    ],
)
def test_parameter_out_of_its_range_is_refused(chart, changes, message):
    with pytest.raises(ValueError, match=message):
        chart([1.0], target=0.0, sd=1.0, **changes)
