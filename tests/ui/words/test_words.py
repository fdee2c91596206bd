"""The languages."""

import string

import pytest

from ui.session.cues import Cue
from ui.words.words import Words, _table, languages


def gaps(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_there_are_two_languages_at_least():
    assert languages()[0] == "en"
    assert len(languages()) >= 2


@pytest.mark.parametrize("language", languages()[1:])
def test_every_word_is_english_first_and_has_the_same_gaps(language):
    english, other = _table("en"), _table(language)
    # the sentences of faults and reasons are English where they are made, in the analysis
    other = {key: text for key, text in other.items() if not key.startswith(("review.says.", "review.reason."))}
    assert set(other) <= set(english)
    assert [key for key, text in other.items() if not gaps(text) <= gaps(english[key])] == []


@pytest.mark.parametrize("language", languages())
def test_every_cue_has_its_word_and_its_saying(language):
    words = Words(language)
    for cue in Cue:
        assert words(f"cue.{cue.value}")
    for cue in set(Cue) - {Cue.BUILD}:
        assert words(f"say.{cue.value}", what="x")


def test_word_that_a_language_lacks_is_english():
    missing = set(_table("en")) - set(_table("de"))
    for key in missing:
        assert Words("de")(key, **dict.fromkeys(gaps(_table("en")[key]), 0)) is not None


def test_unknown_language_is_refused():
    with pytest.raises(ValueError, match="language must be one of en, de, got xx"):
        Words("xx")
