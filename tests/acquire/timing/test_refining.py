"""Placed samples are refined once more is known, and the rate of the sensor with them."""

import numpy as np
import pytest
from timed import lines, packet, place_all, sensor, steady

# Refining


def test_refining_leaves_a_device_clock_alone():
    for base, event in [
        (sensor(), packet(0)),
        (sensor(columns=("ms", "counts")), lines(10, tick_s=[0.0125 * n for n in range(10)])),
    ]:
        placed = base.place(event, 1.0)
        assert base.refine(placed) is placed


@pytest.mark.parametrize("seconds", [np.empty(0), np.array([1.0, 2.0])])
def test_refining_before_any_sample_changes_nothing(seconds):
    assert sensor(columns=("counts",)).refine(seconds) is seconds


def test_refining_finds_a_rate_far_from_nominal():
    # The converter runs at 76 Hz where its data sheet says 80.
    base = sensor(columns=("counts",))
    placed = place_all(base, [(lines(1), 3.0 + n / 76) for n in range(760)])
    assert base.refine(placed) == pytest.approx(np.arange(760) / 76, abs=1e-9)


def test_short_stretches_borrow_the_rate_of_a_long_one():
    base = sensor(columns=("counts",))
    place_all(base, [(lines(1), n / 76) for n in range(1520)])
    rng = np.random.default_rng(3)
    for began in (30.0, 40.0):
        placed = place_all(base, [(lines(1), began + n / 76 + rng.uniform(0, 0.01)) for n in range(300)])
        assert np.diff(base.refine(placed)) == pytest.approx(np.full(299, 1 / 76), rel=1e-6)
    assert base.rate.rate_hz == pytest.approx(76.0)


def test_refined_time_increases_over_stretches_that_disagree():
    # The second stretch arrives with 4 ms less delay than the first: its line alone would begin too early.
    base = sensor(columns=("counts",), rate_hz=1000.0)
    events = [(lines(1), n / 1000 + 0.004) for n in range(4000)]
    events += [(lines(1), max(n / 1000, 4.6)) for n in range(4000, 9000)]
    refined = base.refine(place_all(base, events))
    assert (np.diff(refined) > 0).all()
    assert refined[-1] - refined[0] == pytest.approx(8.999, abs=0.006)


def test_ended_stretches_are_refined_by_the_line_they_had():
    base = sensor(columns=("counts",))
    first = place_all(base, [(lines(1), n / 76) for n in range(760)])
    expected = base.refine(first)
    place_all(base, [(lines(1), 60.0 + n / 76) for n in range(760)])
    assert base.refine(first) == pytest.approx(expected, abs=1e-12)


# Rate


def test_rate_of_a_stretch_that_has_just_begun_is_that_of_the_one_before():
    base = sensor(columns=("seq", "counts"))
    place_all(base, [(lines(sequence=[n]), n / 80) for n in range(800)])
    known = base.rate
    base.segments.begin(20.0)
    assert base.rate == known


def test_rate_is_unknown_for_two_seconds():
    base = sensor(columns=("counts",))
    place_all(base, steady(0, 160))
    assert base.rate is None
    place_all(base, steady(160, 20))
    assert base.rate.rate_hz == pytest.approx(80.0)


def test_rate_shows_the_error_of_a_device_clock():
    base = sensor()
    rng = np.random.default_rng(1)
    for n in range(3000):  # every tick of this device is 150 ppm short
        base.place(packet(n), n * 0.01 * (1 - 150e-6) + rng.exponential(0.004))
    assert (base.rate.rate_hz / 1000.0 - 1) * 1e6 == pytest.approx(150, abs=20)
    assert base.rate.uncertainty_hz < 0.02


def test_rate_counts_lost_packets_too():
    base = sensor()
    for n in range(1000):
        if n % 7:
            base.place(packet(n), n * 0.01)
    assert base.rate.rate_hz == pytest.approx(1000.0)


def test_rate_outlives_a_restart():
    base = sensor()
    place_all(base, [(packet(n), n * 0.01) for n in range(500)])
    base.place(packet(0), 20.0)
    assert base.rate.rate_hz == pytest.approx(1000.0)
