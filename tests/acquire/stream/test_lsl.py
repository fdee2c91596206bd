"""What goes out to other programs: newtons, seconds on the clock of the network, markers. The network is not needed."""

import numpy as np
import pylsl
import pytest

from acquire.decoders import encode_packet
from acquire.sensor.profile import load_profile
from acquire.stream import lsl
from acquire.stream.lsl import ForceOutlet, OutletFeed
from acquire.stream.pipeline import Pipeline

BEHIND_S = 100.0


class Outlet:
    """Keeps what is sent, and how the stream is described."""

    def __init__(self, info, *, max_buffered):
        self.info, self.max_buffered = info, max_buffered
        self.sent = []

    def push_chunk(self, values, stamps):
        self.sent.append((values, stamps))

    def push_sample(self, values, stamp):
        self.sent.append((values, stamp))


@pytest.fixture
def outlet(monkeypatch):
    monkeypatch.setattr(lsl._pylsl(), "StreamOutlet", Outlet)
    return ForceOutlet("Arm", source_id="a", rate_hz=80.0, sensor="X", clock=lambda: pylsl.local_clock() - BEHIND_S)


def test_streams_are_described(outlet):
    force, markers = outlet._force.info, outlet._markers.info
    assert (force.name(), force.type(), force.channel_count(), force.nominal_srate()) == ("Arm", "Force", 1, 80.0)
    assert (markers.name(), markers.type(), markers.channel_count()) == ("Arm markers", "Markers", 1)
    assert markers.nominal_srate() == pylsl.IRREGULAR_RATE
    assert force.source_id() != markers.source_id()
    assert outlet._force.max_buffered == outlet._markers.max_buffered == 60


def test_samples_go_out_by_the_clock_of_the_network_and_never_back(outlet):
    outlet.push(np.array([1.0, 2.0]), np.array([5.0, np.nan]))
    outlet.push(np.array([1.5, 3.0]), np.array([6.0, 7.0]))
    (first, at), (second, then) = outlet._force.sent
    assert first.shape == second.shape == (2, 1)
    assert first[0, 0] == 5.0
    assert np.isnan(first[1, 0])
    assert [*at, *then] == pytest.approx([101.0, 102.0, 102.0, 103.0], abs=0.05)


def test_marker_is_sent_at_its_second(outlet):
    outlet.mark("accepted", 4.0)
    (((text,), at),) = outlet._markers.sent
    assert (text, at) == ("accepted", pytest.approx(104.0, abs=0.05))


def test_feed_sends_what_comes_after_it_began_and_the_rest_when_it_is_stopped(outlet):
    profile = load_profile("simulated")
    pipeline = Pipeline(profile, profile.nominal_calibration())
    pipeline.feed(1.0, encode_packet(0, 0, [0] * 10, count_bits=24))
    feed = OutletFeed(outlet, pipeline)
    pipeline.feed(1.01, encode_packet(1, 10_000, [round(7.0 * profile.counts_per_newton)] * 10, count_bits=24))
    feed.stop()
    feed.stop()
    sent = np.concatenate([values for values, _ in outlet._force.sent])
    assert sent.shape == (10, 1)
    assert sent == pytest.approx(7.0, abs=0.01)
