"""Courses over time: what changed is found and dated; the charts themselves are checked in test_control_charts."""

import numpy as np
import pytest

from analysis.audit.trend import D2, course_of, deviations, drift_of, residuals
from analysis.statistics.control_charts import cusum, ewma

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


def test_residual_is_found_less_expected_over_its_standard_deviation():
    # others have 2 of 4 in stratum 0 and 1 of 4 in stratum 1; mine: 3 of 3 in session 7 (two of stratum 0), 0 of 1 in 8
    stratum = np.array([0, 0, 0, 0, 1, 1, 1, 1, 0, 0, 1, 1])
    has = np.array([1, 1, 0, 0, 1, 0, 0, 0, 1, 1, 1, 0], dtype=bool)
    session = np.array([0] * 8 + [7, 7, 7, 8])
    mine = session > 0
    numbers, value = residuals(mine, has, stratum, session)
    assert numbers.tolist() == [7, 8]
    first = (3 - (0.5 + 0.5 + 0.25)) / np.sqrt(0.25 + 0.25 + 0.25 * 0.75)
    second = (0 - 0.25) / np.sqrt(0.25 * 0.75)
    assert value == pytest.approx([first, second])


def test_session_where_nothing_ever_happens_or_nobody_else_tests_is_left_out():
    stratum = np.array([0, 0, 1, 2, 2])
    has = np.array([False, False, True, True, False])
    session = np.array([0, 1, 2, 3, 4])
    numbers, value = residuals(np.array([False, True, True, True, False]), has, stratum, session)
    assert (numbers.tolist(), value.tolist()) == ([], [])


def test_deviation_is_the_mean_of_a_session_in_standard_deviations_of_the_others():
    # others: 1 and 3 (mean 2, deviation sqrt(2)) in stratum 0; 10, 10 in stratum 1, which cannot be scaled
    values = np.array([1.0, 3.0, 10.0, 10.0, 4.0, 6.0, 11.0, np.nan, 3.0])
    stratum = np.array([0, 0, 1, 1, 0, 0, 1, 0, 0])
    session = np.array([0, 0, 0, 0, 5, 5, 5, 6, 7])
    numbers, value = deviations(session > 0, values, stratum, session)
    assert numbers.tolist() == [5, 7]
    assert value == pytest.approx([3.0 / np.sqrt(2.0), 1.0 / np.sqrt(2.0)])


def test_one_other_trial_is_no_measure():
    numbers, _ = deviations(np.array([True, False]), np.array([1.0, 2.0]), np.zeros(2, dtype=int), np.array([0, 1]))
    assert numbers.tolist() == []


@pytest.mark.parametrize(("count", "there"), [(5, False), (6, True)])
def test_six_sessions_are_a_course(count, there):
    assert (course_of(days(count), np.zeros(count)) is not None) is there


def test_charts_are_those_of_a_weight_of_a_tenth_and_sums_with_half_a_limit_of_head_start(chance):
    value = chance.normal(0.4, 1.0, 30)
    course = course_of(days(30), value)
    average = ewma(value, target=0.0, sd=1.0, weight=0.1, width=2.7)
    sums = cusum(value, target=0.0, sd=1.0, slack=0.5, limit=5.0, head_start=2.5)
    assert course.average.tolist() == average.average.tolist()
    assert course.high.tolist() == np.broadcast_to(average.high, 30).tolist()
    assert course.low.tolist() == np.broadcast_to(average.low, 30).tolist()
    after = sums.shift_after()
    assert course.since_s == (None if after is None else after * DAY)


@pytest.mark.parametrize(("step", "change"), [(4.0, "above"), (-4.0, "below")])
def test_both_charts_say_which_way_it_went_and_when_it_came_back(step, change):
    value = np.zeros(60)
    value[10:16] = step
    value[16:30] = -step / 4.0
    course = course_of(days(60), value)
    told = [(signal.chart, signal.change) for signal in course.signals]
    assert told[:2] in ([("cusum", change), ("ewma", change)], [("ewma", change), ("cusum", change)])
    for chart in ("ewma", "cusum"):
        signals = [signal for signal in course.signals if signal.chart == chart]
        assert [signal.change for signal in signals[:2]] == [change, "back"]
        assert 10 * DAY <= signals[0].at_s < 16 * DAY < signals[1].at_s
    assert [signal.at_s for signal in course.signals] == sorted(signal.at_s for signal in course.signals)


def test_signal_at_the_very_first_session_is_told():
    course = course_of(days(8), np.full(8, 9.0))
    assert course.signals[0].at_s == 0.0
    assert course.since_s == 0.0


def test_shift_that_begins_at_the_end_is_dated_within_the_series():
    value = np.zeros(30)
    value[-1] = 20.0
    assert course_of(days(30), value).since_s == 29 * DAY


@pytest.mark.parametrize(("count", "there"), [(21, False), (22, True)])
def test_twenty_sessions_of_a_sensor_are_held_against_two_or_more(count, there):
    assert (drift_of(days(count), np.arange(count) % 2.0) is not None) is there


def test_limits_of_a_sensor_are_those_of_its_moving_range_about_its_first_twenty(chance):
    value = chance.normal(5.0, 0.2, 40)
    value[20:] += 1.0
    course = drift_of(days(40), value)
    sd = np.abs(np.diff(value)).mean() / D2
    wanted = ewma(value, target=value[:20].mean(), sd=sd, weight=0.1, width=3.5)
    assert course.high.tolist() == np.broadcast_to(wanted.high, 40).tolist()
    assert course.average.tolist() == wanted.average.tolist()
    sums = cusum(value, target=value[:20].mean(), sd=sd, slack=0.5, limit=5.0, head_start=0.0)
    assert course.since_s == sums.shift_after() * DAY


def test_mean_range_of_two_values_is_that_of_the_normal_distribution():
    # Montgomery, appendix VI, to three places; the exact value is 2 / sqrt(pi)
    assert pytest.approx(2.0 / np.sqrt(np.pi), abs=5e-4) == D2


def test_sensor_that_reads_nothing_has_no_chart():
    assert drift_of(days(30), np.full(30, np.nan)) is None
    assert drift_of(days(30), np.append(np.arange(29.0), np.inf)) is None
