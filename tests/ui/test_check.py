"""The check of a sensor: what it says of zero, noise, rate and losses is what the sensor did; weights calibrate it."""

import json
import re
import time
import tomllib
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from acquire.calibration import load_calibration
from acquire.recorder import Recorder

G = 9.80665
"""Standard gravity, m/s2: 3rd General Conference on Weights and Measures, 1901."""
SENSOR = Path(__file__).parents[2] / "acquire/data/sensors/packets-1k.toml"


class Hands:
    """Whoever hangs the weights, and presses Enter when the program has felt them.

    A person waits for seconds. Here the sensor lives so fast that what it sent before may still be on its way.
    """

    def __init__(self, sensor, loads_n, recorders, *, ends=False):
        self.sensor = sensor
        self.loads_n = list(loads_n)
        self.recorders = recorders
        self.ends = ends

    def isatty(self):
        return False

    def readline(self):
        if not self.loads_n:
            assert self.ends, "asked for more weights than were named"
            return ""
        self.sensor.load_n = self.loads_n.pop(0)
        changed, end = self.sensor.seconds + 0.1, time.monotonic() + 60.0
        while self.recorders[-1].pipeline.now < changed:
            assert time.monotonic() < end, "the recorder does not follow the sensor"
            time.sleep(0.001)
        return "\n"


@pytest.fixture
def hands(monkeypatch):
    """Let somebody hang weights on a sensor."""
    recorders = []

    class Watched(Recorder):
        def __init__(self, *arguments, **options):
            super().__init__(*arguments, **options)
            recorders.append(self)

    monkeypatch.setattr("ui.commands.check.Recorder", Watched)
    return lambda sensor, loads_n, **options: Hands(sensor, loads_n, recorders, **options)


def check(sensor, *more, profile="packets-1k"):
    return ("check", profile, "--port", sensor.port, "--seconds", 0.5, *more)


def test_zero_is_found(ramphold, sensor):
    result = ramphold(*check(sensor(load_n=3.25, speed=10), "--json"))
    assert result.code == 0
    assert result.json["sensor"] == "packets-1k"
    look = result.json["check"]
    assert look["zero_n"] == pytest.approx(3.25, abs=1e-3)
    assert look["zero_counts"] == pytest.approx(3.25 * 4200.0, abs=1.0)
    assert look["noise_n"] < 1e-3
    assert look["drift_n_per_min"] == pytest.approx(0.0, abs=0.1)
    assert (look["lost"], look["damaged"]) == (0, 0)
    assert look["seconds"] == pytest.approx(0.5, abs=0.002)
    assert look["samples"] == pytest.approx(500, abs=2)


def test_noise_is_its_standard_deviation(ramphold, sensor):
    look = ramphold(*check(sensor(noise_n=0.4, speed=10), "--seconds", 5, "--json")).json["check"]
    # From 5,000 samples, to 1 %; the noise repeats itself after 997.
    assert look["noise_n"] == pytest.approx(0.4, rel=0.06)
    assert abs(look["zero_n"]) < 0.05


def test_drift_is_found_with_its_uncertainty(ramphold, sensor):
    drifting = sensor(noise_n=0.1, speed=20)
    drifting.drift_n_per_s = 0.05
    look = ramphold(*check(drifting, "--seconds", 10, "--json")).json["check"]
    assert look["drift_n_per_min"] == pytest.approx(3.0, abs=5 * look["drift_uncertainty_n_per_min"])
    assert look["drift_uncertainty_n_per_min"] < 0.1


def test_true_rate_is_told_by_this_computer_s_clock(ramphold, sensor):
    # The sensor's own clock, which is slow, says 1000 Hz.
    look = ramphold(*check(sensor(speed=1.04), "--seconds", 3, "--json")).json["check"]
    assert look["nominal_rate_hz"] == 1000.0
    assert look["rate_hz"] == pytest.approx(1040.0, rel=0.005)
    assert abs(look["rate_hz"] - 1040.0) < 5 * look["rate_uncertainty_hz"] + 0.5


def test_lost_packets_are_counted_in_samples(ramphold, sensor):
    lossy = sensor(speed=10, skip={7, 8, 21})
    result = ramphold(*check(lossy, "--json"))
    assert result.json["check"]["lost"] == 3 * lossy.SAMPLES
    assert result.json["check"]["damaged"] == 0


def test_damaged_packets_are_counted(ramphold, device, tmp_path):
    device("packets-1k", np.zeros(60_000), "--corrupt-every", 10, link=tmp_path / "tty")
    look = ramphold("check", "packets-1k", "--port", tmp_path / "tty", "--seconds", 1, "--json").json["check"]
    assert look["damaged"] >= 10
    assert look["lost"] == pytest.approx(10 * look["damaged"], abs=10)


