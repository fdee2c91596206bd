"""What a session is told of its sensor."""

import datetime as dt

import msgspec
import pytest
from check_bench import LIMITS, whole_check

from acquire.sensor.calibration_file import save_calibration
from acquire.values.calibration import Calibration
from analysis.sensor_check import Status
from ui.model.check.log import CheckLog, SessionZero
from ui.model.check.note import SensorName, SensorWatch, check_note, sensor_name
from ui.words.words import Words, languages

SENSOR = SensorName(profile="packets-1k", serial="LC-1")
DAY = dt.timedelta(days=1)
replace = msgspec.structs.replace


@pytest.fixture
def log(tmp_path):
    return CheckLog(tmp_path / "checks")


def note(log, *, days=1.0):
    return check_note(log, SENSOR, now=whole_check().made + days * DAY, limits=LIMITS)


def said(found, language="en"):
    return " ".join(phrase.said(Words(language)) for phrase in found.phrases)


def test_sensor_that_was_never_checked_is_told(log):
    assert not note(log).good
    assert said(note(log)) == "Never checked: no check of this sensor is on record."


def test_fresh_check_that_passed_is_good(log):
    log.keep(whole_check())
    assert note(log).good
    assert said(note(log)) == "Checked 2026-03-02: passed."


def test_old_check_is_told_with_its_limit(log):
    log.keep(whole_check())
    assert note(log, days=30.0).good
    assert not note(log, days=30.1).good
    assert said(note(log, days=31)) == "Last checked 2026-03-02, more than 30 days ago: check it."


@pytest.mark.parametrize(("status", "good"), [(Status.WARN, True), (Status.FAIL, False)])
def test_verdict_of_the_last_check_is_told(log, status, good):
    bad = replace(whole_check().findings[0], status=status)
    log.keep(replace(whole_check(), findings=(bad,)))
    assert note(log).good is good


# 0.5 % of the rated 500 N are 2.5 N
@pytest.mark.parametrize(("newtons", "good"), [(2.4, True), (-2.6, False), (40.0, False)])
def test_zero_of_the_last_session_is_held_against_the_check(log, newtons, good):
    log.keep(whole_check())
    counts = whole_check().unloaded.zero_counts + 4000.0 * newtons
    log.note_zero("packets-1k", "LC-1", SessionZero(at=whole_check().made + 0.5 * DAY, counts=counts))
    assert note(log).good is good
    if not good:
        moved_n, percent = Words().number(newtons, 1, signed=True), f"{abs(newtons) / 5.0:.1f}"
        moved = f"Its zero has moved by {moved_n} N ({percent} % of rated force) since"
        assert moved in said(note(log))


def test_session_before_the_check_says_nothing(log):
    log.keep(whole_check())
    log.note_zero("packets-1k", "LC-1", SessionZero(at=whole_check().made - DAY, counts=1e6))
    assert note(log).good


@pytest.mark.parametrize("language", languages())
def test_each_state_has_its_words(log, language):
    texts = {said(note(log), language)}
    log.keep(whole_check())
    texts |= {said(note(log, days=days), language) for days in (1, 40)}
    log.note_zero("packets-1k", "LC-1", SessionZero(at=whole_check().made + 0.5 * DAY, counts=1e6))
    texts.add(said(note(log), language))
    assert len(texts) == 4


# who a sensor is


def test_serial_number_is_that_of_the_calibration(tmp_path):
    save_calibration(tmp_path / "cal.toml", Calibration(newtons_per_count=1.0, serial="LC-9"))
    assert sensor_name("packets-1k", str(tmp_path / "cal.toml")) == SensorName(profile="packets-1k", serial="LC-9")
    assert sensor_name("packets-1k", "") == SensorName(profile="packets-1k")


@pytest.mark.parametrize(("sensor", "calibration"), [("nosuch", ""), ("packets-1k", "nowhere.toml")])
def test_sensor_that_cannot_be_read_is_nobody(sensor, calibration):
    assert sensor_name(sensor, calibration) is None


# a session


def watched(log):
    return SensorWatch(log, SENSOR, LIMITS)


def test_session_is_told_before_it_begins_only_what_is_not_well(log):
    now = whole_check().made + DAY
    assert [phrase.key for phrase in watched(log).before(now)] == ["check.note.none"]
    log.keep(whole_check())
    assert watched(log).before(now) == ()
    assert [phrase.key for phrase in watched(log).before(now + 60 * DAY)] == ["check.note.old"]


def test_zero_that_moved_is_told_once_a_session(log):
    log.keep(whole_check())
    watch, now = watched(log), whole_check().made + DAY
    off = whole_check().unloaded.zero_counts + 4000.0 * 3.0
    assert watch.see(off, now).said(Words()).startswith("Its zero has moved by +3.0 N")
    assert watch.see(off, now) is None
    assert log.session_zero("packets-1k", "LC-1").counts == off


def test_zero_that_stayed_is_kept_and_not_told(log):
    log.keep(whole_check())
    assert watched(log).see(whole_check().unloaded.zero_counts, whole_check().made + DAY) is None
    assert watched(log).before(whole_check().made + DAY) == ()


def test_sensor_without_a_check_has_nothing_to_compare(log):
    assert watched(log).see(5.0, whole_check().made) is None
