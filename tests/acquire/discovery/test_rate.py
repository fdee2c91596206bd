"""Sample rates by arrivals and by clocks."""

import numpy as np
import pytest

from acquire.discovery.rate import rate_by_arrivals, rate_by_clock, usual, usual_tick


@pytest.mark.parametrize("period_ms", [0.2, 0.5, 1.0, 1.25, 3.125, 12.5, 88.6])
def test_clock_of_whole_milliseconds_gives_any_rate(period_ms):
    ticks = np.floor(np.arange(4000) * period_ms)
    rate = rate_by_clock(ticks, 1e3)
    assert rate.hz == pytest.approx(1e3 / period_ms, abs=3.0 * rate.uncertainty_hz + 1e-9)
    assert rate.uncertainty_hz / rate.hz == pytest.approx(1.0 / ticks[-1], rel=0.1)


@pytest.mark.parametrize("period_ms", [3.125, 12.5])
@pytest.mark.parametrize("lost", [0.02, 0.2])
def test_lost_lines_leave_the_rate_of_a_clock(period_ms, lost):
    ticks = np.floor(np.arange(4000) * period_ms)
    kept = np.random.default_rng(1).random(4000) > lost
    assert rate_by_clock(ticks[kept], 1e3).hz == pytest.approx(1e3 / period_ms, rel=1e-3)


def test_pause_and_restart_leave_the_rate_of_a_clock():
    ticks = np.concatenate([12.5 * np.arange(200), 60_000.0 + 12.5 * np.arange(200), 12.5 * np.arange(200)])
    assert rate_by_clock(ticks, 1e3).hz == pytest.approx(80.0)


def test_clock_that_stands_still_has_no_rate():
    assert rate_by_clock(np.full(100, 7.0), 1e3) is None


def test_few_samples_have_no_rate():
    assert rate_by_clock(np.arange(3.0), 1e3) is None
    assert rate_by_arrivals(np.arange(3.0), np.arange(3.0)) is None
    assert rate_by_arrivals(np.arange(20.0), np.arange(20.0) / 80.0) is None, "a quarter of a second"


@pytest.mark.parametrize(("hz", "meant"), [(80.7, 80.0), (82.0, None), (1e3, 1e3), (997.0, 1000.0), (0.01, None)])
def test_usual_rates_are_those_within_a_hundredth(hz, meant):
    assert usual(hz) == meant


def test_doubt_of_a_rate_makes_it_near_to_a_usual_one():
    assert usual(81.5, 1.0) == 80.0
    assert usual(93.0, 50.0) is None


def test_usual_ticks():
    assert usual_tick(999_000.0) == 1e6
    assert usual_tick(32_000.0) is None
