"""One connection to one Bluetooth sensor, and what keeps it alive; all of it runs in one asyncio loop.

    find -> connect -> characteristics, battery -> subscribe -> start command      `BluetoothConnection.open`
    notifications, commands, battery from time to time                             while it lasts
    disconnect                                                                     `BluetoothConnection.close`

- A notification is a datagram. Where the profile says packets, each becomes the frame that a serial line would carry
  (COBS and a zero byte), so that its bounds survive in the journal and one decoder serves both. Lines are passed on as
  they come.
- After any end, the client is disconnected, also when the sensor hung up first. Otherwise the service goes on notifying
  for the old connection, and after the next one each sample comes twice.
- A Bluetooth service that dies goes unnoticed: the connection looks well, and nothing comes. So a sensor that sent and
  then falls silent for `GONE_S` is taken to be out of range.
"""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from bleak import BleakClient

from acquire.decoders.packets import frame_body
from acquire.links.base import BluetoothState
from acquire.links.bluetooth_search import find
from acquire.links.gatt import ANSWER_S, CONNECT_S, battery_pct, commands_of, let_go, samples_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from bleak.backends.characteristic import BleakGATTCharacteristic

    from acquire.sensor.profile import Profile

GONE_S = 3.0
"""A sensor that sent and then did not for so long is lost; or for ten of its sample periods, if they are longer."""
GONE_PERIODS = 10
START_AGAIN_S = 1.0
BATTERY_EACH_S = 60.0


class BluetoothConnection:
    """A connection to the sensor of a profile.

    Parameters
    ----------
    profile : Profile
        Its service, characteristics, framing and commands.
    port : str
        What the sensor is called in messages.
    received : callable
        Takes the bytes of each notification as they come, on the thread of the loop.
    dropped : callable
        Called when the sensor hangs up, on the same thread; not when the connection is closed from here.
    """

    def __init__(
        self,
        profile: Profile,
        port: str,
        *,
        received: Callable[[bytes], None],
        dropped: Callable[[], None],
    ) -> None:
        self.address = ""
        """Of the sensor; empty before it is found."""
        self.state = BluetoothState(signal_dbm=None, battery_pct=None)
        self.profile = profile
        self._port = port
        self._received, self._dropped = received, dropped
        self._client: BleakClient | None = None
        self._connected = False
        self._commands: BleakGATTCharacteristic | None = None

    @property
    def takes_commands(self) -> bool:
        """Whether the sensor has a characteristic for commands."""
        return self._commands is not None

    async def open(self, wanted: str, search_s: float) -> None:
        """Find the sensor, connect, subscribe and send the start command.

        Parameters
        ----------
        wanted : str
            Name or address; empty to go by the profile's service.
        search_s : float
            How long to look for it, s.

        Raises
        ------
        LinkError
            If there is none, there are several, or it is not as its profile says.
        TimeoutError, OSError, BleakError
            If Bluetooth fails; see `bluetooth_errors`.
        """
        async with asyncio.timeout(search_s + CONNECT_S):
            device, signal_dbm = await find(wanted, self.profile.service, search_s)
            self.address = device.address
            self._client = client = BleakClient(device, disconnected_callback=self._hung_up, timeout=CONNECT_S)
            await client.connect()
            self._connected = True
            samples = samples_of(client, self.profile, self._port)
            self._commands = commands_of(client, self.profile, self._port)
            self.state = BluetoothState(signal_dbm=signal_dbm, battery_pct=await battery_pct(client))
            await client.start_notify(samples, self._notified)
            await self.start()

    async def start(self) -> None:
        """Send the start command, if the profile has one."""
        await self.write(self.profile.start.encode())

    async def stop(self) -> None:
        """Send the stop command, if the profile has one."""
        await self.write(self.profile.stop.encode())

    async def write(self, data: bytes) -> None:
        """Write bytes to the characteristic for commands, if there are any of both."""
        if data and self._commands is not None and self._client is not None:
            async with asyncio.timeout(ANSWER_S):
                await self._client.write_gatt_char(self._commands, data)

    async def read_battery(self) -> None:
        """Ask for the battery charge."""
        if self._client is not None:
            charge = await battery_pct(self._client)
            self.state = BluetoothState(signal_dbm=self.state.signal_dbm, battery_pct=charge)

    async def close(self) -> None:
        """Disconnect, whatever came before."""
        self._connected = False  # a drop from here on is our own doing
        if self._client is not None:
            await let_go(self._client)

    def _notified(self, _sender: BleakGATTCharacteristic, data: bytearray) -> None:
        if data:
            self._received(frame_body(bytes(data)) if self.profile.framing == "packets" else bytes(data))

    def _hung_up(self, _client: BleakClient) -> None:
        if self._connected:  # before, bleak may be trying again
            self._dropped()


class KeepAlive:
    """Looks after a sensor from time to time: whether it has begun to send, still sends, and how its battery is.

    Parameters
    ----------
    connection : BluetoothConnection
        Open.
    patience : float
        Multiplies how long the sensor may be silent before it is taken to be gone.
    now : float
        Monotonic seconds.
    """

    def __init__(self, connection: BluetoothConnection, *, patience: float, now: float) -> None:
        self._connection = connection
        self._gone_after_s = patience * max(GONE_S, GONE_PERIODS / connection.profile.rate_hz)
        self._started_at = self._battery_read_at = now

    async def look(self, now: float, *, last: float | None) -> bool:
        """Do what is due, and return whether the sensor is still there; `last` is when the last bytes came, if any."""
        if last is not None and now - last > self._gone_after_s:
            return False
        if last is None and now - self._started_at > START_AGAIN_S:
            self._started_at = now
            await self._connection.start()
        elif now - self._battery_read_at > BATTERY_EACH_S:
            self._battery_read_at = now
            await self._connection.read_battery()
        return True
