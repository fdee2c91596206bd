"""The arithmetic of uncertainty, against the worked examples of the guide."""

import numpy as np
import pytest

from analysis.sensor_check.budget import Contribution, budget, figure, rectangular, resolved


def row(standard, freedom=None):
    return Contribution(name="x", kind="A", distribution="normal", standard_n=standard, degrees_of_freedom=freedom)


def test_gauge_block_of_the_guide():
    # JCGM 100:2008, H.1, table H.1: 25 nm, 5,8 nm, 3,9 nm, 6,7 nm, 2,9 nm and 16,6 nm with 18, 24, 5, 8, 50 and 2
    # degrees of freedom; uc(l) = 32 nm (rows and result as an open library's rendering of the example has them);
    # the effective degrees of freedom are 16 when truncated, as G.4.1 says (from memory).
    rows = [row(25.0, 18), row(5.8, 24), row(3.9, 5), row(6.7, 8), row(2.9, 50), row(16.6, 2)]
    found = budget(50_000_838.0, rows)
    assert round(found.standard_n) == 32
    assert int(found.degrees_of_freedom) == 16


def test_limits_and_steps_of_the_guide():
    # JCGM 100:2008, 4.3.7, example 2, and F.2.2.1: u = 0,29 of the step of an indication.
    assert rectangular(0.4e-6) == pytest.approx(0.23e-6, rel=0.01)
    assert resolved(1.0) == pytest.approx(0.29, abs=0.002)
    chance = np.random.default_rng(2)
    assert chance.uniform(-0.5, 0.5, 200_000).std() == pytest.approx(resolved(1.0), rel=0.01)


def test_expanded_uncertainty_is_twice_the_standard_one():
    found = budget(200.0, [row(3.0), row(4.0)])
    assert (found.standard_n, found.expanded_n) == (5.0, 10.0)
    assert (found.standard_pct, found.expanded_pct) == (2.5, 5.0)
    assert found.degrees_of_freedom is None


def test_row_that_is_nothing_changes_nothing():
    assert budget(1.0, [row(2.0, 5), row(0.0, 3)]).degrees_of_freedom == 5.0
    assert budget(1.0, [row(0.0, 3)]).degrees_of_freedom is None


@pytest.mark.parametrize(("at", "rows"), [(0.0, [row(1.0)]), (5.0, [])])
def test_budget_of_nothing_is_refused(at, rows):
    with pytest.raises(ValueError, match=f"needs rows and a force, got {len(rows)} rows at {at} N"):
        budget(at, rows)


def test_figure_is_in_newtons_and_of_the_rated_force():
    found = figure(-0.5, 0.1, rated_force_n=200.0, at_n=100.0)
    assert (found.value_n, found.value_pct, found.expanded_n, found.expanded_pct) == (-0.5, -0.25, 0.2, 0.1)
    assert found.at_n == 100.0
