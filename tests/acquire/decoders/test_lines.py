import math
import re
from itertools import pairwise

import pytest
import wire_vectors
from hypothesis import given
from hypothesis import strategies as st

from acquire.decoders import Damage, LineDecoder, Lines, encode_line
from acquire.decoders.lines import MAX_LINE

COUNTS = ("counts",)
CLOCKED = ("ms", "counts")
NUMBERED = ("seq", "counts")
FULL = ("seq", "us", "counts")
NEWTONS = ("s", "n")
MIXED = ("-", "counts", "-", "ms")


def counts(*values):
    return Lines(list(values), None, None)


# What is sent after a good line, and what is made of it.
CASES = {
    "nothing": (COUNTS, b"", []),
    "zero": (COUNTS, b"0\n", [counts(0)]),
    "positive": (COUNTS, b"4000\n", [counts(4000)]),
    "negative": (COUNTS, b"-4000\n", [counts(-4000)]),
    "both limits": (COUNTS, b"-8388608\n8388607\n", [counts(-8388608, 8388607)]),
    "padded and signed": (COUNTS, b"+0000012\n-0\n", [counts(12, 0)]),
    "both line ends": (COUNTS, b"1\r\n2\n3\r\n", [counts(1, 2, 3)]),
    "blank lines and remarks": (COUNTS, b"1\n\n\r\n# ready, 3.3 V\r\n#\n2\n", [counts(1), counts(2)]),
    "milliseconds": (CLOCKED, b"1000,-25\r\n1013,-24\r\n", [Lines([-25, -24], None, [1.0, 1.013])]),
    "millisecond counter at its wrap": (
        CLOCKED,
        b"4294967295,1\n0,2\n",
        [Lines([1, 2], None, [4294967.295, 0.0])],
    ),
    "line counter at its wrap": (NUMBERED, b"65535,1\n0,2\n", [Lines([1, 2], [65535, 0], None)]),
    "counter and microseconds": (FULL, b"7,2500000,-3\n", [Lines([-3], [7], [2.5])]),
    "newtons and seconds": (NEWTONS, b"12.345,-0.5\n1e1,.25\n", [Lines([-0.5, 0.25], None, [12.345, 10.0])]),
    "ignored columns": (MIXED, b"21.5 C,7,,1000\n,8,ok\r,1013\r\n", [Lines([7, 8], None, [1.0, 1.013])]),
    "counts beside newtons": (("counts", "n"), b"400,0.1\n401,-\n", [counts(400, 401)]),
    "below the converter": (COUNTS, b"-8388609\n", [Damage("number out of range", 9, 1)]),
    "above the converter": (COUNTS, b"8388608\n", [Damage("number out of range", 8, 1)]),
    "clock of 33 bits": (CLOCKED, b"4294967296,1\n", [Damage("number out of range", 13, 1)]),
    "clock below zero": (CLOCKED, b"-1,1\n", [Damage("number out of range", 5, 1)]),
    "line counter of 17 bits": (NUMBERED, b"65536,1\n", [Damage("number out of range", 8, 1)]),
    "infinite by size": (NEWTONS, b"1,1e999\n", [Damage("number out of range", 8, 1)]),
    "not a number by name": (NEWTONS, b"1,nan\n", [Damage("not a number", 6, 1)]),
    "infinite by name": (NEWTONS, b"inf,1\n", [Damage("not a number", 6, 1)]),
    "decimal point in a count": (COUNTS, b"1.5\n", [Damage("not a number", 4, 1)]),
    "exponent in a count": (COUNTS, b"1e3\n", [Damage("not a number", 4, 1)]),
    "underscore": (COUNTS, b"1_000\n", [Damage("not a number", 6, 1)]),
    "blank before": (COUNTS, b" 1\n", [Damage("not a number", 3, 1)]),
    "blank behind": (COUNTS, b"1 \n", [Damage("not a number", 3, 1)]),
    "blanks only": (COUNTS, b"  \n", [Damage("not a number", 3, 1)]),
    "carriage return inside": (CLOCKED, b"1\r,2\n", [Damage("not a number", 5, 1)]),
    "carriage return twice": (COUNTS, b"1\r\r\n", [Damage("not a number", 4, 1)]),
    "carriage return beside an ignored column": (MIXED, b"a,7\r,b,1\n", [Damage("not a number", 9, 1)]),
    "digits of another script": (COUNTS, "\u0661\n".encode(), [Damage("not a number", 3, 1)]),
    "zero byte": (COUNTS, b"1\x002\n", [Damage("not a number", 4, 1)]),
    "signs only": (COUNTS, b"-\n", [Damage("not a number", 2, 1)]),
    "empty column": (CLOCKED, b",5\n", [Damage("not a number", 3, 1)]),
    "column too few": (CLOCKED, b"5\n", [Damage("wrong number of columns", 2, 1)]),
    "column too many": (CLOCKED, b"5,6,7\r\n", [Damage("wrong number of columns", 7, 1)]),
    "columns made up for by the next line": (
        CLOCKED,
        b"1,2,3\n4\n",
        [Damage("wrong number of columns", 6, 1), Damage("wrong number of columns", 2, 1)],
    ),
    "remark where the first column is ignored": (MIXED, b"# a,7,b,1\n", []),
    "damage between good lines": (COUNTS, b"1\n2\nx\n3\n", [counts(1, 2), Damage("not a number", 2, 1), counts(3)]),
    "bad clock after a good counter": (
        FULL,
        b"1,10,5\n2,x,6\n3,30,7\n",
        [Lines([5], [1], [10e-6]), Damage("not a number", 6, 1), Lines([7], [3], [30e-6])],
    ),
    "longest line": (COUNTS, b"0" * (MAX_LINE - 1) + b"5\n", [counts(5)]),
    "one byte too many": (
        COUNTS,
        b"0" * MAX_LINE + b"5\n6\n",
        [Damage("too long", MAX_LINE + 1, 1), Damage("too long", 1, 0), counts(6)],
    ),
    "far too long, with a good end": (
        COUNTS,
        b"x" * 600 + b"\n7\n",
        [Damage("too long", 257, 1), Damage("too long", 257, 0), Damage("too long", 87, 0), counts(7)],
    ),
}
cases = pytest.mark.parametrize(("columns", "stream", "expected"), CASES.values(), ids=CASES.keys())


