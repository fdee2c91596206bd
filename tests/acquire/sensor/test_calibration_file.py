"""A calibration belongs to one kind of sensor: another's is refused, a strange one is pointed out."""

import msgspec
import pytest

from acquire.errors import CalibrationError
from acquire.sensor.calibration_file import far_from_nominal, load_calibration_of, save_calibration
from acquire.sensor.profile import load_profile
from acquire.values.calibration import Calibration

PROFILE = load_profile("bridge-80")
NOMINAL = 1.0 / PROFILE.counts_per_newton
OWN = Calibration(newtons_per_count=NOMINAL, sensor="bridge-80", rated_force_n=500.0)


@pytest.fixture
def kept(tmp_path):
    def keep(**changes):
        path = tmp_path / "cal.toml"
        save_calibration(path, msgspec.structs.replace(OWN, **changes))
        return path

    return keep


@pytest.mark.parametrize("changes", [{}, {"sensor": ""}, {"rated_force_n": None}, {"rated_force_n": 500.4}])
def test_own_calibration_is_taken(kept, changes):
    assert load_calibration_of(PROFILE, kept(**changes)) == msgspec.structs.replace(OWN, **changes)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"sensor": "packets-1k"}, r"cal\.toml: is the calibration of a sensor packets-1k, and this is a bridge-80"),
        (
            {"rated_force_n": 1000.0},
            "is of a sensor rated for 1000 N, and the bridge-80 is rated for 500 N",
        ),
        ({"rated_force_n": 499.0}, "rated for 499 N"),
    ],
)
def test_calibration_of_another_sensor_is_refused(kept, changes, message):
    with pytest.raises(CalibrationError, match=message):
        load_calibration_of(PROFILE, kept(**changes))


def test_rated_force_is_not_compared_with_a_guess(kept):
    guessed = msgspec.structs.replace(PROFILE, rating="unknown")
    assert load_calibration_of(guessed, kept(rated_force_n=1000.0)).rated_force_n == 1000.0


@pytest.mark.parametrize("factor", [1.0, 1.19, 0.84])
def test_sensors_of_one_kind_differ_a_little(factor):
    assert far_from_nominal(msgspec.structs.replace(OWN, newtons_per_count=factor * NOMINAL), PROFILE) is None


@pytest.mark.parametrize("factor", [1.21, 0.82, 2.0, -1.0])
def test_factor_of_a_calibration_that_is_far_off_is_told(factor):
    found = far_from_nominal(msgspec.structs.replace(OWN, newtons_per_count=factor * NOMINAL), PROFILE)
    assert found == pytest.approx(factor)


def test_guessed_sensitivity_is_no_yardstick():
    guessed = msgspec.structs.replace(PROFILE, sensitivity="unknown")
    assert far_from_nominal(msgspec.structs.replace(OWN, newtons_per_count=9.0 * NOMINAL), guessed) is None
