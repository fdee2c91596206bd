"""Which sensors are in radio range, and which of them is meant."""

from __future__ import annotations

import asyncio
import logging
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bleak import BleakScanner

from acquire.errors import LinkError, LinkFailure
from acquire.links.radio_errors import RADIO_ERRORS, radio_error

if TYPE_CHECKING:
    from bleak.backends.device import BLEDevice
    from bleak.backends.scanner import AdvertisementData

logging.getLogger("bleak").addHandler(logging.NullHandler())  # what it warns of is told by our errors

SCAN_S = 3.0
"""Sensors advertise every second or more often (common practice, no source)."""

ADDRESS = re.compile(r"([0-9A-Fa-f]{2}(:[0-9A-Fa-f]{2}){5}|[0-9A-Fa-f]{8}(-[0-9A-Fa-f]{4}){3}-[0-9A-Fa-f]{12})\Z")
"""Six bytes; on one system that hides them, a UUID in their place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RadioSensor:
    """Something that advertises itself by Bluetooth Low Energy."""

    name: str
    """As it calls itself; empty when it does not."""
    address: str
    signal_dbm: int
    """Received strength; -50 is near, -90 hardly there."""
    services: tuple[str, ...]
    """UUIDs, in small letters."""


def radio_sensors(seconds: float = SCAN_S) -> tuple[RadioSensor, ...]:
    """Listen for so long and return what was heard, the strongest first.

    Raises
    ------
    LinkError
        NO_RADIO, RADIO_OFF, NO_PERMISSION or FAILED.
    """
    try:
        heard = asyncio.run(_listen(seconds))
    except RADIO_ERRORS as error:
        raise radio_error(error, "Bluetooth") from error
    return tuple(sorted((_sensor(*pair) for pair in heard), key=lambda sensor: -sensor.signal_dbm))


async def _listen(seconds: float) -> list[tuple[BLEDevice, AdvertisementData]]:
    return list((await BleakScanner.discover(timeout=seconds, return_adv=True)).values())


async def find(wanted: str, service: str, seconds: float) -> tuple[BLEDevice, int]:
    """Return the sensor of a name or address, or the only one with a service, and its signal in dBm.

    Parameters
    ----------
    wanted : str
        Name or address; empty to go by the service.
    service : str
        UUID of the profile's service.
    seconds : float
        How long to look.

    Raises
    ------
    LinkError
        NOT_FOUND, also where several sensors have the service and none is named.
    """
    if wanted:
        return await _find_named(wanted, seconds)
    heard = [pair for pair in await _listen(seconds) if service.lower() in _sensor(*pair).services]
    if not heard:
        raise LinkError(
            f"no sensor with the service {service} is in reach: switch it on, bring it near, and see that no "
            "telephone or other program is connected to it",
            port=service,
            reason=LinkFailure.NOT_FOUND,
        )
    if len(heard) > 1:
        names = ", ".join(sorted(f"{device.name or '(no name)'} {device.address}" for device, _ in heard))
        raise LinkError(
            f"several sensors of this kind are in reach: say with --port which one, by name or address: {names}",
            port=service,
            reason=LinkFailure.NOT_FOUND,
        )
    device, said = heard[0]
    return device, said.rssi


async def _find_named(wanted: str, seconds: float) -> tuple[BLEDevice, int]:
    signal: dict[str, int] = {}

    def is_it(device: BLEDevice, said: AdvertisementData) -> bool:
        signal[device.address] = said.rssi
        if ADDRESS.match(wanted):
            return device.address.lower() == wanted.lower()
        return wanted in {said.local_name, device.name}

    device = await BleakScanner.find_device_by_filter(is_it, timeout=seconds)
    if device is None:
        raise LinkError(
            f"no sensor {wanted} is in reach: switch it on, bring it near, and see that no telephone or other "
            "program is connected to it",
            port=wanted,
            reason=LinkFailure.NOT_FOUND,
        )
    return device, signal[device.address]


def _sensor(device: BLEDevice, said: AdvertisementData) -> RadioSensor:
    return RadioSensor(
        name=said.local_name or device.name or "",
        address=device.address,
        signal_dbm=said.rssi,
        services=tuple(uuid.lower() for uuid in said.service_uuids),
    )
