"""When each sample was taken: packets and lines are placed in seconds, and what is missing is a gap."""

import math

import numpy as np
import pytest
from timed import BAD_LINE, TICK_TURN, lines, packet, place_all, sensor, single, steady

from acquire.decoders import Damage, Lines
from acquire.timing.timebase import Gap

# Packets


def test_packets_in_order():
    base = sensor()
    placed = place_all(base, [(packet(n, samples=2), 5.0 + 0.03 * n) for n in range(3)])
    assert placed == pytest.approx([0.0, 0.001, 0.002, 0.003, 0.004, 0.005])
    assert (base.lost, base.gaps, base.gap_count, base.duplicates) == (0, (), 0, 0)


def test_packet_time_is_not_its_arrival():
    early, late = sensor(), sensor()
    events = [packet(n) for n in range(50)]
    on_time = place_all(early, [(event, 0.01 * n) for n, event in enumerate(events)])
    delayed = place_all(late, [(event, 7.0 + 0.3 * (n // 30)) for n, event in enumerate(events)])
    assert delayed.tolist() == on_time.tolist()


def test_lost_packet_is_a_gap_of_its_samples():
    base = sensor()
    base.place(packet(0), 0.0)
    placed = base.place(packet(3), 0.03)
    assert placed[0] == pytest.approx(0.030)
    assert base.lost == 20
    assert base.gaps == (Gap(pytest.approx(0.009), pytest.approx(0.020)),)


def test_sequence_and_tick_go_round():
    base = sensor()
    first = 2**16 - 2
    start = TICK_TURN - 15_000
    events = [single((first + n) % 2**16, (start + 10_000 * n) % TICK_TURN, 10) for n in range(5)]
    placed = place_all(base, [(event, 0.01 * n) for n, event in enumerate(events)])
    assert placed == pytest.approx(np.arange(50) / 1000)
    assert (base.lost, base.duplicates) == (0, 0)


def test_outage_of_many_turns_of_the_sequence_is_told_by_the_tick():
    # 20 minutes at 100 packets a second: 120,000 packets, nearly two turns of the number.
    base = sensor()
    base.place(packet(0), 0.0)
    base.place(packet(1), 0.01)
    placed = base.place(packet(120_000), 1200.0)
    assert placed[0] == pytest.approx(1200.0)
    assert base.lost == 1_199_980
    assert base.gaps[-1].length_s == pytest.approx(1199.98)


def test_outage_beyond_half_a_turn_of_the_tick_is_told_by_the_arrivals():
    # 100 minutes; the tick goes round after 71.6 and looks like 28.
    base = sensor()
    base.place(packet(0), 10.0)
    placed = base.place(packet(600_000), 6010.0)
    assert placed[0] == pytest.approx(6000.0, abs=0.02)
    assert base.lost == pytest.approx(6_000_000, abs=20)


@pytest.mark.parametrize("again", [2, 1, 0])
def test_packet_that_came_before_is_dropped_and_counted(again):
    base = sensor()
    place_all(base, [(packet(n), 0.01 * n) for n in range(3)])
    assert np.isnan(base.place(packet(again), 0.021)).all()
    assert base.place(packet(3), 0.03)[0] == pytest.approx(0.030)
    assert (base.duplicates, base.lost) == (1, 0)


def test_packet_out_of_order_stays_lost():
    base = sensor()
    placed = place_all(base, [(packet(n), 0.01) for n in (0, 1, 3, 2, 4)])
    assert placed == pytest.approx(np.r_[0:20, 30:50] / 1000)
    assert (base.duplicates, base.lost) == (1, 10)


def test_last_packet_again_after_a_stall_is_dropped():
    base = sensor()
    base.place(packet(0), 0.0)
    base.place(packet(1), 0.01)
    assert np.isnan(base.place(packet(1), 5.0)).all()


def test_true_rate_far_from_nominal_is_learnt_and_loses_nothing():
    # An on-chip oscillator that runs 12 % slow, then one that runs 12 % fast.
    for step in (11_200, 8_800):
        base = sensor()
        placed = [base.place(packet(n, tick=step * n), 0.01 * n) for n in range(40)]
        assert base.lost == 0
        assert np.diff(placed[-1]) == pytest.approx(np.full(9, step / 1e7), rel=1e-6)
        assert (np.diff(np.concatenate(placed)) > 0).all()


def test_samples_the_device_itself_lost_are_told_by_the_tick():
    base = sensor()
    place_all(base, [(packet(n), 0.01 * n) for n in range(10)])
    placed = base.place(packet(10, tick=103_000), 0.1)
    assert placed[0] == pytest.approx(0.103)
    assert base.lost == 3


def test_first_packet_spaced_too_wide_is_made_good_in_the_next():
    # Spaced at the nominal period sample 9 lies at 9 ms, but the next packet begins at 8 ms.
    base = sensor()
    placed = place_all(base, [(packet(n, tick=8_000 * n), 0.01 * n) for n in range(20)])
    assert (np.diff(placed) > 0).all()
    assert placed[-10:] == pytest.approx(0.152 + 0.0008 * np.arange(10))


def test_tick_that_stands_still_does_not_stop_time():
    base = sensor()
    placed = place_all(base, [(packet(n, tick=77, samples=1), 0.01 * n) for n in range(5)])
    assert (np.diff(placed) > 0).all()


@pytest.mark.parametrize("run_s", [0.3, 2.0, 60.0])
def test_restart_leaves_a_gap_as_long_as_the_arrivals_paused(run_s):
    base = sensor()
    count = int(run_s * 100)
    before = place_all(base, [(packet(n), 50.0 + 0.01 * n) for n in range(count)])
    after = place_all(base, [(packet(n), 50.0 + run_s + 1.99 + 0.01 * n) for n in range(20)])
    assert after[0] - before[-1] == pytest.approx(1.991, abs=1e-6)
    assert np.diff(after) == pytest.approx(np.full(199, 0.001))
    assert base.lost == 1990
    assert base.gaps == (Gap(pytest.approx(before[-1]), pytest.approx(1.990)),)


def test_restart_with_a_higher_tick_is_seen_by_the_sequence():
    base = sensor()
    before = place_all(base, [(packet(n), 0.01 * n) for n in range(100)])
    after = base.place(packet(0, tick=9_000_000), 3.0)
    assert after[0] - before[-1] == pytest.approx(3.0 - 0.99 - 0.009, abs=1e-6)


def test_restart_within_a_chunk_still_leaves_a_gap():
    base = sensor()
    events = [packet(n) for n in range(200)] + [packet(n) for n in range(3)]
    placed = place_all(base, [(event, 4.0) for event in events])
    assert placed[2000] - placed[1999] == pytest.approx(0.002)
    assert base.lost == 1


def test_damage_between_packets_is_told_by_the_tick_alone():
    base = sensor()
    base.place(packet(0), 0.0)
    assert base.place(Damage("bad checksum", 40, 0), 0.01).shape == (0,)
    base.place(packet(2), 0.02)
    assert base.lost == 10


def test_packets_of_different_lengths():
    base = sensor()
    placed = place_all(
        base, [(single(n, tick * 1000, size), 0.0) for n, (tick, size) in enumerate([(0, 4), (4, 1), (5, 7)])]
    )
    assert placed == pytest.approx(np.arange(12) / 1000)


# Lines with a clock


@pytest.mark.parametrize(("name", "step"), [("ms", 1e-3), ("us", 1e-6)])
def test_line_clock_goes_round_at_its_own_steps(name, step):
    base = sensor(columns=(name, "counts"))
    ticks = [(2**32 - 3 + n) % 2**32 for n in range(6)]
    placed = [float(base.place(lines(tick_s=[tick * step]), 0.0)[0]) for tick in ticks]
    assert placed == pytest.approx([n * step for n in range(6)], abs=1e-9)


def test_seconds_that_do_not_go_round_stay_straight():
    base = sensor(columns=("s", "counts"))
    placed = base.place(lines(3, tick_s=[4294967.29, 4294967.3025, 4294967.315]), 0.0)
    assert placed == pytest.approx([0.0, 0.0125, 0.025], abs=1e-8)


def test_line_clock_is_the_time_itself():
    base = sensor(columns=("ms", "counts"))
    stamps = [1.0, 1.012, 1.025, 1.038, 1.05]
    placed = place_all(base, [(lines(tick_s=[stamp]), 3.0) for stamp in stamps])
    assert placed == pytest.approx(np.array(stamps) - 1.0, abs=1e-12)


def test_lost_lines_are_told_by_their_clock():
    base = sensor(columns=("ms", "counts"))
    base.place(lines(3, tick_s=[0.0, 0.0125, 0.025]), 0.0)
    base.place(BAD_LINE, 0.0)
    base.place(lines(1, tick_s=[0.0625]), 0.0)
    assert base.lost == 2
    assert base.gaps == (Gap(0.025, pytest.approx(0.025)),)


def test_line_that_came_before_is_nan_and_counted():
    base = sensor(columns=("ms", "counts"))
    placed = base.place(lines(5, tick_s=[0.0, 0.0125, 0.0125, 0.0, 0.025]), 0.0)
    assert placed == pytest.approx([0.0, 0.0125, math.nan, math.nan, 0.025], nan_ok=True)
    assert (base.duplicates, base.lost) == (2, 0)


def test_coarse_clock_with_a_counter_drops_nothing():
    # 1 kHz stamped in ms by another oscillator: now and then two samples share a step.
    base = sensor(columns=("seq", "ms", "counts"), rate_hz=1000.0)
    placed = base.place(lines(5, sequence=[0, 1, 2, 3, 4], tick_s=[0.0, 0.001, 0.001, 0.002, 0.003]), 0.0)
    assert (np.diff(placed) > 0).all()
    assert placed == pytest.approx([0.0, 0.001, 0.001, 0.002, 0.003], abs=2e-6)
    assert (base.duplicates, base.lost) == (0, 0)


def test_restart_of_a_line_clock():
    base = sensor(columns=("ms", "counts"))
    before = place_all(base, [(lines(tick_s=[0.0125 * n]), 0.0125 * n) for n in range(400)])
    after = base.place(lines(2, tick_s=[0.2, 0.2125]), 10.0)
    assert after[0] - before[-1] == pytest.approx(10.0 - 0.0125 * 399)
    assert after[1] - after[0] == pytest.approx(0.0125)
    assert base.lost == 400  # 5.0125 s less one period


# Lines with a counter


def test_counted_lines_lie_at_the_nominal_rate():
    base = sensor(columns=("seq", "counts"))
    placed = base.place(lines(4, sequence=[7, 8, 9, 10]), 0.0)
    assert placed == pytest.approx(np.arange(4) / 80)


def test_lost_counted_line_leaves_its_place_empty():
    base = sensor(columns=("seq", "counts"))
    placed = base.place(lines(3, sequence=[7, 8, 11]), 0.0)
    assert placed == pytest.approx(np.array([0, 1, 4]) / 80)
    assert base.lost == 2
    assert base.gaps == (Gap(pytest.approx(1 / 80), pytest.approx(2 / 80)),)


@pytest.mark.parametrize("bits", [8, 16, 32])
def test_line_counter_goes_round_at_its_width(bits):
    base = sensor(columns=("seq", "counts"), sequence_bits=bits)
    placed = base.place(lines(4, sequence=[2**bits - 2, 2**bits - 1, 0, 2]), 0.0)
    assert placed == pytest.approx(np.array([0, 1, 2, 4]) / 80)
    assert (base.lost, base.duplicates) == (1, 0)


def test_counted_line_that_came_before_is_nan_and_counted():
    base = sensor(columns=("seq", "counts"))
    placed = base.place(lines(5, sequence=[5, 6, 6, 5, 7]), 0.0)
    assert placed == pytest.approx([0, 1 / 80, math.nan, math.nan, 2 / 80], nan_ok=True)
    assert base.duplicates == 2


def test_restart_of_a_line_counter():
    base = sensor(columns=("seq", "counts"))
    before = place_all(base, [(lines(sequence=[n]), n / 80) for n in range(400)])
    after = base.place(lines(2, sequence=[0, 1]), 399 / 80 + 3.0)
    assert after - before[-1] == pytest.approx([3.0, 3.0125])
    assert base.lost == 239
    assert base.gaps == (Gap(before[-1], pytest.approx(239 / 80)),)


def test_early_restart_of_a_line_counter_is_known_by_the_pause():
    base = sensor(columns=("seq", "counts"))
    base.place(lines(3, sequence=[0, 1, 2]), 0.0)
    after = base.place(lines(2, sequence=[0, 1]), 1.0)
    assert after == pytest.approx([2 / 80 + 1.0, 3 / 80 + 1.0])
    assert base.duplicates == 0


@pytest.mark.parametrize("minutes", [5, 8, 13])
def test_restart_of_a_line_counter_past_half_of_its_turn_is_no_step_to_the_next(minutes):
    """Sixteen bits at 80 Hz turn in 13.7 minutes: back at 0 after 8, it seems to have gone on by 340 s."""
    base, count = sensor(columns=("seq", "counts")), minutes * 60 * 80
    before = base.place(lines(count, sequence=list(range(count))), (count - 1) / 80)
    back = [(lines(sequence=[n]), (count - 1 + n) / 80 + 3.0) for n in range(400)]
    after = place_all(base, back)
    assert after[0] - before[-1] == pytest.approx(3.0)
    assert base.lost == 239
    assert np.diff(base.refine(after)) == pytest.approx(np.full(399, 1 / 80), rel=1e-3)


def test_restart_of_a_line_clock_past_half_of_its_turn_is_no_step_to_the_next():
    """Microseconds of 32 bits turn in 72 minutes."""
    base = sensor(columns=("us", "counts"))
    base.place(lines(2, tick_s=[2399.9875, 2400.0]), 2400.0)
    after = base.place(lines(2, tick_s=[0.0, 0.0125]), 2403.0125)
    assert np.diff(after) == pytest.approx(1 / 80)
    assert base.lost == pytest.approx(240, abs=2)


def test_what_a_stalled_link_lost_is_told_by_the_counter():
    """Four seconds held back, of which three are lost: they come within a moment."""
    base = sensor(columns=("seq", "counts"))
    place_all(base, [(lines(sequence=[n]), n / 80) for n in range(400)])
    placed = base.place(lines(80, sequence=list(range(640, 720))), 399 / 80 + 4.0)
    assert base.lost == 240
    assert placed[0] == pytest.approx(640 / 80)


def test_outage_of_more_than_half_a_turn_is_told_by_the_arrivals():
    base = sensor(columns=("seq", "counts"))
    base.place(lines(sequence=[0]), 0.0)
    placed = base.place(lines(sequence=[96_000 % 2**16]), 1200.0)  # 20 minutes; the counter says 380 s
    assert placed[0] == pytest.approx(1200.0)
    assert base.lost == 95_999


def test_sensor_that_rests_loses_nothing_but_its_time_shows_once_refined():
    base = sensor(columns=("seq", "counts"))
    placed = place_all(base, [(lines(sequence=[n]), n / 80 + (9.0 if n >= 400 else 0.0)) for n in range(800)])
    assert base.lost == 0
    assert np.diff(placed) == pytest.approx(np.full(799, 1 / 80))
    steps = np.diff(base.refine(placed))
    assert steps[399] == pytest.approx(9.0125, abs=1e-6)
    assert np.delete(steps, 399) == pytest.approx(np.full(798, 1 / 80), rel=1e-6)


# Lines with neither


def test_bare_lines_lie_at_the_nominal_rate():
    base = sensor(columns=("counts",))
    assert base.place(lines(3), 5.0) == pytest.approx(np.arange(3) / 80)
    assert base.place(lines(1), 5.1) == pytest.approx([3 / 80])


def test_bad_line_keeps_its_place():
    base = sensor(columns=("counts",))
    base.place(lines(2), 0.0)
    assert base.place(BAD_LINE, 0.0).shape == (0,)
    assert base.place(BAD_LINE, 0.0).shape == (0,)
    assert base.place(lines(1), 0.0) == pytest.approx([4 / 80])
    assert base.lost == 2
    assert base.gaps == (Gap(pytest.approx(1 / 80), pytest.approx(2 / 80)),)
    assert base.gap_count == 1


def test_bad_line_before_the_first_good_one_is_no_loss():
    base = sensor(columns=("counts",))
    base.place(BAD_LINE, 0.0)
    assert base.place(lines(1), 0.0).tolist() == [0.0]
    assert base.lost == 0


def test_damage_of_unknown_length_takes_no_place():
    base = sensor(columns=("counts",))
    base.place(lines(1), 0.0)
    base.place(Damage("too long", 300, 0), 0.0)
    assert base.place(lines(1), 0.0) == pytest.approx([1 / 80])
    assert base.lost == 0


def test_pause_of_the_arrivals_is_a_gap():
    base = sensor(columns=("counts",))
    before = place_all(base, steady(0, 400))
    after = place_all(base, steady(560, 400))  # 2 s of lines never came
    assert after[0] - before[-1] == pytest.approx(161 / 80)
    assert base.lost == 160
    assert base.gaps == (Gap(pytest.approx(399 / 80), pytest.approx(2.0)),)


def test_pause_is_a_gap_at_once():
    base = sensor(columns=("counts",))
    place_all(base, steady(0, 40))
    base.place(lines(1), 39 / 80 + 1.0)
    assert base.lost == 79
    assert base.gap_count == len(base.gaps) == 1


@pytest.mark.parametrize("pause", [0.3, 0.49])
def test_pause_that_a_link_can_make_is_no_gap(pause):
    base = sensor(columns=("counts",))
    place_all(base, steady(0, 40))
    assert base.place(lines(1), 39 / 80 + pause) == pytest.approx([40 / 80])
    assert (base.lost, base.gaps) == (0, ())


def test_pause_of_a_slow_sensor_is_judged_by_its_samples():
    base = sensor(columns=("counts",), rate_hz=10.0)
    base.place(lines(1), 0.0)
    assert base.place(lines(1), 0.9) == pytest.approx([0.1])
    assert base.place(lines(1), 2.0) == pytest.approx([0.1 + 1.1])


def test_burst_after_a_pause_was_late_and_not_lost():
    base = sensor(columns=("counts",))
    events = [(event, max(arrival, 6.0) if arrival > 5.0 else arrival) for event, arrival in steady(0, 800)]
    placed = place_all(base, events)
    assert base.lost == 0
    assert base.gaps == ()
    assert base.refine(placed) == pytest.approx(np.arange(800) / 80, abs=1e-6)


def test_two_pauses_are_two_gaps_and_bad_lines_between_are_in_order():
    base = sensor(columns=("counts",))
    place_all(base, [*steady(0, 80), *steady(160, 20), (BAD_LINE, 180 / 80), *steady(181, 60), *steady(320, 8)])
    assert base.lost == 80 + 1 + 79
    assert [round(gap.length_s * 80) for gap in base.gaps] == [80, 1, 79]
    assert base.gap_count == 3


def test_lines_of_newtons_are_placed_like_counts():
    base = sensor(columns=("n",))
    assert base.place(Lines([1.5, 2.5], None, None), 0.0) == pytest.approx([0.0, 0.0125])


def test_gaps_are_bounded_and_their_number_is_not():
    base = sensor(columns=("seq", "counts"))
    for n in range(1, 1200):
        base.place(lines(sequence=[2 * n]), n / 40)
    assert len(base.gaps) == 1000
    assert base.gap_count == base.lost == 1198
