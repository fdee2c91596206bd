"""Ceilings: found where an examiner is the weaker one, not where persons are."""

import numpy as np
import pytest
from scipy import stats

from analysis.audit.ceilings import ALPHA, QUANTILES, find_ceiling


def free(chance, count=60):
    return {"knee-extension": chance.lognormal(5.9, 0.3, count), "elbow-flexion": chance.lognormal(5.2, 0.25, count)}


def test_pile_at_one_value_is_found_with_what_a_belt_would_show(chance):
    others = free(chance, 300)
    truth = chance.lognormal(5.9, 0.3, 40)
    held = np.minimum(truth, 300.0 * chance.normal(1.0, 0.015, 40))
    found = find_ceiling({"knee-extension": held}, others)
    assert abs(found.force_n - 300.0) < 9.0
    assert found.actions == ("knee-extension",)
    assert found.others_n > 400.0
    assert found.count <= found.of == 40


def test_weak_persons_are_no_ceiling(chance):
    alarms = 0
    for _ in range(100):
        weak = {action: 0.8 * values[:25] for action, values in free(chance).items()}
        alarms += find_ceiling(weak, free(chance, 200)) is not None
    assert alarms <= 4


def test_examiners_like_all_others_have_none(chance):
    assert sum(find_ceiling(free(chance, 25), free(chance, 200)) is not None for _ in range(200)) <= 2


def test_few_plateaus_say_nothing(chance):
    held = np.full(11, 300.0)
    assert find_ceiling({"knee-extension": held}, free(chance, 200)) is None


def test_action_that_nobody_else_tests_says_nothing():
    assert find_ceiling({"wrist-extension": np.full(40, 90.0)}, {}) is None


def piled(within, above=0, below=0):
    """Plateaus in a pile at 100 N, some above and some far below."""
    return {"knee-extension": np.concatenate([np.full(below, 50.0), np.full(within, 100.0), np.full(above, 150.0)])}


def spread(within, above, below):
    """Others' forces, so many per hundred each."""
    return {"knee-extension": np.repeat([50.0, 100.0, 150.0], [below, within, above])}


def test_pile_says_what_it_is_made_of():
    found = find_ceiling(piled(30, below=10), spread(10, 60, 30))
    assert (found.force_n, found.count, found.of) == (100.0, 30, 40)
    assert found.expected_above == pytest.approx(40 * 0.6)
    assert found.others_n == 150.0
    assert found.actions == ("knee-extension",)


def test_eleven_plateaus_are_too_few_and_twelve_enough():
    assert find_ceiling(piled(11), spread(2, 95, 3)) is None
    assert find_ceiling(piled(12), spread(2, 95, 3)).of == 12


@pytest.mark.parametrize("above_pct", range(30, 46))
def test_few_above_must_be_rarer_than_chance_lets_them(above_pct):
    # none above of 20, so many expected: the probability of none is exp(-expected), by Poisson
    rare = stats.poisson.cdf(0, 20 * above_pct / 100) <= ALPHA / len(QUANTILES)
    assert (find_ceiling(piled(20), spread(1, above_pct, 99 - above_pct)) is not None) == rare


@pytest.mark.parametrize("within_pct", range(20, 50))
def test_many_within_must_be_more_than_chance_lets_them(within_pct):
    many = stats.poisson.sf(19, 20 * within_pct / 100) <= ALPHA / len(QUANTILES)
    assert (find_ceiling(piled(20), spread(within_pct, 50, 50 - within_pct)) is not None) == many


def test_pile_where_others_have_none_is_found():
    assert find_ceiling(piled(20), spread(0, 100, 0)).count == 20


def test_actions_whose_plateaus_lie_elsewhere_are_not_of_the_pile():
    mine = piled(20) | {"elbow-flexion": np.full(4, 40.0)}
    others = spread(2, 90, 8) | {"elbow-flexion": np.full(50, 40.0)}
    found = find_ceiling(mine, others)
    assert found.actions == ("knee-extension",)
    assert (found.count, found.of) == (20, 24)


def test_pile_reaches_from_six_per_cent_below_to_four_above():
    edges = np.concatenate([np.full(14, 100.0), [93.9, 94.1, 95.0, 103.0, 103.9]])
    found = find_ceiling({"knee-extension": edges}, spread(1, 95, 4))
    assert found.count == 18


def test_largest_pile_of_the_quantiles_is_told():
    mine = {"knee-extension": np.concatenate([np.full(30, 100.0), np.full(3, 108.0)])}
    found = find_ceiling(mine, spread(1, 95, 4))
    assert (found.force_n, found.count) == (100.0, 30)
