"""Bluetooth sensors as a user chooses them."""

import pytest
from grip import ADDRESS, LINES, NAME, OTHER_ADDRESS, PACKETS

from acquire.links.base import BluetoothState
from acquire.links.bluetooth_search import BluetoothSensor
from acquire.sensor.profile import known_profiles, load_profile
from ui.model.plan.bluetooth_profile import (
    called,
    profiles_for,
    sensor_for,
    services_of_profiles,
    titled,
    worth_showing,
)
from ui.words.bluetooth_text import bluetooth_text, signal_text
from ui.words.words import Words, languages


def heard(name=NAME, address=ADDRESS, services=(PACKETS.service,)):
    return BluetoothSensor(name=name, address=address, signal_dbm=-61, services=services)


def test_every_profile_of_its_service_fits():
    board = load_profile("board-radio-lines")
    fitting = profiles_for(heard(services=(board.service,)), known_profiles())
    assert [profile.name for profile in fitting] == ["board-radio-lines", "board-radio-packets"]
    assert profiles_for(heard(services=()), known_profiles()) == ()


def test_service_is_compared_without_regard_to_case(tmp_path):
    file = tmp_path / "own.toml"
    file.write_text(own("5A1C7E0D-2F7B-4C5E-9A51-0D8F3B6C2E11"))
    assert sensor_for(heard(services=("5a1c7e0d-2f7b-4c5e-9a51-0d8f3b6c2e11",)), str(file)) == str(file)


def own(service):
    return (
        f'name = "own"\ntitle = "mine"\nlink = "bluetooth"\nservice = "{service}"\n'
        f'characteristic = "{PACKETS.characteristic}"\nframing = "packets"\nrate_hz = 80\nrated_force_n = 500\n'
        "counts_per_newton = 1\n"
    )


@pytest.mark.parametrize(
    ("chosen", "taken"),
    [
        ("", "board-radio-lines"),
        ("bridge-80", "board-radio-lines"),
        ("board-radio-packets", "board-radio-packets"),
        ("no such profile", "board-radio-lines"),
    ],
)
def test_chosen_profile_stays_where_it_fits(chosen, taken):
    assert sensor_for(heard(services=(load_profile("board-radio-lines").service,)), chosen) == taken


def test_no_profile_fits_an_unknown_service():
    assert sensor_for(heard(services=("00001809-0000-1000-8000-00805f9b34fb",)), "ble-packets") == ""


def test_services_of_all_profiles_and_of_a_file_that_is_chosen(tmp_path):
    file = tmp_path / "own.toml"
    file.write_text(own("5A1C7E0D-2F7B-4C5E-9A51-0D8F3B6C2E11"))
    known = services_of_profiles()
    assert {PACKETS.service, LINES.service} <= set(known)
    assert len(known) == len(set(known)), "two profiles of one service count once"
    assert services_of_profiles(str(file)) == (*known, "5a1c7e0d-2f7b-4c5e-9a51-0d8f3b6c2e11")


def test_sensor_is_called_by_its_name_unless_it_has_none_or_shares_it():
    alone, twin, nameless = heard(), heard(address=OTHER_ADDRESS), heard(name="")
    assert called(alone, [alone, nameless]) == NAME
    assert called(twin, [alone, twin]) == OTHER_ADDRESS
    assert called(nameless, [alone, nameless]) == ADDRESS
    assert titled(alone, [alone, nameless]) == NAME
    assert titled(twin, [alone, twin]) == f"{NAME} ({OTHER_ADDRESS})"
    assert titled(nameless, [alone, nameless]) == ADDRESS


def test_known_kinds_come_first_and_nameless_strangers_are_left_out():
    lamp = heard(name="Lamp", services=())
    watch = heard(name="", address=OTHER_ADDRESS, services=())
    grip = heard(name="")
    assert worth_showing([lamp, watch, grip], services_of_profiles()) == (grip, lamp)


@pytest.mark.parametrize(
    ("dbm", "word"), [(-50, "good"), (-70, "good"), (-71, "fair"), (-85, "fair"), (-86, "weak"), (-110, "weak")]
)
def test_signal_is_said_in_a_word_and_in_dbm(dbm, word):
    assert signal_text(dbm, Words()) == f"signal {word} ({dbm} dBm)"


@pytest.mark.parametrize(
    ("state", "text"),
    [
        (None, ""),
        (BluetoothState(signal_dbm=-60, battery_pct=None), "signal good (-60 dBm)"),
        (BluetoothState(signal_dbm=None, battery_pct=16), "battery charge 16 %"),
        (BluetoothState(signal_dbm=None, battery_pct=15), "battery charge 15 %: charge it"),
        (BluetoothState(signal_dbm=None, battery_pct=None), ""),
    ],
)
def test_what_is_not_known_is_not_said(state, text):
    assert bluetooth_text(state, Words()) == text


@pytest.mark.parametrize("language", languages())
def test_signal_and_battery_have_words_in_each_language(language):
    assert bluetooth_text(BluetoothState(signal_dbm=-60, battery_pct=9), Words(language)).count("9 %") == 1
