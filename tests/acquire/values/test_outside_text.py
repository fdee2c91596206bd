"""What a terminal would obey is shown as a code; the lists are those of Unicode, not of the program."""

import unicodedata

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.values.outside_text import MAY_BE_OBEYED, all_visible, is_code, visible

OBEYED = [
    chr(number)
    for number in range(0x3000)
    if unicodedata.category(chr(number)) in {"Cc", "Zl", "Zp"}
    or unicodedata.bidirectional(chr(number)) in {"LRE", "RLE", "PDF", "LRO", "RLO", "LRI", "RLI", "FSI", "PDI"}
]
"""Controls, line and paragraph separators, and what turns the reading direction (Unicode Character Database)."""


@pytest.mark.parametrize("character", OBEYED)
def test_each_control_character_becomes_a_code(character):
    shown = visible(f"a{character}b")
    assert shown.isascii()
    assert shown.isprintable()
    assert shown.startswith("a\\")
    assert MAY_BE_OBEYED.search(msgspec.json.encode(character))


@given(st.text(st.characters(categories=["L", "N", "P", "S", "Zs"])))
def test_letters_digits_and_signs_of_all_languages_stay(text):
    assert visible(text) == text


@given(st.text(st.characters(codec="utf-8"), max_size=20))
@settings(max_examples=300)
def test_where_the_quick_look_finds_nothing_nothing_changes(text):
    if not MAY_BE_OBEYED.search(msgspec.json.encode(text)):
        assert all_visible({"key": [text]}) == {"key": [text]}


@given(st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=32))
def test_any_letters_and_digits_are_a_code(text):
    assert is_code(text) or any(unicodedata.category(each) in {"Nl", "No"} for each in text)


@pytest.mark.parametrize("text", ["", "../x", "a/b", "=1", "+1", "@a", "a b", "a\n", "a\tb", "a\x00", "x" * 33, "a;b"])
def test_what_is_no_code(text):
    assert not is_code(text)
