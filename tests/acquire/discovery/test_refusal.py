"""Bytes that make no profile are refused in one sentence that says what they look like."""

import re

import numpy as np
import pytest
from cobs import cobs
from hypothesis import given
from hypothesis import strategies as st
from pushed import as_file, captured, force_of_push, frames_of, text_frames
from uart import received

from acquire.decoders.packets import checksum, frame_body, packet_body
from acquire.discovery import Capture, Known, Proposal, discover, legibility
from acquire.discovery.listening import USUAL_BAUD
from acquire.discovery.refusal import unreadable
from acquire.errors import DiscoveryError, DiscoveryFailure
from acquire.sensor.profile import load_profile

WRONG = {
    "constant": b"\0" * 500,
    "floats": np.random.default_rng(1).normal(0.0, 1.0, 300).astype("<f4").tobytes(),
    "random": np.random.default_rng(2).integers(0, 256, 2000, dtype=np.uint8).tobytes(),
}


def of(data):
    return Capture.of([(0.0, data)], timed=False)


def refusal(data, **options):
    return unreadable(of(data), **options)


@pytest.mark.parametrize("data", WRONG.values(), ids=WRONG)
def test_bytes_that_are_nothing_are_refused(data):
    with pytest.raises(DiscoveryError, match="neither text lines nor packets"):
        discover(of(data))


def test_silence():
    error = refusal(b"")
    assert error.reason is DiscoveryFailure.SILENT
    assert str(error) == "nothing came: check that the sensor is switched on"


def test_too_little():
    error = refusal(b"123\n12")
    assert error.reason is DiscoveryFailure.TOO_LITTLE
    assert "only 6 bytes came" in str(error)


def test_text_with_parity_is_told_by_its_seven_bits():
    """Even parity in the eighth bit: what 7E1 looks like to a receiver set to 8N1."""
    plain = b"".join(data for _, data in text_frames(lambda row: f"{row.counts}", seconds=2.0))
    data = bytes(byte | (0x80 if byte.bit_count() % 2 else 0) for byte in plain)
    error = refusal(data)
    assert error.reason is DiscoveryFailure.WRONG_BAUD
    assert "8 data bits, no parity" in str(error)


def test_carriage_return_alone_is_no_line_end():
    data = b"".join(data for _, data in text_frames(lambda row: f"{row.counts}", end="\r", seconds=2.0))
    error = refusal(data)
    assert error.reason is DiscoveryFailure.NO_NUMBERS
    assert "end with a carriage return alone" in str(error)


def test_text_without_line_ends():
    assert "text without line ends" in str(refusal(b"123,456;" * 20))


def packets_of(version=1, count=40):
    bodies = [packet_body(n, 1000 * n, [n, -n, 70 * n], count_bits=24)[:-2] for n in range(count)]
    changed = [bytes([version]) + body[1:] for body in bodies]
    return b"".join(frame_body(body + checksum(body).to_bytes(2, "little")) for body in changed)


def test_packets_of_a_newer_version():
    error = refusal(packets_of(version=2))
    assert error.reason is DiscoveryFailure.BINARY
    assert "a version that this program does not know: update it" in str(error)


def test_packets_of_this_version_are_read():
    assert legibility(of(packets_of())).conclusive


def test_stuffed_frames_of_other_contents_are_told_apart():
    chance = np.random.default_rng(3)
    frames = [cobs.encode(chance.integers(0, 256, 11, dtype=np.uint8).tobytes()) + b"\0" for _ in range(60)]
    error = refusal(b"".join(frames))
    assert error.reason is DiscoveryFailure.BINARY
    assert "stuffed (COBS), but with contents of another kind" in str(error)


@pytest.mark.parametrize("start", [0, 3, 5])
def test_fixed_frames_are_told_with_their_length_and_beginning(start):
    """A common shape of binary protocols: two sync bytes, a counter, a number, a sum."""
    chance = np.random.default_rng(4)
    frames = []
    for n in range(200):
        body = bytes([n % 256]) + int(chance.integers(-(2**31), 2**31)).to_bytes(4, "little", signed=True)
        frames.append(b"\xaa\x55" + body + bytes([sum(body) % 256]))
    error = refusal(b"".join(frames)[start:])
    assert error.reason is DiscoveryFailure.BINARY
    assert "frames of 8 bytes that begin with aa 55 (hexadecimal)" in str(error)


