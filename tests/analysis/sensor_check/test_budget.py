"""What a force is known to; the combination itself is checked with `analysis.statistics.uncertainty`."""

import math

import numpy as np
import pytest

from analysis.sensor_check.budget import figure, force_budget, rectangular, resolved
from analysis.statistics.uncertainty import from_limits, from_readings


def test_limits_and_steps_of_the_guide():
    # JCGM 100:2008, 4.3.7, example 2, and F.2.2.1: u = 0,29 of the step of an indication.
    assert rectangular(0.4e-6) == pytest.approx(0.23e-6, rel=0.01)
    assert resolved(1.0) == pytest.approx(0.29, abs=0.002)
    chance = np.random.default_rng(2)
    assert chance.uniform(-0.5, 0.5, 200_000).std() == pytest.approx(resolved(1.0), rel=0.01)


def test_gauge_block_of_the_guide():
    # JCGM 100:2008, H.1, table H.1: 25 nm, 5,8 nm, 3,9 nm, 6,7 nm, 2,9 nm and 16,6 nm; uc(l) = 32 nm
    rows = [from_readings("x", u, dof=20, unit="N") for u in (25.0, 5.8, 3.9, 6.7, 2.9, 16.6)]
    assert round(force_budget(50_000_838.0, rows).standard_n) == 32


def test_each_estimate_is_expanded_by_its_own_t():
    found = force_budget(
        200.0, [from_readings("a", 3.0, dof=5, unit="N"), from_limits("b", 4 * math.sqrt(3), unit="N")]
    )
    # JCGM 100:2008, table G.2: 2.65 for 5 degrees of freedom and 95.45 %, 2.00 for many
    expanded = math.hypot(2.65 * 3.0, 2.0 * 4.0)
    assert (found.standard_n, found.expanded_n) == (pytest.approx(5.0), pytest.approx(expanded, rel=1e-3))
    assert (found.standard_pct, found.expanded_pct) == (pytest.approx(2.5), pytest.approx(expanded / 2.0, rel=1e-3))
    # Welch and Satterthwaite: 5^4 / (3^4 / 5)
    assert found.dof == pytest.approx(625.0 / 81.0 * 5.0)


def test_force_that_is_known_exactly_has_no_uncertainty():
    assert force_budget(1.0, [from_limits("a", 0.0, unit="N")]).dof is None


@pytest.mark.parametrize(("at", "rows"), [(0.0, [from_limits("a", 1.0, unit="N")]), (5.0, [])])
def test_budget_of_nothing_is_refused(at, rows):
    with pytest.raises(ValueError, match=f"needs components and a force, got {len(rows)} at {at} N"):
        force_budget(at, rows)


def test_figure_is_in_newtons_and_of_the_rated_force():
    found = figure(-0.5, 0.1, rated_force_n=200.0, at_n=100.0)
    assert (found.value_n, found.value_pct, found.expanded_n, found.expanded_pct) == (-0.5, -0.25, 0.2, 0.1)
    assert found.at_n == 100.0
