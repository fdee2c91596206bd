"""What a connected Bluetooth sensor offers, the characteristics of its profile, its battery level, and disconnection.

Bluetooth calls a value that a sensor offers a characteristic; it belongs to a service, and both have UUIDs.
"""

from __future__ import annotations

import asyncio
import contextlib
from typing import TYPE_CHECKING

from acquire.links.bluetooth_errors import BLUETOOTH_ERRORS, wrong_profile

if TYPE_CHECKING:
    from bleak import BleakClient
    from bleak.backends.characteristic import BleakGATTCharacteristic

    from acquire.sensor.profile import Profile

BATTERY_LEVEL = "00002a19-0000-1000-8000-00805f9b34fb"
"""Bluetooth SIG, Assigned Numbers: characteristic Battery Level 0x2A19 of the Battery Service 0x180F, in per cent."""
HIGHEST_LEVEL = 100
"""Battery Service 1.0, section 3.1: 0 to 100; all others are reserved."""
CONNECT_S = 10.0
ANSWER_S = 2.0
"""How long a sensor may take to answer."""
LET_GO_S = 3.0

NOTIFIES = {"notify", "indicate"}
TAKES = {"write", "write-without-response"}


def samples_of(client: BleakClient, profile: Profile, port: str) -> BleakGATTCharacteristic:
    """Return the characteristic that notifies the samples.

    Raises
    ------
    LinkError
        FAILED, if the sensor is not as its profile says.
    """
    found = _named(client, profile.service, profile.characteristic, port)
    if not NOTIFIES & set(found.properties):
        raise wrong_profile(port, f"its characteristic {found.uuid} does not notify")
    return found


def commands_of(client: BleakClient, profile: Profile, port: str) -> BleakGATTCharacteristic | None:
    """Return the characteristic that commands are written to; None where it takes none and the profile has none.

    Raises
    ------
    LinkError
        FAILED, if the sensor is not as its profile says.
    """
    found = _named(client, profile.service, profile.command_characteristic or profile.characteristic, port)
    if TAKES & set(found.properties):
        return found
    if profile.start or profile.stop or profile.zero:
        raise wrong_profile(port, f"its characteristic {found.uuid} takes no commands")
    return None


async def battery_pct(client: BleakClient) -> int | None:
    """Return the battery level in per cent, None where the sensor does not tell."""
    try:
        if client.services.get_characteristic(BATTERY_LEVEL) is None:
            return None
        async with asyncio.timeout(ANSWER_S):
            value = await client.read_gatt_char(BATTERY_LEVEL)
    except BLUETOOTH_ERRORS:
        return None
    return value[0] if value and value[0] <= HIGHEST_LEVEL else None


async def let_go(client: BleakClient) -> None:
    """Disconnect, whatever state the connection is in; the error of a service that died is of no use now."""
    with contextlib.suppress(*BLUETOOTH_ERRORS):
        async with asyncio.timeout(LET_GO_S):
            await client.disconnect()


def _named(client: BleakClient, service: str, characteristic: str, port: str) -> BleakGATTCharacteristic:
    holder = client.services.get_service(service)
    if holder is None:
        raise wrong_profile(port, f"it has no service {service}")
    found = holder.get_characteristic(characteristic)
    if found is None:
        raise wrong_profile(port, f"its service has no characteristic {characteristic}")
    return found
