"""Where a key stands in a file, and values written as TOML."""

import datetime as dt
import hashlib
import tomllib

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.files.tomlfile import content_hash, line_of, parse_toml, toml_value

TEXT = '''# a sensor
name = "a"

columns = [   # over
    "ms",
    "counts",
]
title = """
rate_hz = 1
"""
"rate_hz" = 80
limits.low = 1
[table]
inner = 2
'''


@pytest.mark.parametrize(
    ("key", "line"), [("name", 2), ("columns", 4), ("title", 8), ("rate_hz", 11), ("limits", 12), ("table", 13)]
)
def test_key_is_found_where_its_value_begins(key, line):
    assert line_of(TEXT, key) == line


@pytest.mark.parametrize("key", ["inner", "nothing", ""])
def test_key_that_is_not_on_the_top_level_has_no_line(key):
    assert line_of(TEXT, key) is None


def test_line_ends_of_windows_count_the_same():
    assert line_of(TEXT.replace("\n", "\r\n"), "rate_hz") == 11


def test_other_separators_of_text_end_no_line():
    assert line_of('title = "a\u2028b\x85"\nrate_hz = 80', "rate_hz") == 2


VALUES = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"])),  # TOML holds Unicode scalar values: no surrogates (v1.0.0)
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=False),
    st.dates(),
)


@given(VALUES | st.lists(st.text(st.characters(exclude_categories=["Cs"]))).map(tuple))
def test_value_is_read_again_as_it_was(value):
    read = tomllib.loads(f"key = {toml_value(value)}")["key"]
    assert read == (list(value) if isinstance(value, tuple) else value)
    assert isinstance(read, list if isinstance(value, tuple) else type(value))


def test_day_is_written_bare():
    assert toml_value(dt.date(2026, 3, 2)) == "2026-03-02"


class Limits(msgspec.Struct, forbid_unknown_fields=True):
    low: float
    high: float = 2.0


def test_hash_is_the_first_16_digits_of_the_sha_256_of_the_sorted_values():
    whole = hashlib.sha256(b'{"high":2.0,"low":1.0}').hexdigest()
    assert content_hash(Limits(low=1.0)) == whole[:16]
    assert content_hash(Limits(low=1.0, high=2.5)) != whole[:16]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("low = 'a'", r"a\.toml: key low: expected `float`, got `str`"),
        ("", r"a\.toml: .*missing required field `low`"),
        ("low = 1\nmore = 2", r"a\.toml: holds unknown field `more`"),
        ("low =", r"a\.toml: is not valid TOML: "),
    ],
)
def test_wrong_file_is_told_in_plain_words(tmp_path, text, message):
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    with pytest.raises(KeyError, match=message):
        parse_toml(tmp_path / "a.toml", Limits, error=KeyError)
