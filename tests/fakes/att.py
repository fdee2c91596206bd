"""A sensor whose every byte goes as real ATT packets over bumble's virtual link, behind the service of `bluez`.

The program and bleak see the same `org.bluez`; below it a bumble central connects to a bumble peripheral: HCI, L2CAP,
exchange of the packet size, discovery of services, subscription, notifications.
"""

import asyncio

from bumble.controller import Controller
from bumble.device import Device, Peer
from bumble.gatt import Characteristic, CharacteristicValue, Service
from bumble.hci import Address
from bumble.host import Host
from bumble.link import LocalLink
from bumble.transport.common import AsyncPipeSink

MTU = 247
ACL_BYTES = 251
"""As real controllers; bumble's own 27 cuts each notification in ten."""


class AttSensor:
    """Both ends of one Bluetooth link; all of it runs in the loop of the Bluetooth service.

    Parameters
    ----------
    peer : bluez.Peer
        What the sensor is called and what it offers.
    """

    def __init__(self, peer):
        self._peer = peer
        link = LocalLink()
        self._central, self._sensor = (self._device(link, name, end) for end, name in enumerate(("host", peer.name), 1))
        properties = Characteristic.Properties.NOTIFY | Characteristic.Properties.WRITE
        self._characteristic = Characteristic(
            peer.characteristic,
            properties,
            Characteristic.WRITEABLE,
            CharacteristicValue(write=lambda _, value: peer.written.append(bytes(value))),
        )
        self._sensor.add_service(Service(peer.service, [self._characteristic]))
        self._on = False

    @staticmethod
    def _device(link, name, end):
        controller = Controller(name, link=link)
        controller.le_acl_data_packet_length = ACL_BYTES
        address = Address(f"F0:F1:F2:F3:F4:0{end}")
        return Device(name=name, address=address, host=Host(controller, AsyncPipeSink(controller)))

    async def connect(self, on_value, on_drop):
        """Connect, agree on the packet size, look for the characteristic."""
        if not self._on:
            self._on = True
            await self._central.power_on()
            await self._sensor.power_on()
        await self._sensor.start_advertising(auto_restart=False)
        self._connection = await self._central.connect(self._sensor.random_address)
        self._connection.on("disconnection", lambda _reason: on_drop())
        self._remote = Peer(self._connection)
        await self._remote.request_mtu(MTU)
        await self._remote.discover_services()
        for service in self._remote.services:
            await service.discover_characteristics()
        self._found = self._remote.get_characteristics_by_uuid(self._characteristic.uuid)[0]
        self._on_value = on_value

    async def subscribe(self):
        """Ask the sensor to notify."""
        await self._remote.subscribe(self._found, lambda value: self._on_value(bytes(value)))

    async def write(self, value):
        """Write to the sensor, and wait for its answer."""
        await self._remote.write_value(self._found, value, with_response=True)

    async def notify(self, values, period_s):
        """Let the sensor notify at a pace."""
        loop = asyncio.get_running_loop()
        began = loop.time()
        for number, value in enumerate(values):
            await asyncio.sleep(max(0.0, began + number * period_s - loop.time()))
            await self._sensor.notify_subscribers(self._characteristic, value)

    async def drop(self):
        """Let the sensor hang up."""
        for connection in list(self._sensor.connections.values()):
            await connection.disconnect()
