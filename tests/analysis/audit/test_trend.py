"""Courses over time: what changed is found and dated; the charts themselves are checked in test_control_charts."""

import numpy as np
import pytest

from analysis.audit.trend import course_of, deviations, drift_of, residuals

DAY = 86_400.0


def days(count):
    return np.arange(count) * DAY


def test_shift_is_found_and_dated(chance):
    value = chance.normal(0.0, 1.0, 60)
    value[30:] += 2.0
    course = course_of(days(60), value)
    out = [signal for signal in course.signals if signal.chart == "ewma" and signal.change == "above"]
    assert 30 * DAY <= out[0].at_s <= 42 * DAY
    assert abs(course.since_s / DAY - 30) <= 3


def test_habit_that_is_gone_comes_back(chance):
    value = chance.normal(0.0, 1.0, 80)
    value[10:40] += 2.5
    changes = [signal.change for signal in course_of(days(80), value).signals if signal.chart == "ewma"]
    assert changes[:2] == ["above", "back"]


def test_few_sessions_have_no_course():
    assert course_of(days(5), np.zeros(5)) is None


def test_quiet_series_seldom_signal(chance):
    alarms = sum(
        any(signal.chart == "ewma" for signal in course_of(days(50), chance.normal(0.0, 1.0, 50)).signals)
        for _ in range(100)
    )
    # a moving average of this weight and width signals once in about 500 values (Montgomery, table 9.11)
    assert alarms <= 22


def test_residuals_of_examiners_like_all_others_have_the_size_of_one(chance):
    session = np.repeat(np.arange(300), 10)
    has = chance.random(3000) < 0.2
    mine = session < 100
    numbers, value = residuals(mine, has, np.zeros(3000, dtype=int), session)
    assert numbers.tolist() == list(range(100))
    assert value.mean() == pytest.approx(0.0, abs=0.3)
    assert value.std() == pytest.approx(1.0, abs=0.2)


def test_deviations_are_held_against_the_same_stratum(chance):
    stratum = np.tile([0, 1], 300)
    session = np.repeat(np.arange(60), 10)
    values = chance.normal(1.0, 0.1, 600) + stratum
    mine = session < 20
    values[mine] += 0.1
    _, value = deviations(mine, values, stratum, session)
    assert value.mean() == pytest.approx(1.0, abs=0.2)


def test_drift_of_a_sensor_is_held_against_its_first_sessions(chance):
    alarms = found = 0
    for _ in range(100):
        zero = chance.normal(0.5, 0.2, 60)
        alarms += any(signal.at_s < 40 * DAY for signal in drift_of(days(60), zero).signals)
        zero[40:] += 0.6
        found += any(40 * DAY <= s.at_s <= 50 * DAY and s.change == "above" for s in drift_of(days(60), zero).signals)
    assert alarms <= 15
    assert found >= 95


def test_sensor_that_never_moves_has_no_chart():
    assert drift_of(days(30), np.ones(30)) is None
    assert drift_of(days(8), np.arange(8.0)) is None
