"""Packets of an unknown sensor: width, clock and rate."""

import pytest
from pushed import as_file, captured, force_of_push, frames_of, text_frames

from acquire.decoders import encode_packet
from acquire.discovery import Capture, Confidence, Known, discover
from acquire.errors import DiscoveryError, DiscoveryFailure
from acquire.sensor.profile import load_profile


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
