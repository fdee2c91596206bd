"""Numbers and clocks in a column: what counts, what does not, and where it wraps."""

import numpy as np
import pytest

from acquire.discovery import Confidence
from acquire.discovery.counters import counter, fineness, unwrapped
from acquire.discovery.table import Column


def column(values, *, integer=True):
    return Column(values=np.asarray(values, dtype=float), is_number=True, integer=integer, example="")


def test_values_that_stand_still_count_nothing():
    assert counter(column([5.0] * 100), None) is None


def test_few_values_count_nothing():
    assert counter(column(range(5)), np.arange(5.0)) is None


def test_force_that_rises_and_falls_counts_nothing():
    time = np.arange(0.0, 8.0, 0.0125)
    assert counter(column(np.round(1e5 * np.sin(time))), time) is None


def test_slow_drift_that_always_rises_is_no_clock():
    time = np.arange(0.0, 8.0, 0.0125)
    assert counter(column(np.floor(3.0 * time)), time).name == "-"


def test_numbers_that_came_at_one_moment_have_no_slope():
    assert counter(column(np.arange(0.0, 1250.0, 12.5).round()), np.zeros(100)) is None


@pytest.mark.parametrize(("step", "name"), [(12.5, "ms"), (200.0, "ms"), (3125.0, "us"), (1e6, "-"), (2500.0, "us")])
def test_clock_without_arrivals_is_what_makes_a_rate_of_a_force_sensor(step, name):
    found = counter(column((step * np.arange(400)).round()), None)
    assert found.name == name
    assert found.confidence is Confidence.LIKELY


def test_seconds_without_arrivals_have_a_point():
    assert counter(column(0.0125 * np.arange(400), integer=False), None).name == "s"


def test_line_number_below_zero_is_none():
    found = counter(column(np.arange(-300.0, 300.0)), np.arange(600.0) / 80.0)
    assert found.name == "-"


def test_turn_and_damage_at_once():
    sent = np.array([250.0, 251.0, 252.0, 25.0, 254.0, 255.0, 0.0, 1.0, 99.0, 3.0, 4.0])
    whole = unwrapped(sent, turn=256.0)
    assert whole[np.isfinite(whole)].tolist() == [250, 251, 252, 254, 255, 256, 257, 259, 260]


def test_unwrapping_of_one_number():
    assert np.isnan(unwrapped(np.array([7.0]))).all()


@pytest.mark.parametrize(("values", "unit"), [([1.0, 20.0], 1.0), ([0.25, 1.5], 0.01), ([0.1234567890123], 0.0)])
def test_fineness_is_that_of_the_last_digit(values, unit):
    assert fineness(np.array(values)) == pytest.approx(unit)
