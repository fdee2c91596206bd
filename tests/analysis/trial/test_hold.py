"""The hold against an implementation that tries every run, and the plateau against one that tries every window."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.trial.hold import LEAST_LEVEL, Hold, longest_hold
from analysis.trial.windows import best_window


def every_run(force, band):
    """Return the length of the longest run within the band about its own mean, and the best mean, by the definition."""
    top = max(force)
    best = (0, 0.0)
    for start in range(len(force)):
        for stop in range(start + 1, len(force) + 1):
            run = force[start:stop]
            mean = float(np.mean(run))
            inside = max(run) <= (1 + band) * mean and min(run) >= (1 - band) * mean
            if inside and mean >= LEAST_LEVEL * top:
                best = max(best, (stop - start, mean))
    return best


def wandering(chance, count):
    """Return a short force that rises, wanders about a level, and falls."""
    walk = 1.0 + np.cumsum(chance.normal(0.0, chance.uniform(0.01, 0.06), count))
    walk += chance.uniform(0.0, 0.12) * np.sin(np.arange(count) * chance.uniform(0.05, 1.5))
    ends = np.minimum(np.arange(count), np.arange(count)[::-1]) / chance.uniform(1.0, count / 3)
    return 100.0 * walk * np.minimum(1.0, ends)


@pytest.mark.slow
@pytest.mark.parametrize("band", [0.05, 0.1, 0.15])
def test_hold_is_the_longest_of_all_runs(band):
    chance = np.random.default_rng(1)
    for _ in range(60):
        force = wandering(chance, int(chance.integers(3, 90)))
        length, mean = every_run(force, band)
        found = longest_hold(force, band=band)
        assert found.stop - found.start == length
        assert found.mean == pytest.approx(mean, rel=1e-12)
        assert found.mean == pytest.approx(float(force[found.start : found.stop].mean()), rel=1e-12)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.integers(0, 12), min_size=1, max_size=30).filter(any))
def test_hold_of_any_whole_numbers(levels):
    force = np.array(levels, dtype=np.float64)
    length, mean = every_run(force, 0.1)
    found = longest_hold(force, band=0.1)
    assert (found.stop - found.start, found.mean) == (length, pytest.approx(mean))


def test_a_hair_thin_crossing_does_not_cut_a_hold():
    """One sample just outside the band about the mean of its block: the run about its own mean goes on."""
    force = np.concatenate([np.full(400, 104.0), np.full(400, 96.0), [113.0], np.full(400, 110.0)])
    found = longest_hold(force, band=0.1)
    assert found.stop - found.start == len(force)


def test_bounds_of_the_band_belong_to_it():
    # the mean of the whole is 10, and 9 and 11 are exactly 10 % away
    assert longest_hold(np.array([9.0, 11.0, 9.0, 11.0]), band=0.1) == Hold(start=0, stop=4, mean=10.0)
    wider = longest_hold(np.array([8.9, 11.1, 8.9, 11.1]), band=0.1)
    assert wider == Hold(start=1, stop=2, mean=11.1)


def test_a_level_below_half_of_the_highest_is_no_hold():
    low, high = np.full(50, 49.0), np.full(5, 100.0)
    assert longest_hold(np.concatenate([low, high]), band=0.1) == Hold(start=50, stop=55, mean=100.0)
    assert longest_hold(np.concatenate([low + 1.0, high]), band=0.1) == Hold(start=0, stop=50, mean=50.0)


def test_of_equally_long_runs_the_highest():
    force = np.concatenate([np.full(30, 80.0), [0.0], np.full(30, 100.0), [0.0], np.full(30, 90.0)])
    assert longest_hold(force, band=0.1) == Hold(start=31, stop=61, mean=100.0)


def test_a_spike_is_a_hold_of_its_highest_sample():
    assert longest_hold(np.array([0.0, 0.0, 5.0, 0.0]), band=0.1) == Hold(start=2, stop=3, mean=5.0)


def test_a_force_that_is_never_above_zero():
    assert longest_hold(np.array([-3.0, -1.0, -2.0]), band=0.1) == Hold(start=1, stop=2, mean=-1.0)


@given(st.lists(st.floats(-100, 100), min_size=1, max_size=40), st.integers(1, 45))
def test_best_window_is_the_highest_of_all(values, width):
    force = np.array(values)
    start, mean = best_window(force, width)
    means = [force[i : i + width].mean() for i in range(max(1, len(force) - width + 1))]
    assert mean == pytest.approx(max(means), abs=1e-9)
    assert force[start : start + width].mean() == pytest.approx(mean, abs=1e-9)
