"""A check as it is kept, and the calibration that comes of it."""

import datetime as dt

import msgspec
import pytest

from acquire.sensor.calibration_file import load_calibration, save_calibration
from acquire.values.calibration import residuals
from analysis.sensor_check import SensorCheck, Status

from .conftest import COUNTS_PER_NEWTON, ZERO, seen


def test_check_survives_being_written(check):
    made = check()
    assert msgspec.json.decode(msgspec.json.encode(made), type=SensorCheck) == made


def test_verdict_is_the_worst_finding(check):
    made = check()
    assert made.verdict is Status.PASS
    bad = msgspec.structs.replace(made.findings[0], status=Status.FAIL)
    assert msgspec.structs.replace(made, findings=(*made.findings, bad)).verdict is Status.FAIL


def test_calibration_has_its_points_and_its_uncertainty(check, tmp_path):
    made = check(by="X-4")
    calibration = made.made_calibration()
    assert 1.0 / calibration.newtons_per_count == pytest.approx(COUNTS_PER_NEWTON, rel=1e-4)
    assert calibration.zero_counts == pytest.approx(ZERO, abs=0.01 * COUNTS_PER_NEWTON)
    assert (calibration.serial, calibration.by, calibration.date) == ("LC-1", "X-4", dt.date(2026, 3, 2))
    known = calibration.uncertainty
    assert known.sensitivity_pct == made.loaded.sensitivity.standard_pct
    assert (known.sensitivity_dof, known.runs) == (made.loaded.sensitivity.dof, 2)
    assert (known.between_runs_pct, known.linearity_n) == (made.loaded.between_runs_pct, made.loaded.linearity.value_n)
    # what another program works out from the points is the same
    assert known.residual_sd_n == pytest.approx(residuals(calibration).scatter_n)
    assert (known.hysteresis_n, known.creep_n) == (made.loaded.hysteresis.value_n, None)
    save_calibration(tmp_path / "cell.toml", calibration)
    assert load_calibration(tmp_path / "cell.toml") == calibration


def test_calibration_agrees_with_the_sensitivity_of_the_check(check):
    made = check()
    assert 1.0 / made.made_calibration().newtons_per_count == pytest.approx(made.loaded.counts_per_newton, rel=1e-12)


def test_look_makes_no_calibration(check):
    assert check(loaded=None, readings=()).made_calibration() is None


def test_one_weight_has_no_scatter(check, runs):
    known = check(runs=runs(masses=(20.0,), runs=1, noise=0.01)).made_calibration().uncertainty
    assert (known.residual_sd_n, known.hysteresis_n) == (0.0, None)
    assert known.sensitivity_pct > 0.0


def test_unknown_key_is_refused(check):
    content = msgspec.to_builtins(check(unloaded=seen()))
    with pytest.raises(msgspec.ValidationError, match="unknown field `surprise`"):
        msgspec.convert({**content, "surprise": 1}, SensorCheck)
