"""What a push changes, and what is no answer to one."""

import numpy as np
import pytest
from pushed import TIME, pushed_counts

from acquire.discovery import Asked, Task
from acquire.discovery.push import answer


def test_push_and_noise_are_measured():
    seen = answer(TIME, pushed_counts(5.0, 8.0), Asked(Task.QUIET, 0.0, 4.0), Asked(Task.PUSH, 4.5, 8.0))
    assert seen.quiet == pytest.approx(100.0, abs=1.0)
    assert seen.noise == pytest.approx(5.0, rel=0.15)
    assert seen.change == pytest.approx(-5100.0, abs=5.0)
    assert seen.strength == pytest.approx(1020.0, rel=0.15)
    assert seen.push_s == pytest.approx(3.0, abs=0.2)
    assert seen.came_back


def test_what_happens_before_the_push_was_asked_for_is_none():
    quiet, push = Asked(Task.QUIET, 0.0, 2.0), Asked(Task.PUSH, 7.0, 9.0)
    assert answer(TIME, pushed_counts(3.0, 5.0), quiet, push).pushed is None


def test_late_push_is_one():
    quiet, push = Asked(Task.QUIET, 0.0, 2.0), Asked(Task.PUSH, 2.5, 5.0)
    assert answer(TIME, pushed_counts(6.5, 8.0), quiet, push).pushed is not None


def test_quiet_stretch_too_short_to_use_is_replaced_by_the_beginning():
    seen = answer(TIME, pushed_counts(5.0, 8.0), Asked(Task.QUIET, 0.0, 0.5), Asked(Task.PUSH, 4.5, 8.0))
    assert seen.quiet == pytest.approx(100.0, abs=2.0)


def test_numbers_without_noise_are_told_by_their_steps():
    values = np.where((TIME > 5.0) & (TIME < 8.0), 20.0, np.floor(TIME * 3.0) % 2)
    seen = answer(TIME, values, None, None)
    assert seen.resolution == 1.0
    assert seen.change == pytest.approx(20.0, abs=1.0)


@pytest.mark.parametrize("values", [np.empty(0), np.ones(4), np.full(100, np.nan)])
def test_too_little_is_no_answer(values):
    assert answer(np.arange(len(values)) / 80.0, values, None, None) is None


def test_without_a_push_there_is_no_change():
    seen = answer(TIME, pushed_counts(20.0, 21.0), None, None)
    assert (seen.pushed, seen.change) == (None, 0.0)
