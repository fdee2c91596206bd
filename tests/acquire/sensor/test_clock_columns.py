"""The clocks a sensor may send: their steps, where they wrap, and the way round a wrap."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.sensor.clock_columns import CLOCK_COLUMNS, COUNTER_WRAP, signed

COUNTERS = st.integers(0, 2**32 - 1)


@pytest.mark.parametrize(("column", "step_s"), [("ms", 1e-3), ("us", 1e-6), ("s", 0.0)])
def test_step_of_a_clock_is_its_unit_and_a_decimal_number_has_none(column, step_s):
    assert CLOCK_COLUMNS[column].resolution_s == step_s


@pytest.mark.parametrize(("column", "steps"), [("ms", 1000), ("us", 1_000_000), ("s", 1)])
def test_a_second_is_so_many_steps(column, steps):
    assert CLOCK_COLUMNS[column].steps_per_s == steps


def test_counters_of_32_bits_wrap_after_49_days_and_71_minutes():
    # the reference of Arduino: millis() overflows after approximately 50 days, micros() after approximately 70 minutes;
    # to the digit, 2^32 steps of each
    assert CLOCK_COLUMNS["ms"].wrap_s == pytest.approx(((49 * 24 + 17) * 60 + 2) * 60 + 47.296)
    assert CLOCK_COLUMNS["us"].wrap_s == pytest.approx(71 * 60 + 34.967296)
    assert CLOCK_COLUMNS["s"].wrap_s is None


@given(COUNTERS, COUNTERS)
def test_way_round_is_that_of_numpy_s_32_bit_integers(later, earlier):
    with np.errstate(over="ignore"):
        around = np.int32(np.uint32(later) - np.uint32(earlier)).item()
    assert signed(later - earlier, COUNTER_WRAP) == around


@pytest.mark.parametrize(("difference", "way"), [(3, 3), (4, -4), (5, -3), (7, -1), (8, 0), (-4, -4), (-5, 3)])
def test_half_the_way_round_is_taken_as_behind(difference, way):
    assert signed(difference, 8) == way


def test_without_a_wrap_any_step_is_what_it_is():
    assert signed(-5e12, None) == -5e12
    assert np.isnan(signed(float("nan"), 8))