def test_text_lines_are_checked_too(ramphold, device, tmp_path):
    device("bridge-320", np.full(60_000, 2.0), link=tmp_path / "tty", speed=10)
    look = ramphold("check", "bridge-320", "--port", tmp_path / "tty", "--seconds", 1, "--json").json["check"]
    assert look["zero_n"] == pytest.approx(2.0, abs=1e-3)
    assert look["lost"] == 0


def test_table_says_it_in_words(ramphold, sensor):
    result = ramphold(*check(sensor(load_n=3.25, speed=10)))
    assert result.code == 0
    assert "+3.25 N against the calibration's" in result.out
    assert "0 of 50" in result.out
    assert "not known: look for longer" in result.out
    assert "not calibrated: newtons come from the nominal sensitivity" in result.out
    assert "leave it unloaded and still" in result.err


def test_zero_is_told_against_a_calibration(ramphold, sensor, tmp_path):
    path = tmp_path / "cell.toml"
    path.write_text("newtons_per_count = 0.0005\nzero_counts = 4200.0\nrated_force_n = 1000.0\n")
    look = ramphold(*check(sensor(load_n=3.0, speed=10), "--calibration", path, "--json")).json["check"]
    assert look["zero_n"] == pytest.approx((3.0 * 4200.0 - 4200.0) * 0.0005, abs=1e-3)


@pytest.fixture
def weighed(ramphold, sensor, hands):
    """Weigh 0, 5 and 10 kg on a sensor that is 7 % off its profile and 12 N off zero."""

    def weigh(*more, true=1.07, zero_n=12.0, gravity=G, noise_n=0.1):
        bench = sensor(speed=100, noise_n=noise_n, load_n=zero_n)
        loads = [zero_n + true * mass * gravity for mass in (0.0, 5.0, 10.0)]
        return ramphold(*check(bench, "--weights", "0,5,10", *more), stdin=hands(bench, loads))

    return weigh


def test_weights_make_a_calibration(weighed, tmp_path):
    path = tmp_path / "cell.toml"
    result = weighed("--save", path, "--serial", "LC-9", "--by", "X-4")
    assert result.code == 0
    made = load_calibration(path)
    assert 1.0 / made.newtons_per_count == pytest.approx(1.07 * 4200.0, rel=1e-3)
    assert made.zero_counts == pytest.approx(12.0 * 4200.0, rel=1e-3)
    assert [point.load_n for point in made.points] == pytest.approx([0.0, 5.0 * G, 10.0 * G])
    assert (made.serial, made.by, made.date) == ("LC-9", "X-4", datetime.now(UTC).date())
    assert made.rated_force_n == 1000.0
    assert tomllib.loads(path.read_text())["newtons_per_count"] == made.newtons_per_count
    assert made.statement(datetime.now(UTC).date()) in result.out.splitlines()
    for asked in ("take everything off", "hang 5 kg on the sensor", "hang 10 kg on the sensor"):
        assert asked in result.err
    assert f"calibration: {path}" in result.err


def test_residuals_are_printed_for_each_weight(weighed):
    result = weighed()
    rows = [line.split() for line in result.out.splitlines() if re.fullmatch(r"[-+.\d ]*\d", line)]
    assert [float(row[0]) for row in rows] == pytest.approx([0.0, 5.0 * G, 10.0 * G], abs=1e-3)
    assert all(len(row) == 4 for row in rows)
    assert all(abs(float(row[2])) < 0.1 for row in rows)


def test_calibration_in_json(weighed):
    result = weighed("--json")
    made = json.loads(result.out)["made"]
    assert 1.0 / made["newtons_per_count"] == pytest.approx(1.07 * 4200.0, rel=1e-3)
    assert made["gravity_m_per_s2"] == G
    for point in made["points"]:
        force = (point["counts"] - made["zero_counts"]) * made["newtons_per_count"]
        assert point["residual_n"] == pytest.approx(force - point["load_n"], abs=1e-9)
        assert point["residual_pct_of_rated"] == pytest.approx(point["residual_n"] / 10.0, abs=1e-9)


# Normal gravity on the GRS80 ellipsoid: Moritz 2000, Geodetic Reference System 1980, J. Geodesy 74, 128-133.
@pytest.mark.parametrize(("latitude", "gravity"), [(0, 9.7803267715), (45, 9.806199203), (-90, 9.8321863685)])
def test_latitude_gives_local_gravity(weighed, latitude, gravity):
    made = weighed("--latitude", latitude, "--json", gravity=gravity).json["made"]
    assert made["gravity_m_per_s2"] == pytest.approx(gravity, abs=1e-8)
    assert [point["load_n"] for point in made["points"]] == pytest.approx([0.0, 5.0 * gravity, 10.0 * gravity])
    assert 1.0 / made["newtons_per_count"] == pytest.approx(1.07 * 4200.0, rel=1e-3)


