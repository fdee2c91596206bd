"""A session that is recorded says what is to be known of its sensor: one line on standard error."""

import datetime as dt

import numpy as np
import pytest
from check_bench import setup

from acquire.sensor.calibration_file import save_calibration
from acquire.sensor.profile import load_profile
from analysis.sensor_check import (
    LimitsUsed,
    Readings,
    SensorCheck,
    Stream,
    assess_unloaded,
    load_check_limits,
)
from ui.model.check.log import CheckLog

PROFILE = load_profile("packets-1k")
NOW = dt.datetime.now(dt.UTC)


def look(zero_n, *, days_ago, serial=""):
    """Return a check of the unloaded sensor, made some days ago."""
    counts = zero_n * PROFILE.counts_per_newton + np.random.default_rng(1).normal(0.0, 400.0, 20_000)
    stream = Stream(nominal_rate_hz=1000.0, rate_hz=1000.0, rate_uncertainty_hz=0.1, samples=20_000, lost=0, damaged=0)
    calibration, limits = PROFILE.nominal_calibration(), load_check_limits()
    return SensorCheck(
        made=NOW - dt.timedelta(days=days_ago),
        sensor=PROFILE.name,
        serial=serial,
        calibration=calibration,
        rated_force_n=PROFILE.rated_force_n,
        limits=LimitsUsed(name=limits.name, hash=limits.hash),
        gravity=setup().gravity,
        mass_tolerance_pct=0.05,
        unloaded=assess_unloaded(
            Readings(time=np.arange(20_000) / 1000.0, counts=np.rint(counts)), calibration, stream
        ),
    )


@pytest.fixture
def recorded(ramphold, device, force, tmp_path, own_state):
    """Record one effort from a sensor that was checked before, or was not; return what was warned of."""

    def record(*checks, zero_n=0.0, more=()):
        for check in checks:
            CheckLog(own_state / "checks").keep(check)
        device("packets-1k", force("good") + zero_n, link=tmp_path / "tty")
        told = (
            "record",
            "--sensor",
            "packets-1k",
            "--port",
            tmp_path / "tty",
            "--count",
            1,
            "--out",
            tmp_path / "a.h5",
        )
        result = ramphold(*told, *more)
        assert result.code == 0, result.err
        return [line for line in result.err.splitlines() if line.startswith("! ")]

    return record


def test_sensor_that_was_never_checked_is_said(recorded):
    assert recorded() == ["! Never checked: no check of this sensor is on record."]


def test_fresh_check_and_a_zero_that_stayed_say_nothing(recorded):
    assert recorded(look(0.0, days_ago=2)) == []


def test_old_check_is_said(recorded):
    (line,) = recorded(look(0.0, days_ago=45))
    assert line.startswith("! Last checked 20")
    assert line.endswith("more than 30 days ago: check it.")


def test_zero_that_moved_is_said_and_kept(recorded, own_state):
    (line,) = recorded(look(0.0, days_ago=2), zero_n=20.0)
    assert line == "! Its zero has moved by +20.0 N (2.0 % of rated force) since: check it with weights."
    kept = CheckLog(own_state / "checks").session_zero("packets-1k")
    assert kept.counts == pytest.approx(20.0 * PROFILE.counts_per_newton, rel=0.01)


def test_check_of_another_serial_number_is_another_sensor_s(recorded, tmp_path):
    calibration = PROFILE.nominal_calibration()
    path = tmp_path / "cal.toml"
    save_calibration(path, type(calibration)(newtons_per_count=calibration.newtons_per_count, serial="B"))
    assert recorded(look(0.0, days_ago=2, serial="A"), more=("--calibration", path)) == [
        "! Never checked: no check of this sensor is on record."
    ]
