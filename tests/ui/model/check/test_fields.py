"""What is typed for a check."""

import msgspec
import pytest
from check_bench import whole_check

from ui.model.check.fields import masses_text, parse_masses, parse_place, setup_like
from ui.session.check_setup import CheckError, CheckSetup

replace = msgspec.structs.replace


@pytest.mark.parametrize(
    ("text", "masses"),
    [
        ("", ()),
        ("  ", ()),
        ("5", (5.0,)),
        ("5 10 20", (5.0, 10.0, 20.0)),
        ("20;5; 10", (20.0, 5.0, 10.0)),
        ("2,5 0 1.25", (2.5, 0.0, 1.25)),
    ],
)
def test_masses_are_read_as_people_type_them(text, masses):
    assert parse_masses(text) == masses


@pytest.mark.parametrize("text", ["five", "5,10,20", "5 kg", "-5", "nan", "5 inf"])
def test_what_is_no_list_of_masses_is_told(text):
    with pytest.raises(CheckError, match="the weights must be masses in kilograms, such as 5 10 20"):
        parse_masses(text)


@pytest.mark.parametrize("masses", [(), (5.0,), (2.5, 5.0, 20.0)])
def test_masses_come_back_from_their_text(masses):
    assert parse_masses(masses_text(masses)) == masses


@pytest.mark.parametrize(
    ("typed", "place"),
    [
        (("", ""), (None, None)),
        (("-33,9", ""), (-33.9, None)),
        (("52.1", "80"), (52.1, 80.0)),
        (("0", "0"), (0.0, 0.0)),
    ],
)
def test_place_is_read(typed, place):
    assert parse_place(*typed) == place


@pytest.mark.parametrize(
    "typed", [("91", ""), ("52", "9001"), ("", "80"), ("north", ""), ("52", "high"), ("52", "-501")]
)
def test_place_that_is_none_is_told(typed):
    with pytest.raises(CheckError, match="latitude and height must be those of a place"):
        parse_place(*typed)


def test_first_check_begins_with_nothing():
    assert setup_like(None, serial="A") == CheckSetup(full=True, serial="A")


def test_next_check_begins_like_the_last():
    found = setup_like(whole_check(), serial="B")
    assert (found.masses_kg, found.full, found.serial, found.by) == ((5.0, 10.0, 20.0), True, "B", "X-1")
    up = tuple(reading for reading in whole_check().readings if reading.purpose in {"zero", "up"})
    assert not setup_like(replace(whole_check(), readings=up), serial="").full
    assert setup_like(replace(whole_check(), readings=()), serial="").full


def test_place_of_the_last_check_is_kept():
    gravity = CheckSetup(latitude_deg=52.1, height_m=80.0).gravity
    found = setup_like(replace(whole_check(), gravity=gravity), serial="")
    assert (found.latitude_deg, found.height_m) == (52.1, 80.0)
