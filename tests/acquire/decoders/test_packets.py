import random
from itertools import pairwise

import numpy as np
import pytest
import wire_vectors
from cobs import cobs
from hypothesis import given
from hypothesis import strategies as st

from acquire.decoders import (
    Damage,
    LineDecoder,
    Packet,
    PacketDecoder,
    checksum,
    encode_packet,
    frame_body,
    packet_body,
)
from acquire.decoders.packets import MAX_PACKET

GOLDEN = wire_vectors.named("packet")
golden = pytest.mark.parametrize("name", GOLDEN)

FIRST = Packet(7, 70, (700,))
GOOD = encode_packet(*FIRST, count_bits=24)


def sealed(body):
    """A packet of any body with a right checksum."""
    return frame_body(body + checksum(body).to_bytes(2, "little"))


def flipped(wire, at):
    """One bit of one byte the other way, never made or taken from a delimiter."""
    changed = bytearray(wire)
    changed[at] ^= 0x10 if changed[at] != 0x10 else 0x20
    return bytes(changed)


HEADER = bytes.fromhex("01 03 0700 46000000")
# Each after a good packet: what a sensor in step may send, and what is made of it.
CASES = {
    "nothing": (b"", []),
    "good packet": (GOOD, [FIRST]),
    "idle delimiters": (b"\0\0\0", []),
    "bit error in the counts": (flipped(GOOD, 10), [Damage("bad checksum", len(GOOD), 0)]),
    "bit error in the stuffing": (flipped(GOOD, 0), [Damage("bad COBS", len(GOOD), 0)]),
    "lost byte": (GOOD[:10] + GOOD[11:], [Damage("bad COBS", len(GOOD) - 1, 0)]),
    "bad packet then good packet": (flipped(GOOD, 10) + GOOD, [Damage("bad checksum", len(GOOD), 0), FIRST]),
    "two packets run together": (GOOD[:-1] + GOOD, [Damage("bad checksum", 2 * len(GOOD) - 1, 0)]),
    "later version": (sealed(b"\x02" + HEADER[1:] + b"\x01\0\0"), [Damage("wrong version", 15, 0)]),
    "one byte a count": (sealed(b"\x01\x01" + HEADER[2:] + b"\x01\0"), [Damage("unknown width", 14, 0)]),
    "eight bytes a count": (sealed(b"\x01\x08" + HEADER[2:] + bytes(8)), [Damage("unknown width", 20, 0)]),
    "part of a count": (sealed(HEADER + b"\x01\0\0\x02"), [Damage("not a whole number of counts", 16, 0)]),
    "header alone": (sealed(HEADER), [Damage("too short", 12, 0)]),
    "one byte": (b"\x01\0", [Damage("too short", 2, 0)]),
    "most bytes, no packet": (b"\x01" * MAX_PACKET + b"\0", [Damage("bad checksum", MAX_PACKET + 1, 0)]),
    "one byte too many": (
        b"\x01" * (MAX_PACKET + 1) + b"\0" + GOOD,
        [Damage("too long", MAX_PACKET + 1, 0), Damage("too long", 1, 0), FIRST],
    ),
    "good packet inside one too long": (
        b"\x01" * 2000 + GOOD + GOOD,
        [Damage("too long", 1101, 0), Damage("too long", 899 + len(GOOD), 0), FIRST],
    ),
}
cases = pytest.mark.parametrize(("stream", "expected"), CASES.values(), ids=CASES.keys())


def in_step():
    decoder = PacketDecoder()
    assert decoder.feed(GOOD) == [FIRST]
    return decoder


def feed_each(decoder, chunks):
    return [event for chunk in chunks for event in decoder.feed(chunk)]


def by_bytes(stream):
    return [stream[at : at + 1] for at in range(len(stream))]


def cut(stream, places):
    bounds = [0, *sorted(place % (len(stream) + 1) for place in places), len(stream)]
    return [stream[low:high] for low, high in pairwise(bounds)]


@cases
def test_whole(stream, expected):
    assert in_step().feed(stream) == expected


