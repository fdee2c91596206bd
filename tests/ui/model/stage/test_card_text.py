"""What the card of an action says."""

import pytest

from acquire.values.records import TrialContext
from analysis.battery.actions import load_actions
from ui.model.stage.card_text import card_text
from ui.words.words import Words, languages

ACTIONS = load_actions()
KNEE = TrialContext(action="knee-extension", side="left", method="belt")


def test_card_says_name_side_position_and_method():
    text = card_text(KNEE, ACTIONS["knee-extension"], Words("en"))
    assert (text.title, text.about) == ("Knee extension", "left, seated, belt")


def test_rows_come_in_the_order_of_the_card():
    text = card_text(KNEE, ACTIONS["knee-extension"], Words("en"))
    assert [row.key for row in text.rows] == ["limb", "pad", "push", "steady", "say"]
    assert [row.text for row in text.rows][2:4] == ["foot forwards", "thigh on the seat, hands on the edge"]


def test_card_is_in_the_language_of_the_window():
    text = card_text(KNEE, ACTIONS["knee-extension"], Words("de"))
    assert (text.title, text.about) == ("Knieextension", "links, sitzend, Gurt")
    assert text.rows[2].text == "Fuß nach vorn"
    assert "Fuß nach vorn" in text.described


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("key", ACTIONS)
def test_no_row_is_empty(language, key):
    text = card_text(TrialContext(action=key, side="right"), ACTIONS[key], Words(language))
    assert all(row.label and row.text for row in text.rows)


def test_figure_in_words_tells_lying_from_sitting():
    lying = card_text(TrialContext(action="elbow-flexion"), ACTIONS["elbow-flexion"], Words("en"))
    assert lying.described.startswith("Lie: upper arm beside the body")
    assert card_text(KNEE, ACTIONS["knee-extension"], Words("en")).described.startswith("Sit: ")


def test_action_that_no_file_describes_has_its_name_and_what_to_say():
    text = card_text(TrialContext(action="toe-tap", side="right"), None, Words("en"))
    assert (text.title, text.about, text.described) == ("Toe tap", "right, by hand", "")
    assert [row.key for row in text.rows] == ["say"]


def test_trial_of_nothing_in_particular_has_a_title_all_the_same():
    assert card_text(TrialContext(), None, Words("en")).title == "Any action"