def test_where_all_rates_were_tried_it_is_binary():
    error = refusal(WRONG["random"], tried=(115_200, 9_600))
    assert error.reason is DiscoveryFailure.BINARY
    assert "at any of the baud rates 115200, 9600" in str(error)


# wrong baud rates


PAIRS = [(sent, read) for sent in (9_600, 57_600, 115_200) for read in USUAL_BAUD if read != sent]


def misread(name, sent, read):
    profile = load_profile(name)
    frames = frames_of(profile, force_of_push(profile.rate_hz, seconds=1.3))
    return [(due, received(data, sent_baud=sent, read_baud=read)) for due, data in frames]


@pytest.mark.parametrize("name", ["bridge-80", "bridge-320", "packets-1k"])
@pytest.mark.parametrize(("sent", "read"), PAIRS)
def test_noise_of_a_wrong_rate_reads_as_nothing(name, sent, read):
    capture = captured(misread(name, sent, read))
    assert legibility(capture).share == 0.0
    with pytest.raises(DiscoveryError):
        discover(capture)


@pytest.mark.parametrize("name", ["bridge-80", "bridge-320", "packets-1k"])
@pytest.mark.parametrize("sent", [9_600, 57_600, 115_200])
def test_right_rate_is_conclusive(name, sent):
    assert legibility(captured(misread(name, sent, sent))).conclusive


def test_file_read_much_too_fast_is_told_to_be_of_a_wrong_rate():
    with pytest.raises(DiscoveryError, match="look like noise of a wrong baud rate") as caught:
        discover(as_file(misread("bridge-80", 9_600, 115_200)))
    assert caught.value.reason is DiscoveryFailure.WRONG_BAUD


# anything


WORDS = (b"1", b"-25", b"0", b"99999999999", b"1e5", b".5", b",", b";", b" ", b"\t", b":", b"\n", b"\r\n", b"#", b"N")
FRAMES = (b"\0", b"\xff", b"\x01\x01\0", packet_body(7, 9, [1], count_bits=16), packets_of(count=3))
SCRAPS = st.sampled_from(WORDS + FRAMES)
chunks = st.lists(
    st.tuples(st.floats(0.0, 2.0), st.binary(max_size=60) | st.lists(SCRAPS, max_size=40).map(b"".join)), max_size=25
)


def made_of(capture, **known):
    """A proposal, or the refusal."""
    try:
        return discover(capture, Known(**known))
    except DiscoveryError as error:
        return error


@given(chunks, st.booleans(), st.booleans(), st.sampled_from([None, 80.0]))
def test_any_bytes_make_a_profile_or_one_line_that_says_why_not(pieces, timed, datagrams, rate_hz):
    arrivals = np.cumsum([pause for pause, _ in pieces]).tolist()
    capture = Capture.of(zip(arrivals, (data for _, data in pieces), strict=True), timed=timed, datagrams=datagrams)
    made = made_of(capture, rate_hz=rate_hz)
    if isinstance(made, Proposal):
        assert {finding.key for finding in made.findings} >= {"framing", "rate_hz", "counts_per_newton"}
    else:
        assert re.fullmatch(r"[^\n]+", str(made))


@given(st.lists(st.tuples(st.integers(-5, 300), st.integers(-(10**9), 10**9)), min_size=10, max_size=60), st.booleans())
def test_any_columns_of_numbers_make_a_profile_or_have_no_force(rows, timed):
    data = [(0.05 * n, f"{a},{b}\r\n".encode()) for n, (a, b) in enumerate(rows)]
    made = made_of(Capture.of(data, timed=timed), rate_hz=20.0)
    if isinstance(made, Proposal):
        assert made.profile.framing == "lines"
    else:
        assert made.reason in {DiscoveryFailure.NO_NUMBERS, DiscoveryFailure.UNUSABLE}