@cases
def test_a_byte_at_a_time(stream, expected):
    assert feed_each(in_step(), by_bytes(stream)) == expected


@cases
def test_with_trailing_bytes(stream, expected):
    decoder = in_step()
    assert decoder.feed(stream + GOOD[:5]) == expected
    assert decoder.pending == 5
    assert decoder.feed(GOOD[5:]) == [FIRST]


@cases
def test_damage_is_counted(stream, expected):
    decoder = in_step()
    decoder.feed(stream)
    assert decoder.damaged == sum(isinstance(event, Damage) for event in expected)


@golden
def test_golden_packet_decoded(name):
    vector = GOLDEN[name]
    assert PacketDecoder().feed(bytes.fromhex(vector["wire"])) == [wire_vectors.packet(vector)]


@golden
def test_golden_packet_encoded(name):
    vector = GOLDEN[name]
    packet, bits = wire_vectors.packet(vector), 8 * vector["width"]
    assert encode_packet(*packet, count_bits=bits).hex(" ") == vector["wire"]
    assert packet_body(*packet, count_bits=bits).hex(" ") == vector["body"]


@golden
def test_golden_packet_stands_in_the_specification(name):
    assert wire_vectors.specified(GOLDEN[name]["wire"])


@golden
def test_golden_packet_has_the_checksum_that_its_bits_give(name):
    body = bytes.fromhex(GOLDEN[name]["body"])
    assert bitwise_crc(body[:-2]) == int.from_bytes(body[-2:], "little")


@pytest.mark.parametrize("vector", wire_vectors.VECTORS["damaged_packet"], ids=lambda vector: vector["name"])
def test_golden_damage(vector):
    wire = bytes.fromhex(vector["wire"])
    assert in_step().feed(wire) == [Damage(vector["reason"], len(wire), 0)]


@pytest.mark.parametrize("vector", wire_vectors.VECTORS["remark"], ids=lambda vector: vector["text"])
def test_golden_remark_is_skipped(vector):
    wire = bytes.fromhex(vector["wire"])
    assert bytes.fromhex(vector["body"]) == f"# {vector['text']}\n".encode()
    assert frame_body(bytes.fromhex(vector["body"])) == wire
    assert PacketDecoder().feed(wire + GOOD) == [FIRST], "as the first frame too"
    assert in_step().feed(wire + GOOD) == [FIRST]
    assert LineDecoder(("counts",)).feed(bytes.fromhex(vector["line"])) == []


@pytest.mark.parametrize(
    "body", [b"#\n5\n", b"# rate=80", b"#\x01\n", b"# r\xc3\xa4te\n", b" # rate=80\n", b"# rate=80\r\n"], ids=repr
)
def test_what_is_nearly_a_remark_is_damage(body):
    (damage,) = in_step().feed(frame_body(body))
    assert damage.length == len(body) + 2


def test_remark_of_the_most_bytes_is_one_and_of_one_more_is_damage():
    text = b"#" + b"x" * (MAX_PACKET - len(cobs.encode(b"#\n" + b"x" * 1090)) + 1090) + b"\n"
    assert len(cobs.encode(text)) == MAX_PACKET
    assert in_step().feed(frame_body(text) + GOOD)[:-1] == []
    assert in_step().feed(frame_body(text[:-1] + b"x\n"))[0].reason == "too long"


def test_remark_too_long_is_damage():
    assert {damage.reason for damage in in_step().feed(frame_body(b"#" + b"x" * MAX_PACKET + b"\n"))} == {"too long"}


def test_first_packet_joined_in_its_middle():
    assert PacketDecoder().feed(GOOD[4:] + GOOD) == [Damage("partial first packet", len(GOOD) - 4, 0), FIRST]


def test_first_packet_whole():
    assert PacketDecoder().feed(GOOD) == [FIRST]


def test_second_packet_bad_is_not_partial():
    decoder = PacketDecoder()
    decoder.feed(GOOD[4:])
    assert decoder.feed(GOOD[4:]) == [Damage("too short", len(GOOD) - 4, 0)]


