"""When a set is complete, and how well its trials agree."""

import pytest

from analysis.results.sets import agreement_pct, set_state
from analysis.trial.protocol import load_protocol

RULE = load_protocol().set


@pytest.mark.parametrize(
    ("plateaus", "tried", "complete"),
    [
        ([], 0, False),
        ([200.0, 198.0], 2, False),
        ([200.0, 198.0, 150.0], 3, True),
        ([200.0, 170.0, 160.0], 3, False),  # the best two differ by 15 %
        ([200.0, 170.0, 185.0], 4, True),
        ([200.0, 170.0, 160.0], 5, True),  # five are the most
        ([], 5, True),
    ],
)
def test_set_is_complete_when_the_best_two_agree_or_at_most_five(plateaus, tried, complete):
    assert set_state(plateaus, tried, RULE).complete is complete


def test_agreement_of_one_trial_is_not_known():
    assert agreement_pct([200.0]) is None
