"""A sensor that was found by itself, in plain words; what a technician wants to know is for the tooltip."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from acquire.links.ports import PortInfo
from ui.session.find_sensor import Rest, Seen
from ui.words.words import Words


def port_words(port: PortInfo, words: Words) -> str:
    """Return what a port is called in a list.

    Examples
    --------
    >>> port_words(PortInfo(device="/dev/ttyUSB0", description="Bridge", vid="0403", pid="6001"), Words("en"))
    'USB sensor on ttyUSB0'
    """
    return words("plan.found.usb" if port.vid else "plan.found.cable", port=Path(port.device).name)


def port_details(port: PortInfo) -> str:
    """Return the technical names of a port.

    Examples
    --------
    >>> port_details(PortInfo(device="/dev/ttyUSB0", description="Bridge", vid="0403", pid="6001"))
    '/dev/ttyUSB0, Bridge, USB 0403:6001'
    """
    usb = f"USB {port.vid}:{port.pid}" if port.vid and port.pid else ""
    own = "" if port.description == port.device else port.description
    return ", ".join(part for part in (port.device, own, usb) if part)


def seen_words(seen: Seen, ports: Sequence[PortInfo], words: Words) -> str:
    """Return what was found, and how it rests, in a sentence or two."""
    name = _called(seen, ports, words)
    if seen.trouble is not None:
        return words(f"trouble.{seen.trouble.reason.name.lower()}", port=seen.port, error=seen.trouble)
    if seen.profile is None:
        return words("plan.found.silent" if seen.silent else "plan.found.unknown", name=name)
    what = words("plan.found.is", name=name, rate=_rate(seen.rate_hz))
    rest = seen.at_rest
    if rest is None:
        return what
    return f"{what} {words(f'plan.found.{rest.rest.value}', noise=rest.noise_n, zero=abs(rest.zero_n))}"


def seen_details(seen: Seen, ports: Sequence[PortInfo]) -> str:
    """Return the technical names of what was found."""
    port = next((port for port in ports if port.device == seen.port), None)
    where = seen.port if port is None else port_details(port)
    if seen.profile is None:
        return where
    speed = f", {seen.profile.baud} bit/s" if seen.profile.link == "serial" else ""
    return f"{where}{speed}\n{seen.profile.name}: {seen.profile.title}"


def is_good(seen: Seen) -> bool:
    """Tell whether a sensor can be used as it is."""
    return seen.profile is not None and seen.at_rest is not None and seen.at_rest.rest is Rest.STILL


def _called(seen: Seen, ports: Sequence[PortInfo], words: Words) -> str:
    if seen.profile is not None and seen.profile.link == "bluetooth":
        return words("plan.found.bluetooth", name=seen.port)
    port = next((port for port in ports if port.device == seen.port), None)
    return port_words(port or PortInfo(device=seen.port, description=seen.port), words)


def _rate(rate_hz: float) -> int:
    """Return a rate as one says it: two digits, since arrivals tell no more in two seconds."""
    digits: int = 10 ** max(0, len(str(round(rate_hz))) - 2)
    return round(rate_hz / digits) * digits
