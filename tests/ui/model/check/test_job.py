"""One check of a sensor without its dialog."""

import datetime as dt
from types import SimpleNamespace

import pytest

from ui.model.check.job import CheckJob
from ui.model.check.log import CheckLog
from ui.model.check.note import SensorName
from ui.model.plan.plan import PlanDraft


@pytest.fixture
def job(tmp_path):
    return CheckJob(
        draft=PlanDraft(), sensor=SensorName(profile="simulated"), log=CheckLog(tmp_path / "checks"), folder=tmp_path
    )


@pytest.mark.parametrize(("serial", "name"), [("S-7", "S-7_2026-03-12.toml"), ("", "simulated_2026-03-12.toml")])
def test_calibration_is_named_by_serial_number_or_profile_and_day(job, tmp_path, serial, name):
    check = SimpleNamespace(serial=serial, sensor="simulated", made=dt.datetime(2026, 3, 12, 9, tzinfo=dt.UTC))
    assert job.calibration_path(check) == tmp_path / name


def test_sensor_that_was_never_checked_has_no_history(job):
    assert (job.last(""), job.history("")) == (None, ())
