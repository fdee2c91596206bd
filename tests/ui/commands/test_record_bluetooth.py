"""A session over Bluetooth on the command line: drops, a killed program, a hardware zero."""

import threading

import pytest
from grip import NAME, PACKETS, effort_counts, grip, packets

from acquire.simulation.pty import PseudoTerminal
from acquire.storage.session_file import read_session
from acquire.values.remarks import TrialEnd
from ui.session import open_sensor as opening

pytestmark = pytest.mark.slow

FAST_S = 0.002
"""Ten times as fast as the sensor's own clock says."""


@pytest.fixture
def sensor(air):
    return air.bluez.add(grip(battery=bytes([81])))


@pytest.fixture
def command(tmp_path):
    return "record", "--sensor", "ble-packets", "--port", NAME, "--out", tmp_path / "session.h5"


def stored(command):
    return read_session(command[-1]).trials


def play(air, sensor, *, part=1.0, sequence=0):
    """Let somebody push on the sensor once, or so much of it."""
    whole = packets(effort_counts(), sequence=sequence)
    air.bluez.play(sensor, whole[: round(part * len(whole))], period_s=FAST_S).result(60)
    return len(whole)


def test_signal_and_battery_are_said_and_a_trial_is_recorded(ramphold, air, sensor, command):
    air.bluez.when_listened_to(sensor, packets(effort_counts()), FAST_S)
    result = ramphold(*command, "--count", 1)
    assert result.code == 0, result.err
    assert f"looking for {NAME}" in result.err
    assert f"{NAME}: signal good (-61 dBm), battery charge 81 %" in result.out
    assert len(stored(command)) == 1
    assert not sensor.connected


def test_drop_in_mid_trial_is_told_and_the_session_goes_on(started, air, sensor, command):
    program = started(*command, "--count", 1)
    program.out.until("now:")
    done = play(air, sensor, part=0.5)
    air.bluez.drop(sensor)
    program.out.until(
        f"the Bluetooth link to {NAME} broke: bring it near and check its battery; what was recorded is saved"
    )
    program.out.until("the sensor is back; recording goes on")
    play(air, sensor, sequence=done + 500)
    result = program.wait()
    assert result.code == 0, result.err
    broken, good = stored(command)
    assert (broken.damage, good.damage) == ((TrialEnd.LINK_LOST,), ())


def test_same_command_after_kill_9_finds_the_sensor_that_stayed_connected(started, air, sensor, command):
    program = started(*command, "--count", 1)
    program.out.until("now:")
    done = play(air, sensor, part=0.5)
    program.kill()
    program.wait()
    assert sensor.connected, "as with the real service"
    again = started(*command, "--count", 1)
    assert "recovered 1 trial" in again.out.until("recovered")
    again.out.until("now:")
    play(air, sensor, sequence=done + 500)
    result = again.wait()
    assert result.code == 0, result.err
    assert [len(trial.damage) for trial in stored(command)] == [1, 0]


def test_ctrl_c_while_the_sensor_is_connected_to_lets_go_of_it(started, air, sensor, command):
    sensor.connect_s = 60.0
    program = started(*command)
    air.bluez.wait_for_connect(sensor)
    program.press_ctrl_c()
    assert program.wait().code != 0
    sensor.connect_s = 0.0
    assert not sensor.connected


# the zero of the sensor itself


ZERO = """
name = "own"
title = "a sensor with a zero of its own"
framing = "packets"
rate_hz = 500
rated_force_n = 1000
counts_per_newton = 4200
tick_hz = 32768
zero = "tare\\n"
"""


@pytest.fixture
def quick(monkeypatch):
    monkeypatch.setattr(opening, "ZERO_S", 0.05)


def test_bluetooth_sensor_takes_its_own_zero_before_the_recording(ramphold, air, command, tmp_path, quick):  # noqa: ARG001
    radio = f'link = "bluetooth"\nservice = "{PACKETS.service}"\ncharacteristic = "{PACKETS.characteristic}"\n'
    (tmp_path / "own.toml").write_text(ZERO + radio)
    peer = air.bluez.add(grip())
    air.bluez.when_listened_to(peer, packets(effort_counts()), FAST_S)
    changed = [tmp_path / "own.toml" if part == "ble-packets" else part for part in command]
    result = ramphold(*changed, "--zero", "--count", 1)
    assert result.code == 0, result.err
    assert "the sensor takes its own zero: leave it unloaded and still" in result.err
    assert peer.written == [b"tare\n"]


def test_sensor_by_cable_takes_its_own_zero_before_the_check(ramphold, tmp_path, quick):  # noqa: ARG001
    (tmp_path / "own.toml").write_text(ZERO + "silent_after_s = 0.2\n")
    with PseudoTerminal() as terminal:
        heard = []
        listening = threading.Thread(target=lambda: heard.append(_read_until(terminal, b"tare\n")))
        listening.start()
        result = ramphold("check", tmp_path / "own.toml", "--port", terminal.port, "--zero")
        listening.join(20)
    assert result.code == 1, "it never sent a sample"
    assert heard == [b"tare\n"]


def _read_until(terminal, end):
    data = b""
    for _ in range(10_000):
        data += terminal.read()
        if data.endswith(end):
            break
        threading.Event().wait(0.001)
    return data


@pytest.mark.parametrize("command", [("record", "--out", "x.h5", "--sensor"), ("check",)], ids=" ".join)
def test_profile_without_a_command_for_a_zero_is_told(ramphold, command):
    for sensor in ("ble-packets", "simulated"):
        result = ramphold(*command, sensor, "--zero")
        assert result.code == 1
        assert f"the profile {sensor} has no command for a zero of the sensor's own: leave out --zero" in result.err
