"""`ramphold sensors`: what is plugged in, and the profiles that are known."""

from __future__ import annotations

import argparse
import json

from acquire.links.ports import PortInfo, serial_ports
from acquire.profile import Profile, known_profiles
from ui.tables import text_table


def run(options: argparse.Namespace) -> int:
    """List ports and profiles."""
    ports, profiles = serial_ports(), known_profiles()
    if options.json:
        print(json.dumps(_as_json(ports, profiles), indent=1))
        return 0
    print("serial ports\n")
    if ports:
        print(text_table([(p.device, p.description, _usb(p)) for p in ports], ("port", "what it says it is", "USB")))
    else:
        print("none: plug the sensor in, and see that your account may open serial ports")
    print("\nprofiles\n")
    rows = [(p.name, p.link, p.framing, f"{p.rate_hz:g}", f"{p.rated_force_n:g}", p.title) for p in profiles]
    print(text_table(rows, ("profile", "link", "sends", "Hz", "rated N", "what it is")))
    print("\nTry one with: ramphold check PROFILE --port PORT")
    return 0


def _usb(port: PortInfo) -> str:
    return f"{port.vid}:{port.pid}" if port.vid and port.pid else "-"


def _as_json(ports: tuple[PortInfo, ...], profiles: tuple[Profile, ...]) -> dict[str, object]:
    return {
        "ports": [{"port": p.device, "description": p.description, "usb": _usb(p)} for p in ports],
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
