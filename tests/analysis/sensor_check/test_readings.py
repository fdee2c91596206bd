"""Means of stretches and their uncertainty; what is still and what is not."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analysis.sensor_check.readings import (
    READING_BLOCK_S,
    STILL_SDS,
    Readings,
    block_means,
    mean_of,
    moved,
    moved_by_noise,
)

CHANCE = np.random.default_rng(11)


def readings(values, rate=1000.0):
    return Readings(time=np.arange(len(values)) / rate, counts=np.asarray(values, dtype=float))


def test_uncertainty_of_white_noise_is_the_textbook_s():
    # JCGM 100:2008, 4.2.3: s / sqrt(n). The mean of many, since ten means tell it to a quarter.
    found = [mean_of(readings(CHANCE.normal(0.0, 3.0, 2000))).standard_counts for _ in range(300)]
    assert np.sqrt(np.mean(np.square(found))) == pytest.approx(3.0 / np.sqrt(2000), rel=0.05)


def test_slow_noise_is_not_taken_for_white():
    walk = np.cumsum(CHANCE.normal(0.0, 0.1, 2000))
    white = walk.std(ddof=1) / np.sqrt(2000)
    assert mean_of(readings(walk)).standard_counts > 5.0 * white


def test_hum_costs_hardly_anything():
    time = np.arange(2000) / 1000.0
    mean = mean_of(readings(np.sin(2.0 * np.pi * 50.0 * time)))
    assert (mean.counts, mean.standard_counts) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert mean.degrees_of_freedom == 9


def test_few_samples_are_taken_one_by_one():
    mean = mean_of(readings([1.0, 3.0], rate=10.0))
    assert (mean.counts, mean.degrees_of_freedom) == (2.0, 1)
    assert mean.standard_counts == pytest.approx(1.0)


@given(st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=60), st.floats(1.0, 200.0))
def test_blocks_hold_every_sample_once(values, rate):
    time = np.arange(len(values)) / rate
    means = block_means(time, np.array(values))
    assert min(values) - 1e-9 <= means.min()
    assert means.max() <= max(values) + 1e-9
    assert len(means) <= time[-1] / READING_BLOCK_S + 1.001


def test_short_last_block_belongs_to_the_one_before():
    values = np.repeat([1.0, 2.0, 10.0], [200, 200, 20])
    assert block_means(np.arange(420) / 1000.0, values).tolist() == [1.0, pytest.approx(600.0 / 220.0)]


def test_gap_leaves_no_empty_block():
    time = np.array([0.0, 0.1, 1.0, 1.1])
    assert block_means(time, np.array([1.0, 1.0, 5.0, 5.0])).tolist() == [1.0, 5.0]


@pytest.mark.parametrize("rate", [80.0, 1000.0])
def test_noise_alone_moves_less_than_is_allowed_for_it(rate):
    time = np.arange(round(30.0 * rate)) / rate
    allowed = moved_by_noise(time, CHANCE.normal(0.0, 1.0, len(time)))
    two = time[time < 2.0]
    found = [moved(two, CHANCE.normal(50.0, 1.0, len(two))) for _ in range(200)]
    assert np.mean(np.array(found) < allowed) > 0.95
    assert allowed < 2.0 * np.mean(found)


def test_range_of_ten_means():
    # the 99 % point of the range of ten normal values, of a second library
    assert stats.studentized_range.ppf(0.99, 10, 1e6) == pytest.approx(STILL_SDS, abs=0.05)


def test_drift_and_touch_are_no_noise():
    time = np.arange(30_000) / 1000.0
    noise = CHANCE.normal(0.0, 0.1, len(time))
    alone = moved_by_noise(time, noise)
    assert moved_by_noise(time, noise + 0.5 * time) == pytest.approx(alone, rel=0.05)
    assert moved_by_noise(time, noise + np.where((time > 4.0) & (time < 6.0), 40.0, 0.0)) < 1.3 * alone


def test_too_short_a_look_tells_no_noise():
    assert moved_by_noise(np.arange(300) / 1000.0, np.ones(300)) == 0.0


@pytest.mark.parametrize("rate", [10.0, 80.0, 1000.0])
def test_swinging_weight_moves(rate):
    time = np.arange(round(2.0 * rate)) / rate
    assert moved(time, 100.0 + 2.0 * np.sin(2.0 * np.pi * 1.6 * time)) == pytest.approx(4.0, rel=0.35)


@pytest.mark.parametrize(
    ("time", "counts", "match"), [([0.0], [1.0], r"at least 2, got \(1,\)"), ([0.0, 1.0], [1.0], r"\(2,\) and \(1,\)")]
)
def test_stretch_of_nothing_is_refused(time, counts, match):
    with pytest.raises(ValueError, match=match):
        Readings(time=np.array(time), counts=np.array(counts))
