"""Which sensors are in Bluetooth range, and which of them is meant.

A sensor is heard by what it advertises. One that is connected advertises nothing, and a connection can outlive the
program that made it: on Linux it stays when that program is killed. So where nothing is heard, the sensors that this
computer is connected to are looked through too.
"""

from __future__ import annotations

import asyncio
import contextlib
import difflib
import logging
import re
from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bleak import BleakAdapter, BleakScanner

from acquire.errors import LinkDetail, LinkError, LinkFailure
from acquire.links.bluetooth_errors import bluetooth_error, not_found
from acquire.values.outside_text import visible

if TYPE_CHECKING:
    from bleak.backends.device import BLEDevice
    from bleak.backends.scanner import AdvertisementData

logging.getLogger("bleak").addHandler(logging.NullHandler())  # what it warns of is told by our errors

SCAN_S = 3.0
"""Sensors advertise every second or more often (common practice, no source)."""
NAMESAKES_SHARE = 1 / 3
"""Once a sensor is heard, it is listened on for this share of the search: another may be called the same."""

ADDRESS = re.compile(r"([0-9A-Fa-f]{2}(:[0-9A-Fa-f]{2}){5}|[0-9A-Fa-f]{8}(-[0-9A-Fa-f]{4}){3}-[0-9A-Fa-f]{12})\Z")
"""Six bytes; on one system that hides them, a UUID in their place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BluetoothSensor:
    """Something that advertises itself by Bluetooth Low Energy, or is connected by it."""

    name: str
    """As it calls itself; empty when it does not."""
    address: str
    signal_dbm: int | None
    """Received strength; -50 is near, -90 hardly there. None when it is connected, and so advertises nothing."""
    services: tuple[str, ...]
    """UUIDs, in small letters."""


Heard = dict[str, tuple["BLEDevice", BluetoothSensor]]
"""What was heard, by address."""


def bluetooth_sensors(seconds: float = SCAN_S, *, services: Collection[str] = ()) -> tuple[BluetoothSensor, ...]:
    """Listen for so long and return what was heard, the strongest first.

    Parameters
    ----------
    seconds : float
        How long to listen.
    services : collection of str
        UUIDs: of the sensors that are connected already, those with one of these are returned too, last.

    Raises
    ------
    LinkError
        NO_BLUETOOTH, BLUETOOTH_OFF, NO_PERMISSION or FAILED.
    """
    try:
        heard = asyncio.run(_listen(seconds, services))
    except Exception as error:  # the one place for any: a list of sensors ends in no traceback, whatever bleak raises
        raise bluetooth_error(error, "Bluetooth") from error
    return tuple(sorted((sensor for _, sensor in heard.values()), key=_weakness))


def _weakness(sensor: BluetoothSensor) -> float:
    return float("inf") if sensor.signal_dbm is None else -sensor.signal_dbm


async def _listen(seconds: float, services: Collection[str]) -> Heard:
    pairs = (await BleakScanner.discover(timeout=seconds, return_adv=True)).values()
    heard = {device.address: (device, _sensor(device, said)) for device, said in pairs}
    return {**await _connected(services), **heard} if services else heard


async def find(wanted: str, service: str, seconds: float) -> tuple[BLEDevice, int | None]:
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
        NOT_FOUND, also where a name or a service fits several sensors.
    """
    fits = _by(wanted, service)
    by_address = ADDRESS.match(wanted) is not None
    found, names = await _search(fits, seconds, linger_s=0.0 if by_address else NAMESAKES_SHARE * seconds)
    found = found or {address: pair for address, pair in (await _connected([service])).items() if fits(pair[1])}
    if not found:
        raise not_found(wanted or f"with the service {service}", close=_meant(wanted, names))
    if len(found) > 1:
        raise _ambiguous(wanted, service, found)
    device, sensor = next(iter(found.values()))
    return device, sensor.signal_dbm


def _by(wanted: str, service: str) -> Callable[[BluetoothSensor], bool]:
    """Return the test for the sensor that is wanted."""
    if ADDRESS.match(wanted):
        return lambda sensor: sensor.address.lower() == wanted.lower()
    if wanted:
        return lambda sensor: sensor.name == wanted
    return lambda sensor: service.lower() in sensor.services


async def _search(
    fits: Callable[[BluetoothSensor], bool], seconds: float, *, linger_s: float
) -> tuple[Heard, frozenset[str]]:
    """Listen until something fits, and a little longer; return all that fits, and all names that were heard."""
    found: Heard = {}
    names: set[str] = set()
    first = asyncio.Event()

    def on_advertisement(device: BLEDevice, data: AdvertisementData) -> None:
        sensor = _sensor(device, data)
        names.add(sensor.name)
        if fits(sensor):
            found[device.address] = device, sensor
            first.set()

    async with BleakScanner(on_advertisement):
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(first.wait(), seconds)
            await asyncio.sleep(linger_s)
    return found, frozenset(names)


async def _connected(services: Collection[str]) -> Heard:
    """Return what this computer is connected to and has one of the services."""
    adapter = await BleakAdapter.get()
    found: Heard = {}
    for service in filter(None, services):
        for device in await adapter.get_connected_devices([service]):
            known = found[device.address][1].services if device.address in found else ()
            found[device.address] = device, _sensor(device, None, (*known, service.lower()))
    return found


def _sensor(device: BLEDevice, said: AdvertisementData | None, services: tuple[str, ...] = ()) -> BluetoothSensor:
    return BluetoothSensor(
        name=visible((said and said.local_name) or device.name or ""),
        address=device.address,
        signal_dbm=said.rssi if said else None,
        services=tuple(uuid.lower() for uuid in said.service_uuids) if said else services,
    )


def _meant(wanted: str, names: Collection[str]) -> str | None:
    return next(iter(difflib.get_close_matches(wanted, names, n=1)), None)


def _ambiguous(wanted: str, service: str, found: Heard) -> LinkError:
    names = ", ".join(sorted(f"{sensor.name or '(no name)'} {sensor.address}" for _, sensor in found.values()))
    many = f"several sensors are called {wanted}" if wanted else "several sensors of this kind are in range"
    which = "by address" if wanted else "by name or address"
    return LinkError(
        f"{many}: say with --port which one, {which}: {names}",
        port=wanted or service,
        reason=LinkFailure.NOT_FOUND,
        detail=LinkDetail.SEVERAL,
        names=names,
    )
