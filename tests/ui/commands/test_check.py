"""The check of a sensor: what it says is what the sensor did, held to its limits; each check is kept."""

import re

import numpy as np
import pytest
from checked import check, limits

from acquire.simulation.cell import Cell


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
    assert look["drift_n_per_min"] == pytest.approx(3.0, abs=3 * look["drift_uncertainty_n_per_min"])
    assert look["drift_uncertainty_n_per_min"] < 0.1


@pytest.mark.slow
def test_true_rate_is_told_by_this_computer_s_clock(ramphold, sensor):
    # The sensor's own clock, which is slow, says 1000 Hz.
    result = ramphold(*check(sensor(speed=1.04), "--seconds", 3, "--json"))
    look = result.json["check"]
    assert look["nominal_rate_hz"] == 1000.0
    assert look["rate_hz"] == pytest.approx(1040.0, rel=0.005)
    assert abs(look["rate_hz"] - 1040.0) < 3 * look["rate_uncertainty_hz"] + 0.5
    (rate,) = [finding for finding in result.json["findings"] if finding["code"] == "rate"]
    assert rate["status"] == "warn"
    assert "put the true rate into the sensor's profile" in rate["text"]


def test_lost_packets_are_counted_in_samples(ramphold, sensor):
    lossy = sensor(speed=10, skip={7, 8, 21})
    result = ramphold(*check(lossy, "--json"))
    assert result.json["check"]["lost"] == 3 * lossy.SAMPLES
    assert result.json["check"]["damaged"] == 0
    assert result.json["verdict"] == "fail"


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
    assert re.search(r"zero, from the calibration's +\+3\.250 +\+0\.325", result.out)
    assert re.search(r"^0 of \d+ samples lost, 0 damaged data packets$", result.out, re.MULTILINE)
    assert "sample rate not known: look for longer" in result.out
    assert "not calibrated: newtons come from the nominal sensitivity" in result.out
    assert "The zero is +3.25 N (+0.33 %) from the calibration's, within 2 %." in result.out
    assert "Leave the sensor unloaded and still." in result.err


def test_zero_is_told_against_a_calibration(ramphold, sensor, tmp_path):
    path = tmp_path / "cell.toml"
    path.write_text("newtons_per_count = 0.0005\nzero_counts = 4200.0\nrated_force_n = 1000.0\n")
    look = ramphold(*check(sensor(load_n=3.0, speed=10), "--calibration", path, "--json")).json["check"]
    assert look["zero_n"] == pytest.approx((3.0 * 4200.0 - 4200.0) * 0.0005, abs=1e-3)


def test_short_look_does_not_pretend(ramphold, sensor):
    result = ramphold(*check(sensor(noise_n=0.5, speed=10)))
    assert result.code == 0
    assert re.search(r"! warn +The drift is only known to \S+ % a minute: look for longer", result.out)


# limits


def test_own_limits_judge(simulated, tmp_path):
    mine = limits(
        tmp_path, ("warn-pct = 2.0\nfail-pct = 10.0", "warn-pct = 0.05\nfail-pct = 0.1"), ("hand-held", "strict")
    )
    result = simulated(*mine, "--json", cell=Cell(zero_n=1.5))
    assert result.json["limits"]["name"] == "strict"
    assert {f["code"]: f["status"] for f in result.json["findings"]}["zero"] == "fail"


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (("[creep]", "[crep]"), r"mine\.toml: .*unknown field `crep`"),
        (("runs = 2 ", "runs = 0 "), r"mine\.toml: key procedure: runs must be at least 1, got 0"),
        (("version = 1", "version ="), r"mine\.toml: is not valid TOML"),
    ],
)
def test_wrong_limits_are_told_before_the_sensor_is_opened(ramphold, tmp_path, change, sentence):
    result = ramphold("check", "packets-1k", "--port", "/nowhere", *limits(tmp_path, change))
    assert (result.code, result.out) == (1, "")
    assert re.search(sentence, result.err)


def test_limits_that_are_not_there_are_told(ramphold):
    result = ramphold("check", "simulated", "--limits", "soft")
    assert result.code == 1
    assert "there is no file of limits called soft and no such file; the program comes with: hand-held" in result.err


# what was kept


def test_zero_that_moved_since_the_last_check_is_told(simulated, kept):
    simulated(cell=Cell(zero_n=1.0))
    result = simulated("--json", cell=Cell(zero_n=9.0))
    assert len(kept()) == 2
    (moved,) = [finding for finding in result.json["findings"] if finding["code"] == "zero-moved"]
    assert (moved["status"], moved["measured_n"]) == ("warn", pytest.approx(8.0, abs=0.01))
    assert "was it dropped or overloaded?" in moved["text"]


@pytest.mark.slow
def test_calibration_in_use_is_held_against_the_weights(simulated, tmp_path):
    path = tmp_path / "cell.toml"
    simulated("--weights", "5,10,20", "--save", path, "--serial", "A", cell=Cell())
    result = simulated("--weights", "5,10,20", "--calibration", path, "--json", cell=Cell(sensitivity_pct=1.0))
    found = {finding["code"]: finding for finding in result.json["findings"]}
    assert found["sensitivity"]["measured_pct"] == pytest.approx(1.0, abs=0.02)
    # the serial number of the calibration says whose check it is
    assert result.json["serial"] == "A"
    assert found["sensitivity-moved"]["measured_pct"] == pytest.approx(1.0, abs=0.02)
    assert found["sensitivity-moved"]["status"] == "warn"


@pytest.mark.slow
def test_history_is_a_table_and_a_picture(simulated, ramphold, own_state, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    simulated("--by", "X-1", cell=Cell(zero_n=1.0), seconds=0.5)
    simulated("--weights", "5,20", cell=Cell(zero_n=30.0), seconds=0.5)
    broken = own_state / "checks" / "simulated" / "2020-01-01T000000.000000Z.json"
    broken.write_text("{")
    result = ramphold("check", "simulated", "--history")
    assert result.code == 0
    lines = result.out.splitlines()
    assert [line.split()[2] for line in lines if re.match(r"\d{4}-", line)] == ["X-1", "-"]
    assert "zero, " in lines[-2]
    assert (tmp_path / "simulated-checks.png").read_bytes().startswith(b"\x89PNG")
    assert "picture: simulated-checks.png" in result.err
    assert f"{broken} cannot be read and is left out" in result.err
    listed = ramphold("check", "simulated", "--history", "--picture", tmp_path / "p.png", "--json").json
    assert [each["counts_per_newton"] is None for each in listed["checks"]] == [True, False]
    assert (tmp_path / "p.png").exists()


@pytest.mark.slow
def test_history_of_another_sensor_is_its_own(simulated, ramphold, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    simulated("--serial", "A/1", cell=Cell(), seconds=0.5)
    simulated("--serial", "A-1", cell=Cell(), seconds=0.5)
    assert len(ramphold("check", "simulated", "--history", "--serial", "A/1", "--json").json["checks"]) == 1
    nobody = ramphold("check", "simulated", "--history")
    assert nobody.code == 1
    assert "there is no check of simulated without a serial number; name one with --serial: A-1, A/1" in nobody.err
    other = ramphold("check", "packets-1k", "--history")
    assert "there is no check of packets-1k yet: make one with 'ramphold check packets-1k'" in other.err


def test_check_that_cannot_be_kept_is_told(simulated, own_state):
    own_state.parent.mkdir(parents=True)
    own_state.write_text("in the way")
    result = simulated(cell=Cell())
    assert result.code == 1
    assert "the check cannot be kept" in result.err
