"""The parts of discovery by themselves, at the edges that whole sensors seldom reach."""

import numpy as np
import pytest
from pushed import as_file, captured, force_of_push, frames_of, text_frames

from acquire.decoders import encode_packet
from acquire.discovery import Asked, Capture, Confidence, Finding, Known, Task, discover
from acquire.discovery.counters import counter, fineness, unwrapped
from acquire.discovery.push import answer
from acquire.discovery.rate import rate_by_arrivals, rate_by_clock, usual, usual_tick
from acquire.discovery.scale import Load, rated, scale, slope
from acquire.discovery.table import Column
from acquire.errors import DiscoveryError, DiscoveryFailure
from acquire.sensor.profile import load_profile


def column(values, *, whole=True):
    return Column(values=np.asarray(values, dtype=float), is_number=True, whole=whole, example="")


# counters


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
    assert counter(column(0.0125 * np.arange(400), whole=False), None).name == "s"


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


# rate


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


# push


TIME = np.arange(0.0, 10.0, 0.0125)


def pushed(low, high, size=-5000.0):
    return np.where((low < TIME) & (high > TIME), size, 100.0) + np.random.default_rng(1).normal(0.0, 5.0, len(TIME))


def test_push_and_noise_are_measured():
    seen = answer(TIME, pushed(5.0, 8.0), Asked(Task.QUIET, 0.0, 4.0), Asked(Task.PUSH, 4.5, 8.0))
    assert seen.quiet == pytest.approx(100.0, abs=1.0)
    assert seen.noise == pytest.approx(5.0, rel=0.15)
    assert seen.change == pytest.approx(-5100.0, abs=5.0)
    assert seen.strength == pytest.approx(1020.0, rel=0.15)
    assert seen.push_s == pytest.approx(3.0, abs=0.2)
    assert seen.came_back


def test_what_happens_before_the_push_was_asked_for_is_none():
    quiet, push = Asked(Task.QUIET, 0.0, 2.0), Asked(Task.PUSH, 7.0, 9.0)
    assert answer(TIME, pushed(3.0, 5.0), quiet, push).pushed is None


def test_late_push_is_one():
    quiet, push = Asked(Task.QUIET, 0.0, 2.0), Asked(Task.PUSH, 2.5, 5.0)
    assert answer(TIME, pushed(6.5, 8.0), quiet, push).pushed is not None


def test_quiet_stretch_too_short_to_use_is_replaced_by_the_beginning():
    seen = answer(TIME, pushed(5.0, 8.0), Asked(Task.QUIET, 0.0, 0.5), Asked(Task.PUSH, 4.5, 8.0))
    assert seen.quiet == pytest.approx(100.0, abs=2.0)


def test_numbers_without_noise_are_told_by_their_steps():
    values = np.where((TIME > 5.0) & (TIME < 8.0), 20.0, np.floor(TIME * 3.0) % 2)
    seen = answer(TIME, values, None, None)
    assert seen.resolution == 1.0
    assert seen.change == pytest.approx(20.0, abs=1.0)


@pytest.mark.parametrize("values", [np.empty(0), np.ones(4), np.full(100, np.nan)])
def test_too_little_is_no_answer(values):
    assert answer(np.arange(len(values)) / 80.0, values, None, None) is None


def test_without_a_push_there_is_no_change():
    seen = answer(TIME, pushed(20.0, 21.0), None, None)
    assert (seen.pushed, seen.change) == (None, 0.0)


# scale


def seen_push(change):
    low, high = 5.0, 8.0
    return answer(TIME, pushed(low, high, 100.0 + change), None, None)


def told(answer, **more):
    options = {"whole": True, "load": None, "given": None, "unit": None, "unit_why": "", **more}
    return scale(answer=answer, **options)


def test_given_sensitivity_takes_the_sign_of_the_push():
    assert told(seen_push(-5000.0), given=8400.0).counts_per_newton.value == -8400.0
    assert told(seen_push(-5000.0), given=2.0, whole=False).name == "value"
    assert told(seen_push(5000.0), given=1.0, whole=False).name == "n"


def test_without_a_push_the_weight_gives_the_sign():
    still = answer(TIME, pushed(20.0, 21.0), None, None)
    found = told(still, load=Load(load_n=10.0, change=-4000.0)).counts_per_newton
    assert found.value == -400.0
    assert "the sign is that of the weight" in found.why


def test_weight_that_did_nothing_is_no_weight():
    found = told(seen_push(5000.0), load=Load(load_n=10.0, change=0.0))
    assert not found.known
    assert found.counts_per_newton.confidence is Confidence.GUESS


def test_columns_that_do_not_move_have_no_slope():
    assert slope(np.arange(10.0), np.zeros(10)) == 0.0


def test_rated_force_is_given_or_usual_or_what_the_converter_shows():
    assert rated(220.0, counts_per_newton=1.0, limit_counts=None).value == 220.0
    assert rated(None, counts_per_newton=1.0, limit_counts=None).value == 500.0
    small = rated(None, counts_per_newton=-327.67, limit_counts=32767)
    assert small.value == 90.0
    assert "the converter ends here" in small.why


