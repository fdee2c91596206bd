"""Sensitivity and rated force from what a person tells and what was seen."""

import numpy as np
from pushed import TIME, pushed_counts

from acquire.discovery import Confidence
from acquire.discovery.push import answer
from acquire.discovery.scale import Load, rated, scale, slope


def seen_push(change):
    low, high = 5.0, 8.0
    return answer(TIME, pushed_counts(low, high, 100.0 + change), None, None)


def told(answer, **more):
    options = {"integer": True, "load": None, "given": None, "unit": None, "unit_why": "", **more}
    return scale(answer=answer, **options)


def test_given_sensitivity_takes_the_sign_of_the_push():
    assert told(seen_push(-5000.0), given=8400.0).counts_per_newton.value == -8400.0
    assert told(seen_push(-5000.0), given=2.0, integer=False).name == "value"
    assert told(seen_push(5000.0), given=1.0, integer=False).name == "n"


def test_without_a_push_the_weight_gives_the_sign():
    still = answer(TIME, pushed_counts(20.0, 21.0), None, None)
    found = told(still, load=Load(load_n=10.0, change=-4000.0)).counts_per_newton
    assert found.value == -400.0
    assert "the sign is that of the weight" in found.why


def test_weight_that_did_nothing_is_no_weight():
    found = told(seen_push(5000.0), load=Load(load_n=10.0, change=0.0))
    assert not found.known
    assert found.counts_per_newton.confidence is Confidence.GUESS


def test_columns_that_do_not_move_have_no_slope():
    assert slope(np.arange(10.0), np.zeros(10)) == 0.0


def test_rated_force_is_given_or_usual_or_what_the_converter_shows():
    assert rated(220.0, counts_per_newton=1.0, limit_counts=None).value == 220.0
    assert rated(None, counts_per_newton=1.0, limit_counts=None).value == 500.0
    small = rated(None, counts_per_newton=-327.67, limit_counts=32767)
    assert small.value == 90.0
    assert "the converter ends here" in small.why
