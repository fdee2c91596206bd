import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.timing.device_clock import DeviceClock

TURN = 2**32


def clock(**changes):
    return DeviceClock(**{"steps_per_s": 1e6, "wrap": TURN, "rate_hz": 1000.0, **changes})


@given(st.lists(st.integers(1, TURN // 2 - 1), min_size=1, max_size=20))
def test_ticks_are_unwrapped_over_any_number_of_wraps(steps):
    device = clock()
    tick = 4_000_000_000
    device.begin(tick, 1, at_s=10.0)
    for step in steps:
        tick += step
        assert device.ahead(tick % TURN) == step
        seconds = device.advance(tick % TURN, 1, unbroken=False)
        assert seconds == pytest.approx(10.0 + (tick - 4_000_000_000) / 1e6, abs=1e-9)


def test_period_is_learnt_from_unbroken_packets():
    device = clock()
    device.begin(0, 10, at_s=0.0)
    for n in range(1, 20):
        device.advance(9_000 * n, 10, unbroken=True)
    assert device.period_s == pytest.approx(0.0009)


def test_period_of_the_first_packet_leans_on_the_nominal_one():
    device = clock()
    device.begin(0, 10, at_s=0.0)
    device.advance(5_000, 10, unbroken=True)
    assert 0.0007 < device.period_s < 0.0008


def test_period_follows_an_oscillator_that_drifts():
    device = clock()
    tick = 0
    device.begin(tick, 1000, at_s=0.0)
    for step in [1_000_000] * 1000 + [1_001_000] * 2000:
        tick += step
        device.advance(tick % TURN, 1000, unbroken=True)
    assert device.period_s == pytest.approx(0.001001, rel=1e-6)


def test_first_packets_may_show_a_rate_far_from_nominal():
    device = clock()
    device.begin(0, 10, at_s=0.0)
    assert device.missing(12_500, unbroken=True) == 0
    assert device.missing(13_100, unbroken=True) == 3


def test_coarse_clock_is_not_believed_below_its_step():
    device = clock(rate_hz=1000.0, resolution=1000)  # 1 kHz, told in ms
    device.begin(0, 1, at_s=0.0)
    assert device.missing(2_000, unbroken=True) == 0
    assert device.missing(2_000, unbroken=False) == 1
    assert device.missing(4_000, unbroken=True) == 3


def test_missing_samples_are_those_that_fit():
    device = clock()
    device.begin(0, 10, at_s=0.0)
    assert [device.missing(steps, unbroken=False) for steps in (9_000, 10_400, 10_600, 30_000)] == [0, 0, 1, 20]


def test_half_wrap():
    assert clock().half_wrap_s == pytest.approx(2147.483648)
    assert clock(wrap=None).half_wrap_s == float("inf")
