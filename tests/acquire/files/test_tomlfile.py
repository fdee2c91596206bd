"""Where a key stands in a file, and values written as TOML."""

import datetime as dt
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.files.tomlfile import line_of, toml_value

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
