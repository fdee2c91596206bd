"""Sentences about a plan."""

import string
import tomllib

import pytest

from acquire.values.records import Person
from analysis.battery.actions import in_language, load_actions
from analysis.battery.ordering import Estimate
from ui.model.plan.plan import PlanDraft
from ui.model.plan.text import estimate_words, minutes, open_words
from ui.words.cautions import CAUTIONS
from ui.words.numbers import parse_number, shown_number
from ui.words.words import Words, _folder, languages


@pytest.mark.parametrize(("seconds", "shown"), [(0.0, 0), (5.0, 1), (89.0, 1), (91.0, 2), (3480.0, 58), (3985.0, 66)])
def test_minutes_are_whole_and_never_none_for_some(seconds, shown):
    assert minutes(seconds) == shown


@pytest.mark.parametrize(
    ("language", "changes", "sentence"),
    [
        ("en", 0, "about 58 min, no change of position"),
        ("en", 1, "about 58 min, 1 change of position"),
        ("en", 2, "about 58 min, 2 changes of position"),
        ("de", 0, "etwa 58 min, kein Lagewechsel"),
        ("de", 1, "etwa 58 min, 1 Lagewechsel"),
        ("de", 3, "etwa 58 min, 3 Lagewechsel"),
    ],
)
def test_estimate_counts_changes_in_words(language, changes, sentence):
    estimate = Estimate(total_s=3480.0, waiting_s=0.0, position_changes=changes)
    assert estimate_words(Words(language), estimate) == sentence


def test_estimate_of_nothing_says_so():
    nothing = Estimate(total_s=0.0, waiting_s=0.0, position_changes=0)
    assert estimate_words(Words("en"), nothing) == "no action is chosen"


def test_last_open_thing_is_named_without_a_number(tmp_path):
    draft = PlanDraft(person=Person(code="P"), examiner="X", out=str(tmp_path / "p.h5"))
    assert open_words(Words("en"), draft) == "Still open: the cautions, to be read and acknowledged"


def test_open_file_says_what_is_wrong_with_it():
    words = open_words(Words("en"), PlanDraft(person=Person(code="P"), examiner="X", battery="b.toml"))
    assert words == ("Still open: the battery: it cannot be read (b.toml: there is no such file) (2 more)")


# words


def _table(language):
    text = _folder().joinpath(language, "plan.toml").read_text(encoding="utf-8")
    flat, todo = {}, [("", tomllib.loads(text))]
    while todo:
        before, table = todo.pop()
        for key, value in table.items():
            if isinstance(value, dict):
                todo.append((f"{before}{key}.", value))
            else:
                flat[before + key] = value
    return flat


@pytest.mark.parametrize("language", languages()[1:])
def test_every_word_of_the_plan_is_there_in_every_language(language):
    english, other = _table("en"), _table(language)
    assert set(english) == set(other)

    def gaps(text):
        return {name for _, name, _, _ in string.Formatter().parse(text) if name}

    assert [key for key in english if gaps(english[key]) != gaps(other[key])] == []


@pytest.mark.parametrize("language", languages())
def test_no_two_keys_of_the_place_are_the_same(language):
    letters = [text[text.index("&") + 1].casefold() for text in _table(language).values() if "&" in text]
    assert sorted(letters) == sorted(set(letters))


def test_cautions_are_those_of_the_program():
    shown = [text for key, text in _table("en").items() if key.startswith("caution.")]
    assert tuple(shown) == CAUTIONS


# actions


@pytest.mark.parametrize("language", languages())
def test_every_action_has_a_name_in_every_language(language):
    names = [in_language(action, language).name for action in load_actions().values()]
    assert len(set(names)) == 13
    assert (names == [action.name for action in load_actions().values()]) is (language == "en")


def test_own_action_keeps_its_name(tmp_path):
    file = tmp_path / "own.toml"
    file.write_text(
        '[[action]]\nkey = "elbow-flexion"\nname = "Elbow, my way"\nregion = "arm"\nposition = "supine"\n'
        'limb = "x"\npad = "x"\npush = "x"\nsteady = "x"\n'
    )
    assert in_language(load_actions(str(file))["elbow-flexion"], "de").name == "Elbow, my way"


# numbers


@pytest.mark.parametrize(
    ("text", "number"), [("", None), ("  ", None), ("72", 72.0), ("72,5", 72.5), ("72.", 72.0), (" .5", 0.5)]
)
def test_number_is_read_with_point_or_comma(text, number):
    assert parse_number(text) == number


@pytest.mark.parametrize("text", [",", "1.2.3", "two"])
def test_what_is_no_number_is_refused(text):
    with pytest.raises(ValueError, match="could not convert"):
        parse_number(text)


@pytest.mark.parametrize("text", ["inf", "nan", "1e999"])
def test_number_without_end_is_refused(text):
    with pytest.raises(ValueError, match="must be finite"):
        parse_number(text)


@pytest.mark.parametrize(
    ("value", "digits", "shown"),
    [(None, 1, ""), (0.0, 1, "0"), (10.0, 1, "10"), (25.55, 1, "25.6"), (100.0, 0, "100"), (0.04, 1, "0")],
)
def test_number_is_shown_with_no_more_digits_than_it_needs(value, digits, shown):
    assert shown_number(value, digits) == shown