def in_step(columns, **settings):
    decoder = LineDecoder(columns, **settings)
    assert decoder.feed(b"#\n") == []
    return decoder


def feed_each(decoder, chunks):
    return [event for chunk in chunks for event in decoder.feed(chunk)]


def joined(events):
    """Neighbouring runs as one: how a run is cut is up to the chunks."""
    merged = []
    for event in events:
        if merged and isinstance(event, Lines) and isinstance(merged[-1], Lines):
            pairs = zip(merged.pop(), event, strict=True)
            event = Lines(*(None if column is None else column + more for column, more in pairs))  # noqa: PLW2901
        merged.append(event)
    return merged


def cut(stream, places):
    bounds = [0, *sorted(place % (len(stream) + 1) for place in places), len(stream)]
    return [stream[low:high] for low, high in pairwise(bounds)]


@cases
def test_whole(columns, stream, expected):
    assert in_step(columns).feed(stream) == expected


@cases
def test_a_byte_at_a_time(columns, stream, expected):
    chunks = [stream[at : at + 1] for at in range(len(stream))]
    assert joined(feed_each(in_step(columns), chunks)) == joined(expected)


@cases
def test_with_trailing_bytes(columns, stream, expected):
    decoder = in_step(columns)
    assert decoder.feed(stream + b"#12") == expected
    assert decoder.pending == 3
    assert decoder.feed(b"3\n") == []
    assert decoder.pending == 0


@cases
def test_damage_is_counted(columns, stream, expected):
    decoder = in_step(columns)
    decoder.feed(stream)
    assert decoder.damaged == sum(isinstance(event, Damage) for event in expected)


def test_counts_stay_whole_numbers():
    (run,) = in_step(COUNTS).feed(b"12\n")
    assert type(run.counts[0]) is int


