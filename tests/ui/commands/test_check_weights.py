"""The check of a sensor with known weights: they calibrate it, and trouble on the way leaves nothing."""

import json
import re
import subprocess
import tomllib
from datetime import UTC, datetime

import pytest
from checked import PROFILE, G, check

from acquire.sensor.calibration_file import load_calibration
from ui.words.calibration_text import calibration_sentence
from ui.words.words import ENGLISH


@pytest.fixture
def weighed(started, sensor):
    """Run a check in a process of its own, and hang what it asks for, but for what the test does differently."""

    def weigh(*more, masses, true=1.07, zero_n=12.0, noise_n=0.1, sign=1.0, instead=None, profile="packets-1k"):
        bench = sensor(speed=50, noise_n=noise_n, load_n=zero_n)
        program = started(
            *check(bench, "--weights", ",".join(f"{m:g}" for m in masses), *more, profile=profile),
            stdin=subprocess.PIPE,
        )
        for mass in sorted(set(masses) - {0.0}):
            program.err.until(f"Hang {mass:g} kg on the sensor.")
            bench.load_n = sign * (zero_n + true * (instead or {}).get(mass, mass) * G)
            if instead and mass in instead:
                yield program, bench
        yield program, bench

    return weigh


def ended(steps):
    """Return the result of a check that needs no more of anybody."""
    *_, (program, _) = steps
    return program.wait()


@pytest.mark.slow
def test_weights_make_a_calibration(weighed, tmp_path, kept):
    path = tmp_path / "cell.toml"
    result = ended(weighed("--save", path, "--serial", "LC-9", "--by", "X-4", masses=(0, 5, 10)))
    assert result.code == 0
    made = load_calibration(path)
    assert 1.0 / made.newtons_per_count == pytest.approx(1.07 * 4200.0, rel=1e-3)
    assert made.zero_counts == pytest.approx(12.0 * 4200.0, rel=1e-3)
    assert [point.load_n for point in made.points] == pytest.approx([0.0, 5.0 * G, 10.0 * G])
    assert (made.serial, made.by, made.date) == ("LC-9", "X-4", datetime.now(UTC).date())
    assert (made.rated_force_n, made.sensor) == (1000.0, "packets-1k")
    assert tomllib.loads(path.read_text())["newtons_per_count"] == made.newtons_per_count
    assert calibration_sentence(made, datetime.now(UTC).date(), ENGLISH) in result.out.splitlines()
    assert f"calibration: {path}" in result.err
    (check_,) = kept()
    assert (check_.sensor, check_.serial, check_.by, check_.invented) == ("packets-1k", "LC-9", "X-4", False)
    assert check_.made_calibration() == made
    rows = [line.split() for line in result.out.splitlines() if re.fullmatch(r"[-+.\d ]*\d", line)]
    assert [float(row[0]) for row in rows] == pytest.approx([0.0, 5.0 * G, 10.0 * G], abs=1e-3)
    assert all(len(row) == 4 and abs(float(row[2])) < 0.1 for row in rows)


def test_weights_in_a_silly_order_are_asked_for_in_a_good_one(weighed):
    result = ended(weighed("--json", masses=(20, 0, 5, 10, 5)))
    assert result.code == 0
    made = json.loads(result.out)["made"]
    assert [point["load_n"] for point in made["points"]] == pytest.approx([0.0, 5.0 * G, 10.0 * G, 20.0 * G])
    for point in made["points"]:
        force = (point["counts"] - made["zero_counts"]) * made["newtons_per_count"]
        assert point["residual_n"] == pytest.approx(force - point["load_n"], abs=1e-9)
        assert point["residual_pct_of_rated"] == pytest.approx(point["residual_n"] / 10.0, abs=1e-9)


