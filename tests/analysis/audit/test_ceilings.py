"""Ceilings: found where an examiner is the weaker one, not where persons are."""

import numpy as np

from analysis.audit.ceilings import find_ceiling


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
