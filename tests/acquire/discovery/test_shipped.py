"""Each sensor that comes along is found again from what it sends, live, in bursts, untold, and from a file."""

import msgspec
import pytest
from pushed import as_file, as_notifications, captured, force_of_push, frames_of

from acquire.decoders import decoder_for
from acquire.discovery import Confidence, Known, discover
from acquire.errors import DiscoveryError
from acquire.sensor.profile import known_profiles, load_profile

PROFILES = known_profiles()
SAME = ("framing", "columns", "separator", "count_bits", "sequence_bits", "tick_hz", "rate_hz")
"""The keys that decide how the bytes are read."""
WAYS = {
    "live": captured,
    "in bursts": lambda frames: captured(frames, every_s=0.1),
    "untold": lambda frames: captured(frames, told=False),
    "file": as_file,
}


def same(found, wanted, data):
    assert {key: getattr(found, key) for key in SAME} == {key: getattr(wanted, key) for key in SAME}
    assert (found.counts_per_newton > 0) == (wanted.counts_per_newton > 0)
    assert decoder_for(found).feed(data) == decoder_for(wanted).feed(data)


def clockless(profile):
    return profile.framing == "lines" and not {"ms", "us", "s"} & set(profile.columns)


@pytest.fixture(params=PROFILES, ids=lambda profile: profile.name)
def profile(request):
    return request.param


@pytest.fixture
def frames(profile):
    return frames_of(profile, force_of_push(profile.rate_hz))


@pytest.mark.parametrize("way", WAYS)
def test_sensor_is_found_again(profile, frames, way):
    capture = WAYS[way](frames)
    proposal = discover(capture, Known(rate_hz=profile.rate_hz if way == "file" and clockless(profile) else None))
    same(proposal.profile, profile, capture.data)
    assert proposal.push_seen
    assert dict(proposal.measured)["read with this profile"].split(", ")[1].startswith("0 damaged")


def test_sensor_that_falls_with_a_push_is_found_with_a_minus(profile):
    falling = msgspec.structs.replace(profile, counts_per_newton=-profile.counts_per_newton, zero_counts=52_000.0)
    capture = captured(frames_of(falling, force_of_push(falling.rate_hz)))
    proposal = discover(capture)
    same(proposal.profile, falling, capture.data)
    noise = 0.05 * abs(falling.counts_per_newton)
    assert proposal.profile.zero_counts == pytest.approx(52_000.0, abs=noise)
    assert proposal.finding("zero_counts").confidence is Confidence.SURE


def test_keys_that_were_seen_are_sure_and_those_that_cannot_be_are_guesses(frames):
    proposal = discover(captured(frames))
    sure = {"framing", "columns", "separator", "tick_hz", "rate_hz", "zero_counts", "sensitivity"}
    for finding in proposal.findings:
        if finding.key in sure:
            assert finding.confidence is Confidence.SURE, finding
        if finding.key in {"counts_per_newton", "rated_force_n"}:
            assert finding.confidence is Confidence.GUESS, finding
        assert finding.why
    assert proposal.profile.sensitivity == "unknown"
    assert "run 'ramphold check' with --weights" in proposal.finding("counts_per_newton").why


def test_what_the_user_knows_is_taken_with_the_sign_of_the_push(profile, frames):
    known = Known(counts_per_newton=abs(profile.counts_per_newton), rated_force_n=profile.rated_force_n)
    proposal = discover(captured(frames), known)
    assert proposal.profile.sensitivity == "nominal"
    assert proposal.profile.counts_per_newton == profile.counts_per_newton
    assert proposal.profile.rated_force_n == profile.rated_force_n
    given = {finding.key for finding in proposal.findings if finding.confidence is Confidence.GIVEN}
    assert given == {"counts_per_newton", "rated_force_n"}


def test_lost_frames_and_a_start_in_the_middle_change_nothing(profile, frames):
    kept = [frame for at, frame in enumerate(frames) if at % 37 != 5]
    middle = [(kept[0][0], kept[0][1][3:]), *kept[1:]]
    found = discover(captured(middle)).profile
    # A sensor that neither counts nor stamps does not show its losses: it sends so many samples a second.
    rate = profile.rate_hz * 36 / 37 if profile.name == "bridge-80" else profile.rate_hz
    assert found.rate_hz == pytest.approx(rate, rel=2e-3)
    rest = [key for key in SAME if key != "rate_hz"]
    assert [getattr(found, key) for key in rest] == [getattr(profile, key) for key in rest]


def test_bare_packets_of_a_bluetooth_sensor_are_found():
    profile = load_profile("ble-packets")
    capture = captured(as_notifications(frames_of(profile, force_of_push(500.0))), datagrams=True)
    found = discover(capture).profile
    assert {key: getattr(found, key) for key in SAME} == {key: getattr(profile, key) for key in SAME}


def test_bare_packets_without_their_bounds_are_refused():
    bodies = as_notifications(frames_of(load_profile("packets-1k"), force_of_push(1000.0)))
    with pytest.raises(DiscoveryError, match="neither text lines nor packets"):
        discover(captured(bodies))


def test_noise_and_push_are_measured(profile, frames):
    seen = dict(discover(captured(frames)).measured)
    noise = float(seen["noise"].split()[0].replace(",", ""))
    assert noise == pytest.approx(0.05 * profile.counts_per_newton, rel=0.1)
    change = float(seen["push"].split()[0].replace(",", ""))
    # The push falls from 140 to 126 N; its level is in between.
    assert 126.0 < change / profile.counts_per_newton < 140.0
