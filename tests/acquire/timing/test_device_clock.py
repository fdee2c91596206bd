import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.decoders import Packet, packets_together
from acquire.sensor.profile import load_profile
from acquire.timing.device_clock import DeviceClock
from acquire.timing.selection import time_base_for

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


@pytest.mark.parametrize(("off_by", "reset"), [(6, False), (-6, False), (9, True), (-9, True)])
def test_counter_that_wrapped_may_differ_from_the_clock_by_two_packets_and_half_a_per_cent(off_by, reset):
    """A thousand packets are missing by the clock: up to seven more or fewer by the number are no restart."""
    base = time_base_for(load_profile("simulated"))
    packets = [Packet(65_000 + n, 1_000 * n, (1,)) for n in range(20)]
    (before,) = packets_together(packets)
    base.place(before, 10.0)
    (after,) = packets_together([Packet((65_020 + 1_000 + off_by) % 65_536, 1_000 * 1_020, (1,))])
    base.place(after, 10.5)
    # after a restart, what is lost is what fits in the pause of the arrivals
    assert base.lost == pytest.approx(500 if reset else 1_000, abs=1)


def test_number_that_begins_again_at_nought_with_a_gap_is_a_loss():
    """After 65000 the next to come are 0 and 1: 535 packets are missing, by the number and by the clock."""
    base = time_base_for(load_profile("simulated"))
    (before,) = packets_together([Packet(64_990 + n, 1_000 * n, (1,)) for n in range(11)])
    base.place(before, 10.0)
    (after,) = packets_together([Packet(n, 1_000 * (10 + 536 + n), (1,)) for n in range(2)])
    seconds = base.place(after, 10.5)
    assert base.lost == 535
    assert seconds == pytest.approx([0.546, 0.547])


def test_number_that_begins_again_at_nought_while_the_clock_goes_on_is_a_restart():
    base = time_base_for(load_profile("simulated"))
    (before,) = packets_together([Packet(40_000 + n, 1_000 * n, (1,)) for n in range(11)])
    base.place(before, 10.0)
    (after,) = packets_together([Packet(n, 1_000 * (11 + n), (1,)) for n in range(2)])
    base.place(after, 10.3)
    assert (base.gap_count, base.lost) == (1, pytest.approx(299, abs=2))
