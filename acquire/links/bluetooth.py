"""A sensor by Bluetooth Low Energy, by bleak.

One thread runs one asyncio loop for one connection: it finds the sensor, connects, subscribes, queues each
notification as it comes, and in the end disconnects. Nothing else is done there.

A notification is a datagram. Where the profile says packets, each is put into the queue as the frame that a
serial line would carry (COBS and a zero byte), so that its bounds survive in the journal and one decoder
serves both. Lines are passed on as they come.

- OUT_OF_REACH (the sensor dropped the connection, or has been still for `GONE_S`) and FAILED end the link. The
  second rule is needed since a Bluetooth service that dies is not noticed: the connection looks well, and
  nothing comes.
- After any end, the client is disconnected, also when the sensor hung up first. Otherwise the service goes
  on notifying for the old connection, and after the next one each sample comes twice.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time
from concurrent.futures import Future
from typing import TYPE_CHECKING, Self

from bleak import BleakClient

from acquire.decoders.packets import frame_body
from acquire.errors import LinkError, LinkFailure
from acquire.links.base import RadioState
from acquire.links.live import QUEUE_LIMIT, LiveLink
from acquire.links.radio import SCAN_S, find
from acquire.links.radio_errors import RADIO_ERRORS, radio_error

if TYPE_CHECKING:
    from collections.abc import Callable

    from bleak.backends.characteristic import BleakGATTCharacteristic

    from acquire.profile import Profile

CONNECT_S = 10.0
GONE_S = 3.0
"""A sensor that sent and then did not for so long is lost; or ten of its periods, if they are longer."""
GONE_PERIODS = 10
LOOK_S = 0.25
ANSWER_S = 2.0
BATTERY_EACH_S = 60.0

BATTERY_LEVEL = "00002a19-0000-1000-8000-00805f9b34fb"
"""Bluetooth SIG, Assigned Numbers: characteristic Battery Level 0x2A19 of the Battery Service 0x180F, in per cent."""


class BluetoothLink(LiveLink):
    """A sensor by Bluetooth Low Energy; a `Link`.

    Parameters
    ----------
    port : str
        Name or address; empty to take the only one in reach that has the profile's service.
    profile : Profile
        Its service, characteristic, framing, commands and patience.
    patience : float
        Multiplies how long the sensor may be silent.
    search_s : float
        How long to look for it.
    queue_limit : int
        Bytes of memory that unread data may take.
    clock : callable
        Monotonic seconds; stamps the chunks and measures silence.

    Raises
    ------
    LinkError
        NO_RADIO, RADIO_OFF, NO_PERMISSION, NOT_FOUND, BUSY or FAILED.
    """

    def __init__(
        self,
        port: str,
        profile: Profile,
        *,
        patience: float = 1.0,
        search_s: float = SCAN_S,
        queue_limit: int = QUEUE_LIMIT,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(
            port or profile.name,
            called=f"the sensor {port or profile.name}",
            hint="bring it near and check its battery",
            silent_after_s=patience * profile.silent_after_s,
            stalled_after_s=patience * max(0.5, 5.0 / profile.rate_hz),
            queue_limit=queue_limit,
            clock=clock,
        )
        self._wanted, self._profile, self._patience, self._search_s = port, profile, patience, search_s
        self._gone_after_s = patience * max(GONE_S, GONE_PERIODS / profile.rate_hz)
        self._ready: Future[None] = Future()
        self._signal_dbm = 0
        self._battery_pct: int | None = None
        self._thread = threading.Thread(target=self._run, name=f"bluetooth {self.port}", daemon=True)
        self._thread.start()
        try:
            self._ready.result()
        except LinkError:
            self._shut()
            self._thread.join()
            raise

    def reopened(self) -> Self:
        """Close this link and return a new one to the same sensor.

        Raises
        ------
        LinkError
            As for a new link; NOT_FOUND as long as the sensor is not back.
        """
        self.close()
        return type(self)(
            self._device_address,
            self._profile,
            patience=self._patience,
            search_s=self._search_s,
            queue_limit=self._queue_limit,
            clock=self._clock,
        )

    @property
    def radio(self) -> RadioState | None:
        """Signal and battery."""
        return RadioState(signal_dbm=self._signal_dbm, battery_pct=self._battery_pct)

    def send(self, data: bytes) -> None:
        """Write bytes to the sensor's characteristic; see `Link.send`."""
        if self._over:
            raise self._error(LinkFailure.FAILED, f"{self.port} is closed: open it again to send")
        asked = asyncio.run_coroutine_threadsafe(self._write(data), self._loop)
        try:
            asked.result(ANSWER_S)
        except TimeoutError as error:
            asked.cancel()
            raise self._error(
                LinkFailure.FAILED, f"{self._called} does not take what is sent to it: switch it off and on"
            ) from error
        except RADIO_ERRORS as error:
            raise self._out_of_reach() from error

    def close(self) -> None:
        """Send the stop bytes and disconnect; a second time does nothing."""
        self._shut()
        with contextlib.suppress(RuntimeError):  # its loop has ended by itself
            self._loop.call_soon_threadsafe(self._over_now.set)
        self._thread.join()

    def _run(self) -> None:
        asyncio.run(self._live())

    async def _live(self) -> None:
        """Hold the connection, from the search to the disconnection."""
        self._loop, self._over_now = asyncio.get_running_loop(), asyncio.Event()
        try:
            async with asyncio.timeout(self._search_s + CONNECT_S):
                client = await self._connect()
        except LinkError as error:
            self._ready.set_exception(error)
            return
        except RADIO_ERRORS as error:
            self._ready.set_exception(radio_error(error, self.port))
            return
        self._client = client
        try:
            await self._hold()
        finally:
            await let_go(client)

    async def _connect(self) -> BleakClient:
        device, self._signal_dbm = await find(self._wanted, self._profile.service, self._search_s)
        self._device_address = device.address
        client = BleakClient(device, disconnected_callback=self._dropped, timeout=CONNECT_S)
        await client.connect()
        try:
            self._battery_pct = await _battery(client)
            await client.start_notify(self._profile.characteristic, self._notified)
            await _write(client, self._profile, self._profile.start.encode())
        except BaseException:
            await let_go(client)
            raise
        return client

    async def _hold(self) -> None:
        """Wait for the end, and look whether the sensor still sends."""
        self._opened = asked = self._clock()
        self._ready.set_result(None)
        while not self._over:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._over_now.wait(), LOOK_S)
            if self._last is not None and self._clock() - self._last > self._gone_after_s:
                self._fail(self._out_of_reach())
            if self._clock() - asked > BATTERY_EACH_S:
                asked = self._clock()
                self._battery_pct = await _battery(self._client)
        if self._failure is None:
            with contextlib.suppress(*RADIO_ERRORS):
                async with asyncio.timeout(ANSWER_S):
                    await self._write(self._profile.stop.encode())

    async def _write(self, data: bytes) -> None:
        await _write(self._client, self._profile, data)

    def _notified(self, _sender: BleakGATTCharacteristic, data: bytearray) -> None:
        if data and not self._over:
            self._queue_chunk(frame_body(bytes(data)) if self._profile.framing == "packets" else bytes(data))

    def _dropped(self, _client: BleakClient) -> None:
        if not self._over:
            self._fail(self._out_of_reach())
        self._over_now.set()

    def _out_of_reach(self) -> LinkError:
        return self._error(
            LinkFailure.OUT_OF_REACH, f"the radio link to {self.port} broke: bring it near and check its battery"
        )


async def _write(client: BleakClient, profile: Profile, data: bytes) -> None:
    if data:
        await client.write_gatt_char(profile.characteristic, data)


async def _battery(client: BleakClient) -> int | None:
    """Return the battery level in per cent, None where the sensor does not tell."""
    try:
        if client.services.get_characteristic(BATTERY_LEVEL) is None:
            return None
        async with asyncio.timeout(ANSWER_S):
            return int((await client.read_gatt_char(BATTERY_LEVEL))[0])
    except RADIO_ERRORS:
        return None


async def let_go(client: BleakClient) -> None:
    """Disconnect, whatever state the connection is in; the error of a service that died is of no use now."""
    with contextlib.suppress(*RADIO_ERRORS):
        async with asyncio.timeout(CONNECT_S):
            await client.disconnect()
