"""What a difference between sides must exceed: of one's own persons, drawn here, or published."""

import datetime as dt

import numpy as np
import pytest

from analysis.reliability.side_index import published_side_errors, side_errors
from analysis.results.scores import Score

START = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
KEY = ("knee-extension", "belt")


def scores(persons, pct, *, seed=1, sides=("left", "right")):
    chance = np.random.default_rng(seed)
    return [
        Score(
            person=f"P-{who:02}", when=START + dt.timedelta(days=day), examiner="X01", action=KEY[0], side=side,
            method="belt", value=float((200.0 + 10.0 * who) * (1.0 + 0.3 * (who % 3)) ** (side == "left") * error),
        )
        for who in range(persons)
        for day in (0, 7)
        for side, error in zip(sides, chance.gamma((100.0 / pct) ** 2, (pct / 100.0) ** 2, len(sides)), strict=True)
    ]  # fmt: skip


def test_published_one_is_that_of_the_abstract():
    (row,) = published_side_errors()
    assert (row.low, row.high, row.n) == (13.9, 22.9, 29)
    assert side_errors([])[KEY].points == 22.9


def test_own_persons_come_before_published():
    found = side_errors(scores(60, 4.0))[KEY]
    # each side is off by 4 %, two sides in two sessions by 8 %: 2.00 x 8 % = 16 % up, 14.8 % down
    assert found.persons == 60
    assert found.points == pytest.approx(14.8, abs=2.5)


@pytest.mark.parametrize("own", [scores(5, 4.0), scores(60, 4.0, sides=("left",))])
def test_too_few_or_of_one_side_leave_the_published(own):
    assert side_errors(own)[KEY].published is not None


def test_equal_sides_are_within_it_and_half_the_force_is_not():
    points = side_errors(scores(60, 4.0))[KEY].points
    chance = np.random.default_rng(3)
    left, right = chance.gamma(625.0, 1.0 / 625.0, (2, 4000))
    assert np.mean(100.0 * np.abs(1.0 - left / right) > points) < 0.05
    assert np.mean(100.0 * np.abs(1.0 - 0.5 * left / right) > points) > 0.99
