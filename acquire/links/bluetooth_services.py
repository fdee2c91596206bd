"""What a Bluetooth sensor offers: the characteristics that notify, before anybody knows which one holds the samples."""

from __future__ import annotations

import asyncio
from typing import NamedTuple

from bleak import BleakClient

from acquire.errors import LinkDetail, LinkError, LinkFailure
from acquire.links.bluetooth_errors import BLUETOOTH_ERRORS, bluetooth_error
from acquire.links.bluetooth_search import SCAN_S, find
from acquire.links.gatt import BATTERY_LEVEL, CONNECT_S, NOTIFIES, let_go

SERVICE_CHANGED = "00002a05-0000-1000-8000-00805f9b34fb"
"""Bluetooth SIG, Assigned Numbers: it indicates, and holds no samples."""
NO_SAMPLES = {BATTERY_LEVEL, SERVICE_CHANGED}


class Notifier(NamedTuple):
    """A characteristic that notifies, and its service, as UUIDs in small letters."""

    service: str
    characteristic: str


def notifiers(wanted: str, *, search_s: float = SCAN_S) -> tuple[Notifier, ...]:
    """Return the characteristics of a Bluetooth sensor that notify and may hold samples.

    Parameters
    ----------
    wanted : str
        Its name or address.
    search_s : float
        How long to look for it.

    Raises
    ------
    LinkError
        NO_BLUETOOTH, BLUETOOTH_OFF, NO_PERMISSION, NOT_FOUND, BUSY or FAILED; FAILED also where nothing notifies.
    """
    try:
        found = asyncio.run(_notifiers(wanted, search_s))
    except BLUETOOTH_ERRORS as error:
        raise bluetooth_error(error, wanted) from error
    if not found:
        raise LinkError(
            f"{wanted} notifies nothing, so it is no sensor that sends by itself: choose another one",
            port=wanted,
            reason=LinkFailure.FAILED,
            detail=LinkDetail.SENDS_NOTHING,
        )
    return found


async def _notifiers(wanted: str, search_s: float) -> tuple[Notifier, ...]:
    async with asyncio.timeout(search_s + CONNECT_S):
        device, _ = await find(wanted, "", search_s)
        client = BleakClient(device, timeout=CONNECT_S)
        try:
            await client.connect()
            return tuple(
                Notifier(service.uuid.lower(), characteristic.uuid.lower())
                for service in client.services
                for characteristic in service.characteristics
                if NOTIFIES & set(characteristic.properties) and characteristic.uuid.lower() not in NO_SAMPLES
            )
        finally:
            await let_go(client)
