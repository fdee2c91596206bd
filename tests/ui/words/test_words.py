"""The languages."""

import string

import pytest
from babel.core import Locale

from ui.session.cues import Cue
from ui.words.words import Rounded, Words, _table, languages


def gaps(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_there_are_two_languages_at_least():
    assert languages()[0] == "en"
    assert len(languages()) >= 2


FORMS = {"zero", "one", "two", "few", "many", "other"}
"""CLDR plural categories: a table with these keys alone is one word in its forms."""


def wordings(language):
    """Every word by its key, its plural forms together under one key."""
    found = {}
    for key, text in _table(language).items():
        stem, _, form = key.rpartition(".")
        found.setdefault(stem if form in FORMS and f"{stem}.other" in _table(language) else key, {})[form] = text
    return found


@pytest.mark.parametrize("language", languages()[1:])
def test_every_language_has_the_keys_of_english(language):
    assert sorted(set(wordings("en")) ^ set(wordings(language))) == []


@pytest.mark.parametrize("language", languages()[1:])
def test_every_word_fills_in_what_the_english_one_does(language):
    english, other = wordings("en"), wordings(language)
    differing = {
        key: (gaps("".join(english[key].values())), gaps("".join(other[key].values())))
        for key in set(english) & set(other)
    }
    assert {key: both for key, both in differing.items() if both[0] ^ both[1]} == {}


def plural_forms(language):
    """Every CLDR category that a language has."""
    return {*Locale.parse(language).plural_form.tags, "other"}


@pytest.mark.parametrize("language", languages())
def test_a_word_with_forms_has_all_that_its_language_needs(language):
    table = _table(language)
    stems = {key.removesuffix(".other") for key in table if key.endswith(".other")}
    stems -= {stem for stem in stems if {key.rpartition(".")[2] for key in table if key.startswith(f"{stem}.")} - FORMS}
    lacking = {stem: plural_forms(language) - {form for form in FORMS if f"{stem}.{form}" in table} for stem in stems}
    assert {stem: forms for stem, forms in lacking.items() if forms} == {}


@pytest.mark.parametrize("language", languages())
def test_every_cue_has_its_word_and_its_saying(language):
    words = Words(language)
    for cue in Cue:
        assert words(f"cue.{cue.value}")
    for cue in set(Cue) - {Cue.BUILD}:
        assert words(f"say.{cue.value}", what="x")


@pytest.fixture
def lacking(monkeypatch):
    """German without one of its words."""
    whole = _table("de")
    monkeypatch.setattr(
        "ui.words.words._table",
        lambda language: (
            {key: text for key, text in whole.items() if key != "cue.hold"} if language == "de" else _table(language)
        ),
    )
    return Words("de")


def test_word_that_a_language_lacks_is_english(lacking):
    assert lacking("cue.hold") == Words("en")("cue.hold") != Words("de").language


def test_number_in_a_gap_has_the_decimal_sign_of_the_language():
    assert Words("de")("check.error.never_still", mass=2.5, minutes=1.5, moved=0.25).count(",") >= 3
    assert [Words(language).number(1234.56, 1) for language in ("en", "de")] == ["1234.6", "1234,6"]


@pytest.mark.parametrize(("value", "written"), [(2.55, "2,5"), (-0.04, "0,0"), (-0.06, "\u22120,1"), (None, "\u2013")])
def test_number_is_rounded_and_nothing_has_no_sign(value, written):
    assert Words("de").number(value, 1) == written


def test_rounded_number_is_written_when_the_language_is_known():
    said = [
        Words(language)("check.fact.rate", rate=Rounded(80.125, 2), doubt="x", nominal="80")
        for language in ("en", "de")
    ]
    assert "80.12" in said[0]
    assert "80,12" in said[1]


def test_unknown_language_is_refused():
    with pytest.raises(ValueError, match="language must be one of en, de, got xx"):
        Words("xx")
