"""`ramphold sensors`: what is plugged in or in Bluetooth range, and the profiles that are known."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from acquire.errors import LinkError
from acquire.links.ports import PortInfo, serial_ports
from acquire.sensor.profile import Profile, known_profiles
from ui.model.plan.bluetooth_profile import profiles_for, services_of_profiles
from ui.papers.tables import text_table
from ui.words.bluetooth_text import signal_text
from ui.words.words import Words

if TYPE_CHECKING:
    from acquire.links.bluetooth_search import BluetoothSensor


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What listening for Bluetooth sensors gave."""

    sensors: tuple[BluetoothSensor, ...] = ()
    trouble: str = ""
    """Why nothing could be heard; empty when listening worked."""


def run(options: argparse.Namespace) -> int:
    """List ports, Bluetooth sensors and profiles; with `--new`, look at a sensor that nobody has described."""
    if options.new:
        from ui.commands.new_sensor import run as run_new  # noqa: PLC0415 - brings numpy, and a list needs none

        return run_new(options)
    ports, profiles = serial_ports(), known_profiles()
    heard = listen(options.listen) if options.listen else Heard(trouble="not listened for")
    if options.json:
        print(json.dumps(_as_json(ports, heard, profiles), indent=1))
        return 0
    print("serial ports\n")
    if ports:
        print(text_table([(p.device, p.description, _usb(p)) for p in ports], ("port", "what it says it is", "USB")))
    else:
        print("none: plug the sensor in, and see that your account may open serial ports")
    print("\nBluetooth sensors\n")
    _show_heard(heard, profiles)
    print("\nprofiles\n")
    rows = [(p.name, p.link, p.framing, f"{p.rate_hz:g}", f"{p.rated_force_n:g}", p.title) for p in profiles]
    print(text_table(rows, ("profile", "link", "sends", "Hz", "rated N", "what it is")))
    print("\nTry one with: ramphold check PROFILE --port PORT")
    print("A sensor that is none of these: ramphold sensors --new --port PORT")
    return 0


def listen(seconds: float) -> Heard:
    """Listen for Bluetooth sensors; what keeps it from that is told, not raised."""
    from acquire.links.bluetooth_search import bluetooth_sensors  # noqa: PLC0415 - only needed here, and slow to import

    print(f"listening for Bluetooth sensors for {seconds:g} s", file=sys.stderr)
    try:
        return Heard(sensors=bluetooth_sensors(seconds, services=services_of_profiles()))
    except LinkError as error:
        return Heard(trouble=str(error))


def _show_heard(heard: Heard, profiles: Sequence[Profile]) -> None:
    if heard.sensors:
        words = Words()
        rows = [
            (s.name or "(no name)", s.address, signal_text(s.signal_dbm, words), _fitting(s, profiles))
            for s in heard.sensors
        ]
        print(text_table(rows, ("name", "address", "reception", "profile")))
    else:
        print(heard.trouble or "none in range: switch the sensor on and bring it near")


def _fitting(sensor: BluetoothSensor, profiles: Sequence[Profile]) -> str:
    return " or ".join(profile.name for profile in profiles_for(sensor, profiles)) or "-"


def _usb(port: PortInfo) -> str:
    return f"{port.vid}:{port.pid}" if port.vid and port.pid else "-"


def _as_json(ports: tuple[PortInfo, ...], heard: Heard, profiles: tuple[Profile, ...]) -> dict[str, object]:
    return {
        "ports": [{"port": p.device, "description": p.description, "usb": _usb(p)} for p in ports],
        "radio": [{**asdict(s), "profiles": [p.name for p in profiles_for(s, profiles)]} for s in heard.sensors],
        "radio_trouble": heard.trouble,
        "profiles": [
            {
                "name": p.name,
                "title": p.title,
                "link": p.link,
                "framing": p.framing,
                "rate_hz": p.rate_hz,
                "rated_force_n": p.rated_force_n,
            }
            for p in profiles
        ],
    }
