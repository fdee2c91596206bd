"""What an audit says: a sentence for each finding, in each language, and an advice for each fault."""

import numpy as np
import pytest

from analysis.audit.archive_audit import SensorAudit
from analysis.audit.examiners import REJECTED
from analysis.audit.trend import Course, Signal
from analysis.trial.faults import CODES
from ui.model.audit.findings_text import NUMBER_UNITS, _course_lines, advice, day, number_name, sensor_lines
from ui.words.words import Words, languages

DAY_S = 86_400.0


def course(*signals):
    at = np.arange(4.0) * DAY_S
    line = np.zeros(4)
    return Course(at_s=at, value=line, average=line, low=line, high=line, signals=signals, since_s=None)


def signal(at_day, change, chart="ewma"):
    return Signal(at_s=at_day * DAY_S, chart=chart, change=change)


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("code", sorted(set(CODES) - {"examiner-limit"}))
def test_every_fault_has_an_advice_of_its_own(language, code):
    words = Words(language)
    assert advice(code, words) != advice("a fault of tomorrow", words)


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("name", NUMBER_UNITS)
def test_every_number_has_a_name(language, name):
    assert number_name(name, Words(language))


def test_signal_that_came_back_is_told_with_both_days():
    (line,) = _course_lines(REJECTED, course(signal(1, "above"), signal(3, "back")), Words())
    assert line == ("over time: share of rejected trials higher than with others, from 1970-01-02 until 1970-01-04")


def test_signal_that_lasts_is_told_as_such():
    (line,) = _course_lines("ramp_time_s", course(signal(2, "below")), Words("de"))
    assert line == "im Verlauf: Anstieg niedriger als bei anderen, vom 03.01.1970 bis heute"


def test_fewer_rejected_trials_and_the_sums_are_no_news():
    quiet = course(signal(1, "below"), signal(2, "above", chart="cusum"))
    assert list(_course_lines(REJECTED, quiet, Words())) == []


def test_sensor_that_moved_is_told_from_its_first_signal():
    moved = SensorAudit(sensor="S-1", sessions=4, zero=course(signal(2, "above")), sensitivity=course())
    assert list(sensor_lines(moved, Words())) == ["sensor S-1: its zero has moved since 1970-01-03: check it"]


def test_day_is_that_of_universal_time():
    assert str(day(DAY_S - 1.0)) == "1970-01-01"