# findings


def test_finding_of_no_number():
    finding = Finding(key="framing", value="lines", confidence=Confidence.SURE, why="")
    with pytest.raises(TypeError, match="framing is 'lines', not a number"):
        _ = finding.number


def test_proposal_knows_what_it_found():
    proposal = discover(captured(text_frames(lambda row: f"{row.counts}")))
    assert proposal.finding("rate_hz").number == 80.0
    with pytest.raises(KeyError, match="tick_hz"):
        proposal.finding("tick_hz")


def test_what_makes_no_profile_says_which_key():
    capture = captured(text_frames(lambda row: f"{row.counts}"))
    with pytest.raises(
        DiscoveryError, match="what was found makes no profile: key characteristic: a bluetooth"
    ) as caught:
        discover(capture, Known(link=(Finding(key="link", value="bluetooth", confidence=Confidence.GIVEN, why=""),)))
    assert caught.value.reason is DiscoveryFailure.UNUSABLE


# packets


def packets(ticks, *, counts=lambda _: [5, 6, 7, 5, 6, 7, 5, 6, 7, 5], bits=24):
    return [(n / 100.0, encode_packet(n, tick, counts(n), count_bits=bits)) for n, tick in enumerate(ticks)]


def test_clock_that_stands_still_in_packets_is_refused():
    with pytest.raises(DiscoveryError, match="stands still, and the program places samples by it") as caught:
        discover(captured(packets([7] * 300)))
    assert caught.value.reason is DiscoveryFailure.UNUSABLE


@pytest.mark.parametrize("count", [3, 10])
def test_too_few_packets(count):
    few = packets([10_000 * n for n in range(count)], counts=lambda _: [5])
    with pytest.raises(DiscoveryError, match="too few packets came to tell what they hold") as caught:
        discover(captured(few))
    assert caught.value.reason is DiscoveryFailure.TOO_LITTLE


def test_clock_of_packets_turns_over():
    proposal = discover(captured(packets([(2**32 - 1_000_000 + 10_000 * n) % 2**32 for n in range(300)])))
    assert (proposal.profile.rate_hz, proposal.profile.tick_hz) == (1000.0, 1e6)


def test_unusual_clock_of_packets_is_measured():
    proposal = discover(captured(packets([500 * n for n in range(300)])))
    assert (proposal.profile.rate_hz, proposal.profile.tick_hz) == (1000.0, 50_000.0)
    assert proposal.finding("tick_hz").confidence is Confidence.LIKELY


def test_clock_of_packets_in_a_file_may_be_told_by_the_rate():
    unknown = discover(as_file(packets([4567 * n for n in range(300)])))
    assert unknown.finding("tick_hz").confidence is Confidence.GUESS
    told = discover(as_file(packets([3277 * n for n in range(300)])), Known(rate_hz=100.0))
    assert told.profile.tick_hz == 32_768.0


@pytest.mark.parametrize("bits", [16, 24, 32])
def test_width_is_that_of_the_packet(bits):
    proposal = discover(captured(packets([10_000 * n for n in range(300)], bits=bits)))
    assert proposal.profile.count_bits == bits


def test_converter_of_24_bits_sent_in_32_is_known_where_it_stops():
    def counts(n):
        return [2**23 - 1] * 10 if 100 < n < 200 else [n % 7] * 10

    proposal = discover(captured(packets([10_000 * n for n in range(300)], counts=counts, bits=32)))
    assert proposal.profile.count_bits == 24


def test_short_capture_still_has_a_rate():
    frames = [frame for frame in text_frames(lambda row: f"{row.counts}") if frame[0] < 1.5]
    proposal = discover(captured(frames, told=False))
    assert proposal.profile.rate_hz == pytest.approx(80.0, rel=0.02)
    assert "in a short time" in proposal.finding("rate_hz").why


def test_packets_of_a_file_are_timed_by_their_clock():
    profile = load_profile("packets-1k")
    proposal = discover(as_file(frames_of(profile, force_of_push(1000.0))))
    assert proposal.push_seen
    assert "lost samples" not in dict(proposal.measured)


def test_capture_of_nothing_has_no_bytes():
    assert Capture.of([]).seconds == 0.0
    with pytest.raises(DiscoveryError, match="nothing came"):
        discover(Capture.of([]))


def test_number_padded_with_blanks_is_refused():
    with pytest.raises(DiscoveryError, match="blanks stand around the numbers"):
        discover(captured(text_frames(lambda row: f"{row.counts:9d}")))


def test_columns_left_empty_are_ignored():
    proposal = discover(captured(text_frames(lambda row: f",{row.counts},")))
    assert proposal.profile.columns == ("-", "counts", "-")
    assert "1: empty, ignored" in proposal.finding("columns").why