def test_height_lowers_gravity(weighed):
    # Free-air gradient 3.086e-6 1/s2: Torge and Mueller 2012, Geodesy, section 3.
    sea, high = (weighed("--latitude", 45, *more, "--json").json["made"] for more in ((), ("--height", 1600)))
    assert sea["gravity_m_per_s2"] - high["gravity_m_per_s2"] == pytest.approx(1600 * 3.086e-6, rel=0.002)


def test_gravity_can_be_told(weighed):
    assert weighed("--gravity", 9.79, "--json").json["made"]["gravity_m_per_s2"] == 9.79


def test_sensor_whose_counts_fall_is_calibrated_with_its_sign(ramphold, sensor, hands, tmp_path):
    text = SENSOR.read_text()
    (tmp_path / "falling.toml").write_text(text.replace("counts_per_newton = 4200.0", "counts_per_newton = -4200.0"))
    bench = sensor(speed=50)
    person = hands(bench, [0.0, -5.0 * G])
    result = ramphold(*check(bench, "--weights", "0,5", "--json", profile=tmp_path / "falling.toml"), stdin=person)
    assert result.code == 0
    assert 1.0 / result.json["made"]["newtons_per_count"] == pytest.approx(-4200.0, rel=1e-3)


def test_weights_that_never_hang_are_told(ramphold, sensor, hands, tmp_path):
    bench = sensor(speed=50, noise_n=0.5)
    person = hands(bench, [0.0, 0.0, 0.0])
    result = ramphold(*check(bench, "--weights", "0,5,10", "--save", tmp_path / "cell.toml"), stdin=person)
    assert result.code == 1
    assert result.out == ""
    assert "counts a newton where the profile packets-1k says 4.2e+03" in result.err.splitlines()[-1]
    assert not (tmp_path / "cell.toml").exists()


def test_weight_of_another_size_is_told(ramphold, sensor, hands):
    bench = sensor(speed=50)
    result = ramphold(*check(bench, "--weights", "0,5"), stdin=hands(bench, [0.0, 25.0 * G]))
    assert result.code == 1
    assert "check that each weight hung on the sensor" in result.err


def test_counts_that_do_not_move_at_all_are_told(ramphold, sensor, hands):
    bench = sensor(speed=50)
    result = ramphold(*check(bench, "--weights", "0,5"), stdin=hands(bench, [0.0, 0.0]))
    assert result.code == 1
    assert "the counts do not follow the load" in result.err


def test_swinging_weight_is_waited_for_and_then_told(ramphold, sensor, hands):
    bench = sensor(speed=100)
    bench.drift_n_per_s = 5.0
    result = ramphold(*check(bench, "--weights", "0,5"), stdin=hands(bench, [0.0]))
    assert result.code == 1
    assert "still moving by 5.0 N: waiting" in result.err
    assert "the load never hung still at 0 kg" in result.err.splitlines()[-1]


def test_end_of_input_is_told(ramphold, sensor, hands, tmp_path):
    bench = sensor(speed=50)
    person = hands(bench, [0.0], ends=True)
    result = ramphold(*check(bench, "--weights", "0,5", "--save", tmp_path / "cell.toml"), stdin=person)
    assert result.code == 1
    assert result.out == ""
    assert "the input ended before 5 kg was confirmed" in result.err
    assert not (tmp_path / "cell.toml").exists()


def test_sensor_that_falls_silent_ends_the_check(ramphold, sensor, tmp_path):
    (tmp_path / "short.toml").write_text("silent_after_s = 0.3\n" + SENSOR.read_text())
    bench = sensor()

    class Fainting(Hands):
        """The sensor falls silent while the weight is hung."""

        def readline(self):
            bench.silent = True
            return "\n"

    command = check(bench, "--weights", "0,5", profile=tmp_path / "short.toml")
    result = ramphold(*command, stdin=Fainting(bench, [], []))
    assert result.code == 1
    assert "came from the sensor within 0.3 s" in result.err


def test_sensor_that_is_unplugged_ends_the_check(ramphold, device, tmp_path):
    device("packets-1k", np.zeros(60_000), "--unplug-after", 3.0, link=tmp_path / "tty")
    result = ramphold("check", "packets-1k", "--port", tmp_path / "tty", "--seconds", 10)
    assert result.code == 1
    assert result.out == ""
    assert "was unplugged: plug it back in" in result.err


def test_simulated_sensor_needs_no_port(ramphold):
    look = ramphold("check", "simulated", "--seconds", 0.5, "--json").json["check"]
    assert abs(look["zero_n"]) < 0.2
    assert look["lost"] == 0
