"""A stream's seconds on the clock of its arrivals."""

import numpy as np
import pytest

from acquire.timing.host_time import HostTime


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