@pytest.mark.parametrize("separator", [",", ";", ":", "|", " ", "\t"])
def test_separator(separator):
    line = f"1000{separator}-5\r\n".encode()
    assert in_step(CLOCKED, separator=separator).feed(line) == [Lines([-5], None, [1.0])]


def test_blank_as_separator_is_no_padding():
    events = in_step(CLOCKED, separator=" ").feed(b"1000  5\n 1000 5\n")
    assert [event.reason for event in events] == ["wrong number of columns"] * 2


@pytest.mark.parametrize(("bits", "low", "high"), [(16, -32768, 32767), (32, -(2**31), 2**31 - 1)])
def test_limits_follow_the_converter(bits, low, high):
    decoder = in_step(COUNTS, count_bits=bits)
    assert decoder.feed(b"%d\n%d\n" % (low, high)) == [counts(low, high)]
    events = decoder.feed(b"%d\n%d\n" % (low - 1, high + 1))
    assert [event.reason for event in events] == ["number out of range"] * 2


def test_limit_follows_the_line_counter():
    decoder = in_step(NUMBERED, sequence_bits=8)
    assert decoder.feed(b"255,1\n") == [Lines([1], [255], None)]
    assert decoder.feed(b"256,1\n") == [Damage("number out of range", 6, 1)]


def test_first_line_joined_in_its_middle():
    assert LineDecoder(CLOCKED).feed(b"25\n1000,-24\n") == [
        Damage("partial first line", 3, 0),
        Lines([-24], None, [1.0]),
    ]


def test_first_line_joined_in_its_middle_in_two_chunks():
    assert feed_each(LineDecoder(CLOCKED), [b"2", b"5\n"]) == [Damage("partial first line", 3, 0)]


def test_first_line_whole():
    assert LineDecoder(CLOCKED).feed(b"1000,-24\n") == [Lines([-24], None, [1.0])]


def test_second_line_bad_is_not_partial():
    events = LineDecoder(CLOCKED).feed(b"25\n26\n")
    assert [event.reason for event in events] == ["partial first line", "wrong number of columns"]


def test_line_after_a_good_first_line_is_not_partial():
    events = LineDecoder(COUNTS).feed(b"25\nx\n")
    assert events == [counts(25), Damage("not a number", 2, 1)]


@pytest.mark.parametrize("size", [1, 1000, 100_000])
def test_stream_without_line_end_is_reported_and_never_piles_up(size):
    decoder = LineDecoder(COUNTS)
    chunks = 10_000_000 // max(size, 1000)
    thrown_away = 0
    for _ in range(chunks):
        thrown_away += sum(damage.length for damage in decoder.feed(b"5" * size))
        assert decoder.pending <= MAX_LINE
    assert thrown_away + decoder.pending == size * chunks


@pytest.mark.parametrize("columns", [("ms", "seq"), ("-",), ()])
def test_columns_without_a_force(columns):
    with pytest.raises(ValueError, match=f"columns must name counts, n or value, got {', '.join(columns)}$"):
        LineDecoder(columns)


nasty = st.sampled_from([stream for _, stream, _ in CASES.values()])
texts = st.text("0123456789+-.,eE#x_ \r", max_size=12).map(str.encode)
good_lines = st.builds(
    lambda tick, count: encode_line([tick, count]), st.integers(0, 2**32), st.integers(-(2**24), 2**24)
)
pieces = st.one_of(good_lines, good_lines, nasty, texts, texts.map(lambda text: text + b"\n"), st.binary(max_size=300))
streams = st.lists(pieces, max_size=30).map(b"".join)
column_choices = st.sampled_from([COUNTS, CLOCKED, NUMBERED, FULL, NEWTONS, MIXED])


@given(column_choices, streams, st.lists(st.integers(min_value=0)))
def test_result_does_not_depend_on_the_chunks(columns, stream, places):
    whole, in_pieces = LineDecoder(columns), LineDecoder(columns)
    assert joined(feed_each(in_pieces, cut(stream, places))) == joined(whole.feed(stream))
    assert in_pieces.pending == whole.pending


INTEGER = rb"[+-]?[0-9]+"
FLOAT = rb"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?"
PATTERNS = {"counts": INTEGER, "seq": INTEGER, "ms": INTEGER, "us": INTEGER, "s": FLOAT, "n": FLOAT, "-": rb"[^,]*"}