def test_first_packet_bad_after_a_delimiter_is_not_partial():
    assert PacketDecoder().feed(b"\0" + flipped(GOOD, 10)) == [Damage("bad checksum", len(GOOD), 0)]


def test_first_packet_too_long():
    assert PacketDecoder().feed(b"x" * 1500 + b"\0" + GOOD) == [
        Damage("too long", 1101, 0),
        Damage("too long", 400, 0),
        FIRST,
    ]


@pytest.mark.parametrize("size", [1, 1000, 100_000])
def test_stream_without_delimiter_is_reported_and_never_piles_up(size):
    decoder = PacketDecoder()
    thrown_away = 0
    for _ in range(10_000_000 // max(size, 1000)):
        thrown_away += sum(damage.length for damage in decoder.feed(b"\x55" * size))
        assert decoder.pending <= MAX_PACKET
    assert thrown_away + decoder.pending == size * (10_000_000 // max(size, 1000))


packet_lists = st.integers(16, 32).flatmap(
    lambda bits: st.lists(
        st.builds(
            Packet,
            st.integers(0, 2**16 - 1),
            st.integers(0, 2**32 - 1),
            st.lists(st.integers(-(2 ** (bits // 8 * 8 - 1)), 2 ** (bits // 8 * 8 - 1) - 1), min_size=1).map(tuple),
        )
    ).map(lambda packets: (bits // 8 * 8, packets))
)


@given(packet_lists)
def test_every_packet_comes_back(made):
    bits, packets = made
    stream = b"".join(encode_packet(*packet, count_bits=bits) for packet in packets)
    assert PacketDecoder().feed(stream) == packets


pieces = st.one_of(
    st.just(GOOD),
    st.just(b"\0"),
    st.sampled_from([stream for stream, _ in CASES.values()]),
    st.binary(max_size=40),
    st.integers(0, 3000).map(lambda length: b"\x07" * length),
)


@given(st.lists(pieces).map(b"".join), st.lists(st.integers(min_value=0)))
def test_result_does_not_depend_on_the_chunks(stream, places):
    whole = PacketDecoder()
    in_pieces = PacketDecoder()
    assert feed_each(in_pieces, cut(stream, places)) == whole.feed(stream)
    assert in_pieces.pending == whole.pending


@given(st.lists(pieces).map(b"".join))
def test_no_byte_vanishes(stream):
    decoder = PacketDecoder()
    events = decoder.feed(stream)
    good = sum(len(GOOD) for event in events if isinstance(event, Packet))
    damaged = sum(event.length for event in events if isinstance(event, Damage))
    idle = stream.split(b"\0")[:-1].count(b"")
    assert good + damaged + idle + decoder.pending == len(stream)


def test_corruption_loses_the_packets_hit_and_no_other():
    dice = random.Random(1999)
    sent = [Packet(index % 65536, 16_000 * index, (index, -index)) for index in range(3000)]
    frames = [encode_packet(*packet, count_bits=24) for packet in sent]
    hit = sorted(dice.sample(range(1, 3000), 300))
    for index in hit:
        frames[index] = flipped(frames[index], dice.randrange(len(frames[index]) - 1))
    events = PacketDecoder().feed(b"".join(frames))
    assert [event for event in events if isinstance(event, Packet)] == [
        packet for index, packet in enumerate(sent) if index not in set(hit)
    ]
    assert sum(isinstance(event, Damage) for event in events) == len(hit)


@given(st.binary(max_size=2000), st.randoms())
def test_random_corruption_is_survived(noise, dice):
    stream = bytearray(GOOD * 20)
    for byte in noise:
        stream[dice.randrange(len(stream))] = byte
    decoder = PacketDecoder()
    events = decoder.feed(bytes(stream))
    length = sum(event.length if isinstance(event, Damage) else len(GOOD) for event in events)
    assert length + decoder.pending <= len(stream)
    decoder.feed(b"\0")
    assert decoder.feed(GOOD) == [FIRST]


# Cheshire & Baker 1999 give the algorithm; these pairs are the ones commonly printed with it (from memory).
@pytest.mark.parametrize(
    ("plain", "stuffed"),
    [
        ("00", "01 01"),
        ("00 00", "01 01 01"),
        ("00 11 00", "01 02 11 01"),
        ("11 22 00 33", "03 11 22 02 33"),
        ("11 22 33 44", "05 11 22 33 44"),
        ("11 00 00 00", "02 11 01 01 01"),
        (bytes(range(1, 255)).hex(), "ff" + bytes(range(1, 255)).hex()),
        (bytes(range(255)).hex(), "01 ff" + bytes(range(1, 255)).hex()),
        (bytes(range(1, 256)).hex(), "ff" + bytes(range(1, 255)).hex() + "02 ff"),
        ((bytes(range(2, 256)) + b"\0").hex(), "ff" + bytes(range(2, 256)).hex() + "01 01"),
        ((bytes(range(3, 256)) + b"\0\1").hex(), "fe" + bytes(range(3, 256)).hex() + "02 01"),
    ],
)
def test_byte_stuffing_of_published_examples(plain, stuffed):
    wire = frame_body(bytes.fromhex(plain))
    assert wire == bytes.fromhex(stuffed) + b"\0"
    assert cobs.decode(wire[:-1]) == bytes.fromhex(plain)


def bitwise_crc(data):
    """The definition: polynomial 0x1021 from 0xFFFF, highest bit first."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = (crc << 1 ^ 0x1021 if crc & 0x8000 else crc << 1) & 0xFFFF
    return crc


def test_checksum_of_the_check_string():
    # Catalogue of parametrised CRC algorithms, CRC-16/IBM-3740 (CCITT-FALSE).
    assert checksum(b"123456789") == 0x29B1


@given(st.binary())
def test_checksum_is_the_division_done_bit_by_bit(data):
    assert checksum(data) == bitwise_crc(data)


@pytest.mark.parametrize(("bits", "most"), [(16, 542), (24, 361), (32, 271)])
def test_largest_packet(bits, most):
    packet = Packet(0, 0, (-1,) * most)  # no byte to stuff: the longest on the wire
    wire = encode_packet(*packet, count_bits=bits)
    assert len(wire) <= MAX_PACKET + 1
    assert PacketDecoder().feed(wire) == [packet]
    with pytest.raises(ValueError, match=f"counts must be 1 to {most} of {bits} bits a packet, got {most + 1}"):
        encode_packet(0, 0, (-1,) * (most + 1), count_bits=bits)


def test_numpy_counts_are_encoded():
    assert encode_packet(7, 70, np.array([700], dtype=np.int32), count_bits=24) == GOOD


@pytest.mark.parametrize(
    ("arguments", "bits", "message"),
    [
        ((65536, 0, [0]), 24, "sequence must be 0 to 65535, got 65536"),
        ((-1, 0, [0]), 24, "sequence must be 0 to 65535, got -1"),
        ((0, 2**32, [0]), 24, "tick must be 0 to 4294967295, got 4294967296"),
        ((0, 0, [8388608]), 24, "counts must be -8388608 to 8388607, got 8388608"),
        ((0, 0, [0, -32769]), 16, "counts must be -32768 to 32767, got -32769"),
        ((0, 0, []), 24, "counts must be 1 to 361 of 24 bits a packet, got 0"),
        ((0, 0, [0]), 20, "count_bits must be 16, 24 or 32, got 20"),
    ],
)
def test_packet_that_cannot_be(arguments, bits, message):
    with pytest.raises(ValueError, match=message):
        encode_packet(*arguments, count_bits=bits)


def test_body_is_the_packet_without_its_stuffing():
    body = packet_body(*FIRST, count_bits=24)
    assert body == HEADER + bytes.fromhex("bc0200") + bitwise_crc(HEADER + bytes.fromhex("bc0200")).to_bytes(
        2, "little"
    )
    assert frame_body(body) == GOOD