def test_falling_counts_are_calibrated_with_their_sign(weighed, tmp_path):
    falling = tmp_path / "falling.toml"
    falling.write_text(PROFILE.replace("counts_per_newton = 4200.0", "counts_per_newton = -4200.0"))
    steps = weighed("--json", masses=(0, 5), true=1.0, zero_n=0.0, sign=-1.0, noise_n=0.0, profile=falling)
    assert 1.0 / json.loads(ended(steps).out)["made"]["newtons_per_count"] == pytest.approx(-4200.0, rel=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize("factor", [0.1, 10.0])
def test_first_weight_shows_a_sensitivity_that_nobody_knows(weighed, tmp_path, factor):
    unknown = tmp_path / "unknown.toml"
    guess = f'counts_per_newton = {4200.0 * factor}\nsensitivity = "unknown"'
    unknown.write_text(PROFILE.replace("counts_per_newton = 4200.0", guess))
    path = tmp_path / "cell.toml"
    steps = weighed("--save", path, masses=(0, 5, 10), true=1.0, zero_n=0.0, noise_n=0.02, profile=unknown)
    result = ended(steps)
    assert result.code == 0, result.err
    assert "looks like" not in result.err
    assert 1.0 / load_calibration(path).newtons_per_count == pytest.approx(4200.0, rel=2e-3)


@pytest.mark.slow
def test_wrong_weight_is_told_and_the_right_one_is_taken(weighed):
    steps = weighed("--json", masses=(0, 5, 10), true=1.0, zero_n=0.0, instead={10: 15})
    program, bench = next(steps)
    said = program.err.until("This looks like 15.0 kg: hang 10 kg.")
    assert "If that is what hangs there, press Enter." in said
    bench.load_n = 10.0 * G
    made = json.loads(program.wait().out)["made"]
    assert 1.0 / made["newtons_per_count"] == pytest.approx(4200.0, rel=1e-3)


@pytest.mark.slow
def test_enter_takes_a_weight_that_looks_wrong(weighed):
    # a sensor of another sensitivity than its profile says, by a half
    steps = weighed("--json", masses=(0, 5, 10), true=1.5, instead={5: 5})
    program, _ = next(steps)
    program.err.until("This looks like 7.5 kg: hang 5 kg.")
    program.process.stdin.write("\n")
    program.process.stdin.flush()
    made = json.loads(ended(steps).out)["made"]
    assert 1.0 / made["newtons_per_count"] == pytest.approx(1.5 * 4200.0, rel=1e-3)


@pytest.mark.slow
def test_sensor_far_from_its_profile_is_not_calibrated(weighed, tmp_path, kept):
    steps = weighed("--save", tmp_path / "cell.toml", masses=(0, 5), true=3.0, instead={5: 5})
    program, _ = next(steps)
    program.err.until("This looks like 15.0 kg")
    program.process.stdin.write("\n")
    program.process.stdin.flush()
    result = program.wait()
    assert result.code == 1
    assert result.out == ""
    assert "counts a newton where the profile packets-1k says 4.2e+03" in result.err.splitlines()[-1]
    assert not (tmp_path / "cell.toml").exists()
    assert kept() == []


@pytest.mark.slow
def test_sensor_that_is_unplugged_in_mid_check_leaves_nothing(started, tmp_path, own_state):
    (tmp_path / "cell.json").write_text('{"swing_pct": 0.0}')
    told = ("--profile", "packets-1k", "--cell", tmp_path / "cell.json", "--link", tmp_path / "tty", "--speed", 50)
    device = started(*told, "--unplug-after", 60, module="acquire.simulation", stdin=subprocess.PIPE)
    device.out.until(str(tmp_path / "tty"))
    program = started(
        *("check", "packets-1k", "--port", tmp_path / "tty", "--seconds", 1),
        *("--weights", "5,10", "--full", "--save", tmp_path / "out.toml"),
    )
    program.err.until("Hang 10 kg on the sensor.")
    result = program.wait()
    assert result.code == 1
    assert result.out == ""
    assert "was unplugged: plug it back in" in result.err.splitlines()[-1]
    assert not (tmp_path / "out.toml").exists()
    assert [path for path in own_state.rglob("*") if path.is_file()] == []


@pytest.mark.slow
def test_sensor_that_falls_silent_ends_the_check(started, sensor, tmp_path, kept):
    (tmp_path / "short.toml").write_text("silent_after_s = 0.3\n" + PROFILE)
    bench = sensor(speed=10)
    program = started(*check(bench, "--weights", "0,5", profile=tmp_path / "short.toml"))
    program.err.until("Hang 5 kg")
    bench.silent = True
    result = program.wait()
    assert result.code == 1
    assert "came from the sensor within 0.3 s" in result.err
    assert kept() == []


@pytest.mark.slow
def test_ctrl_c_leaves_nothing(started, sensor, kept):
    program = started(*check(sensor(), "--seconds", 60))
    program.err.until("Leave the sensor unloaded")
    program.press_ctrl_c()
    assert program.wait().code == 130
    assert kept() == []
