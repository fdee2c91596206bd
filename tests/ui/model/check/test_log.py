"""Checks kept from day to day."""

import datetime as dt
import os
import stat

import msgspec
import pytest
from check_bench import whole_check

from ui.model.check.log import CheckLog, CheckLogError, SessionZero, log_folder

replace = msgspec.structs.replace
DAY = dt.timedelta(days=1)


@pytest.fixture
def log(tmp_path):
    return CheckLog(tmp_path / "checks")


def test_checks_lie_beside_what_else_is_kept():
    assert log_folder({"XDG_STATE_HOME": "/state"}).as_posix() == "/state/ramphold/checks"


def test_check_comes_back_as_it_was(log):
    path = log.keep(whole_check())
    assert path.relative_to(log.folder).as_posix() == "packets-1k--LC-1/2026-03-02T090000.000000Z.json"
    assert log.last("packets-1k", "LC-1") == whole_check()
    assert log.all("packets-1k", "LC-1") == [whole_check()]


def test_nothing_is_made_by_looking(log):
    assert (log.last("packets-1k"), log.all("packets-1k"), log.serials("packets-1k")) == (None, [], ())
    assert log.session_zero("packets-1k") is None
    assert not log.folder.exists()


def test_checks_come_in_the_order_they_were_made_in(log):
    made = [whole_check().made + n * DAY for n in (3, 1, 2)]
    for when in made:
        log.keep(replace(whole_check(), made=when))
    assert [check.made for check in log.all("packets-1k", "LC-1")] == sorted(made)
    assert log.last("packets-1k", "LC-1").made == max(made)


def test_time_zone_of_a_check_changes_no_order(log):
    early = whole_check().made.astimezone(dt.timezone(dt.timedelta(hours=10)))
    late = (whole_check().made + dt.timedelta(hours=1)).astimezone(dt.timezone(dt.timedelta(hours=-8)))
    for when in (late, early):
        log.keep(replace(whole_check(), made=when))
    assert log.last("packets-1k", "LC-1").made == late


def test_each_sensor_has_its_own(log):
    for serial in ("LC/1", "LC-1", "", "../../up"):
        log.keep(replace(whole_check(), serial=serial))
    assert [len(log.all("packets-1k", serial)) for serial in ("LC/1", "LC-1", "", "../../up")] == [1, 1, 1, 1]
    assert log.serials("packets-1k") == ("../../up", "LC-1", "LC/1")
    assert log.last("bridge-80") is None
    assert all(path.parent.parent == log.folder for path in log.folder.rglob("*.json"))


def test_check_is_the_users_alone_and_nothing_lies_beside_it(log):
    path = log.keep(whole_check())
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert [each.name for each in path.parent.iterdir()] == [path.name]


@pytest.mark.parametrize("content", [b"", b"{", b"\xff", b"[]", b'{"version": 1, "surprise": 2}'])
def test_file_that_cannot_be_read_is_passed_over_and_named(log, content):
    path = log.keep(whole_check())
    broken = path.with_name("2027-01-01T000000.000000Z.json")
    broken.write_bytes(content)
    assert log.last("packets-1k", "LC-1") == whole_check()
    assert log.unread == [broken]


def test_damaged_check_never_ends_the_program(log):
    path = log.keep(whole_check())
    whole = path.read_bytes()
    for place in range(0, len(whole), len(whole) // 40):
        path.write_bytes(whole[:place] + b"\x00" + whole[place + 1 :])
        assert log.last("packets-1k", "LC-1") in (None, whole_check())


def test_place_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "checks").write_text("in the way")
    with pytest.raises(CheckLogError, match=r"checks/packets-1k--LC-1/.*: the check cannot be kept: "):
        CheckLog(tmp_path / "checks").keep(whole_check())


def test_full_disk_leaves_nothing_half_written(log, monkeypatch):
    def refuse(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(CheckLogError, match="No space left on device"):
        log.keep(whole_check())
    assert list(log.folder.rglob("*.*")) == []


def test_zero_of_a_session_comes_back(log):
    zero = SessionZero(at=whole_check().made, counts=123.5)
    log.note_zero("packets-1k", "LC-1", zero)
    assert log.session_zero("packets-1k", "LC-1") == zero
    assert log.session_zero("packets-1k") is None
    # and is no check
    assert log.all("packets-1k", "LC-1") == []


def test_zero_that_cannot_be_written_costs_only_itself(tmp_path):
    (tmp_path / "checks").write_text("in the way")
    log = CheckLog(tmp_path / "checks")
    log.note_zero("packets-1k", "", SessionZero(at=whole_check().made, counts=1.0))
    assert log.session_zero("packets-1k") is None
