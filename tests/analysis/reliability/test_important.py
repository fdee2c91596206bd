"""Changes that matter, as the abstracts name them, and never taken for an error."""

import datetime as dt

import msgspec
import pytest

from analysis.reliability.change import Verdict, change
from analysis.reliability.important import Beside, important, important_rows
from analysis.reliability.published import load_published
from analysis.results.quantities import Unit
from analysis.results.scores import Score

MARCH, JUNE = (dt.datetime(2026, month, 1, tzinfo=dt.UTC) for month in (3, 6))
FIRST = Score(person="P-1", when=MARCH, action="knee-extension", side="left", method="hand", value=200.0)


def changed(value, **facts):
    first = msgspec.structs.replace(FIRST, **facts)
    return change(first, msgspec.structs.replace(first, when=JUNE, value=value), published=load_published().rows)


def test_rows_are_those_of_the_abstracts():
    # COPD 2021;18(1):35-44: 5.2 kgf; Heart Lung, May 2022: between 7.4 and 12.6 % from baseline
    assert [(row.action, row.unit, row.low, row.high, row.n) for row in important_rows()] == [
        ("knee-extension", "kgf", 5.2, 5.2, 89),
        ("knee-extension", "%", 7.4, 12.6, 21),
    ]


@pytest.mark.parametrize(
    ("value", "method", "beside"),
    [
        (250.9, "hand", Beside.BELOW),  # 5.2 kgf are 50.995 N
        (251.0, "hand", Beside.ABOVE),
        (149.0, "hand", Beside.ABOVE),
        (214.7, "belt", Beside.BELOW),
        (220.0, "belt", Beside.WITHIN),  # 14.8 to 25.2 N of 200 N
        (225.3, "belt", Beside.ABOVE),
    ],
)
def test_change_beside_it(value, method, beside):
    (found,) = important(changed(value, method=method))
    assert found.beside is beside


@pytest.mark.parametrize(
    "facts", [{"action": "hip-flexion"}, {"unit": Unit.NEWTON_METRE, "lever_arm_m": 0.3}, {"unit": Unit.NEWTON_PER_KG}]
)
def test_none_where_none_is_published_in_such_a_unit(facts):
    assert important(changed(300.0, **facts)) == ()


def test_it_is_no_detectable_change():
    # 60 N of 230 N matter, and are 26 %: within the published range of error, 23.91 to 43.26 %
    found = changed(260.0)
    assert (important(found)[0].beside, found.verdict) == (Beside.ABOVE, Verdict.UNDECIDED)
    assert {row.source for row in important_rows()}.isdisjoint(row.source for row in load_published().rows)