def is_good(line, columns):
    """The specification, written another way."""
    line = line.removesuffix(b"\r")
    if len(line) > MAX_LINE or not re.fullmatch(b",".join(PATTERNS[column] for column in columns), line, re.DOTALL):
        return False
    fields = dict(zip(columns, line.split(b","), strict=True))
    limits = {"counts": (-(2**23), 2**23 - 1), "seq": (0, 65535), "ms": (0, 2**32 - 1), "us": (0, 2**32 - 1)}
    numbers = {column: float(field) for column, field in fields.items() if column != "-"}
    return all(
        math.isfinite(number) and limits.get(column, (number,))[0] <= number <= limits.get(column, (number,))[-1]
        for column, number in numbers.items()
    )


@given(column_choices, streams)
def test_every_line_is_a_sample_a_damage_or_nothing(columns, stream):
    lines = [line for line in (b"#\n" + stream).split(b"\n")[:-1] if len(line) <= MAX_LINE]
    silent = [line for line in lines if line in {b"", b"\r"} or line.startswith(b"#")]
    good = [line for line in lines if line not in silent and is_good(line, columns)]
    events = LineDecoder(columns).feed(b"#\n" + stream)
    damages = [event for event in events if isinstance(event, Damage) and event.reason != "too long"]
    assert sum(len(event.counts) for event in events if isinstance(event, Lines)) == len(good)
    assert len(damages) == sum(event.samples for event in damages) == len(lines) - len(silent) - len(good)


@given(column_choices, streams)
def test_no_byte_vanishes(columns, stream):
    decoder = in_step(columns)
    damaged = sum(event.length for event in decoder.feed(stream) if isinstance(event, Damage))
    *lines, rest = stream.split(b"\n")
    kept = sum(
        len(line) + 1
        for line in lines
        if len(line) <= MAX_LINE and (line in {b"", b"\r"} or line.startswith(b"#") or is_good(line, columns))
    )
    assert decoder.pending == len(rest) % (MAX_LINE + 1)
    assert kept + damaged + decoder.pending == len(stream)


@given(st.lists(st.tuples(st.integers(0, 65535), st.floats(-1e9, 1e9), st.floats(-1e4, 1e4)), min_size=1))
def test_every_line_comes_back(rows):
    stream = b"".join(map(encode_line, rows))
    sequences, seconds, newtons = map(list, zip(*rows, strict=True))
    assert in_step(("seq", "s", "n")).feed(stream) == [Lines(newtons, sequences, seconds)]


def test_columns_of_a_run_stay_of_one_length():
    events = in_step(FULL).feed(b"1,1,1\n2,2,99999999\n3,x,3\nx,4,4\n5,5,5\n")
    assert [event for event in events if isinstance(event, Lines)] == [
        Lines([1], [1], [1e-6]),
        Lines([5], [5], [5e-6]),
    ]


@pytest.mark.parametrize("vector", wire_vectors.VECTORS["line"], ids=lambda vector: vector["name"])
def test_line_of_the_specification(vector):
    assert wire_vectors.specified(vector["wire"])
    assert in_step(vector["columns"]).feed(bytes.fromhex(vector["wire"])) == [wire_vectors.lines(vector)]


@pytest.mark.parametrize("vector", wire_vectors.VECTORS["damaged_line"], ids=lambda vector: vector["name"])
def test_golden_damage(vector):
    wire = bytes.fromhex(vector["wire"])
    assert in_step(vector["columns"]).feed(wire) == [Damage(vector["reason"], len(wire), 1)]


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_line_that_is_not_finite_is_not_encoded(value):
    with pytest.raises(ValueError, match=rf"values must be finite, got \[1, {value}\]"):
        encode_line([1, value])


def test_line_too_long_is_not_encoded():
    assert len(encode_line([10**255])) == MAX_LINE + 1
    with pytest.raises(ValueError, match="a line may have 256 bytes, got 257"):
        encode_line([10**256])


def test_line_is_encoded_with_its_separator():
    assert encode_line([1000, -25, 0.5], ";") == b"1000;-25;0.5\n"
