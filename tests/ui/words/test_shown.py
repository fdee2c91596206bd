"""Numbers in sentences: digits, units, and a number beside its limit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.values.units import ForceUnit
from analysis.trial.number import Kind
from ui.words.shown import Shown, digits_apart


@given(st.floats(0.0, 500.0), st.floats(0.0005, 50.0), st.integers(0, 2))
def test_numbers_that_differ_by_more_than_the_last_digit_look_different(limit, more, digits):
    measured = limit + more
    places = digits_apart(measured, limit, digits=digits)
    assert digits <= places <= digits + 4
    assert f"{round(measured, places):.{places}f}" != f"{round(limit, places):.{places}f}"


@pytest.mark.parametrize(
    ("value", "spec", "written"),
    [
        (0.25, "", "0.25"),
        (100.0, "", "100"),
        (10.0, "", "10"),
        (-0.04, ".1f", "0.0"),
        (2.0, "+.1f", "+2.0"),
        (-2.0, "+.1f", "-2.0"),
        (1.23456, "", "1.2346"),
    ],
)
def test_a_number_has_the_digits_of_its_gap_or_no_more_than_it_needs(value, spec, written):
    assert Shown(value, Kind.SECONDS).written(spec, "en") == written


def test_pounds_have_a_digit_more_than_newtons():
    # 1 lbf = 4.4482216152605 N, NIST SP 811, appendix B.8
    assert Shown(44.482216152605, Kind.FORCE, ForceUnit.POUND_FORCE).written(".0f", "de") == "10,0 lbf"
    assert Shown(44.482216152605, Kind.FORCE).written(".0f", "de") == "44 N"


def test_a_gap_that_is_no_number_of_digits_is_refused():
    with pytest.raises(ValueError, match=r"must say its digits as in \{limit:\+.1f\}, got >10"):
        Shown(1.0, Kind.COUNT).written(">10", "en")
