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
- A search can take seconds; `BluetoothLink.give_up` ends it from another thread.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time
from concurrent.futures import CancelledError, Future, wait
from typing import TYPE_CHECKING, Self

from bleak import BleakClient

from acquire.decoders.packets import frame_body
from acquire.errors import LinkError, LinkFailure
from acquire.links.base import BluetoothState
from acquire.links.bluetooth_errors import BLUETOOTH_ERRORS, bluetooth_error
from acquire.links.bluetooth_search import SCAN_S, find
from acquire.links.gatt import ANSWER_S, CONNECT_S, battery_pct, commands_of, let_go, samples_of
from acquire.links.live import QUEUE_LIMIT, LiveLink

if TYPE_CHECKING:
    from collections.abc import Callable

    from bleak.backends.characteristic import BleakGATTCharacteristic

    from acquire.sensor.profile import Profile

GONE_S = 3.0
"""A sensor that sent and then did not for so long is lost; or ten of its periods, if they are longer."""
GONE_PERIODS = 10
LOOK_S = 0.25
START_AGAIN_S = 1.0
BATTERY_EACH_S = 60.0
GIVE_UP_LOOK_S = 0.05


class BluetoothLink(LiveLink):
    """A sensor by Bluetooth Low Energy; a `Link`.

    Parameters
    ----------
    port : str
        Name or address; empty to take the only one in reach that has the profile's service.
    profile : Profile
        Its service, characteristic, framing, commands and patience. The start command is sent again each
        second until the first byte comes.
    patience : float
        Multiplies how long the sensor may be silent.
    search_s : float
        How long to look for it.
    queue_limit : int
        Bytes of memory that unread data may take.
    giving_up : threading.Event, optional
        Ends the search when it is set, here and in `reopened`; one of its own without.
    clock : callable
        Monotonic seconds; stamps the chunks and measures silence.

    Raises
    ------
    LinkError
        NO_BLUETOOTH, BLUETOOTH_OFF, NO_PERMISSION, NOT_FOUND, BUSY, NOT_PAIRED or FAILED.
    """

    def __init__(
        self,
        port: str,
        profile: Profile,
        *,
        patience: float = 1.0,
        search_s: float = SCAN_S,
        queue_limit: int = QUEUE_LIMIT,
        giving_up: threading.Event | None = None,
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
        self._giving_up = giving_up or threading.Event()
        self._signal_dbm: int | None = None
        self._battery_pct: int | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._task: asyncio.Task[None] | None = None
        self._client: BleakClient | None = None
        self._connected = False
        self._commands: BleakGATTCharacteristic | None = None
        self._over_now = asyncio.Event()
        self._began = threading.Event()
        self._ready: Future[None] = Future()
        self._thread = threading.Thread(target=self._run, name=f"bluetooth {self.port}", daemon=True)
        self._open()

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
            giving_up=self._giving_up,
            clock=self._clock,
        )

    def give_up(self) -> None:
        """End a `reopened` that is under way in another thread, and all later ones: they raise FAILED."""
        self._giving_up.set()

    @property
    def bluetooth(self) -> BluetoothState | None:
        """Signal and battery."""
        return BluetoothState(signal_dbm=self._signal_dbm, battery_pct=self._battery_pct)

    def send(self, data: bytes) -> None:
        """Write bytes to the sensor's characteristic; see `Link.send`."""
        if self._over or self._loop is None:
            raise self._error(LinkFailure.FAILED, f"{self.port} is closed: open it again to send")
        if self._commands is None:
            raise self._error(LinkFailure.FAILED, f"{self._called} takes no commands: is its profile right?")
        asked = asyncio.run_coroutine_threadsafe(self._write(data), self._loop)
        try:
            asked.result(2 * ANSWER_S)
        except BLUETOOTH_ERRORS as error:
            asked.cancel()
            raise self._failure or bluetooth_error(error, self.port) from error
        except CancelledError as error:  # the link ended meanwhile
            raise self._failure or self._out_of_reach() from error

    def close(self) -> None:
        """Send the stop bytes and disconnect; a second time does nothing."""
        self._shut()
        with contextlib.suppress(RuntimeError):  # the loop has ended by itself
            if self._loop is not None:
                self._loop.call_soon_threadsafe(self._stop)
        self._thread.join()

    # ---- in the thread of the caller ----

    def _open(self) -> None:
        """Start the thread, and wait until the sensor is connected."""
        self._thread.start()
        self._began.wait()
        try:
            self._await_sensor()
        except BaseException:  # Ctrl-C too: a sensor that is left connected is hard to find the next time
            self.close()
            raise

    def _await_sensor(self) -> None:
        while not wait([self._ready], GIVE_UP_LOOK_S).done and not self._giving_up.is_set():
            pass
        if self._giving_up.is_set():  # also where it was found at that very moment
            raise self._error(LinkFailure.FAILED, f"the search for {self._called} was ended")
        self._ready.result()

    # ---- in the thread of the loop ----

    def _run(self) -> None:
        try:
            asyncio.run(self._live())
        except asyncio.CancelledError:
            return  # nobody waits for it any more
        except BaseException as error:  # nobody must wait for a thread that is gone
            self._end(self._error(LinkFailure.FAILED, f"{self.port} stopped by a fault of the program: {error!r}"))
            raise

    async def _live(self) -> None:
        """Hold the connection, from the search to the disconnection."""
        self._loop, self._task = asyncio.get_running_loop(), asyncio.current_task()
        self._began.set()
        try:
            async with asyncio.timeout(self._search_s + CONNECT_S):
                await self._connect()
            await self._hold()
        except LinkError as error:
            self._end(error)
        except BLUETOOTH_ERRORS as error:
            self._end(bluetooth_error(error, self.port), error)
        finally:
            self._connected = False  # a drop from here on is our own doing
            if self._client is not None:
                await let_go(self._client)

    def _stop(self) -> None:
        """End the search, or the connection; a disconnection that is under way goes on."""
        self._over_now.set()
        if self._task is not None and not self._ready.done():
            self._task.cancel()

    def _end(self, error: LinkError, cause: BaseException | None = None) -> None:
        """Tell who waits for the sensor, or else who reads, that this is the end; a drop was told already."""
        if not self._closed:
            self._fail(error, cause)
        if not self._ready.done():
            self._ready.set_exception(self._failure or error)
        self._began.set()

    async def _connect(self) -> None:
        device, self._signal_dbm = await find(self._wanted, self._profile.service, self._search_s)
        self._device_address = device.address
        self._client = client = BleakClient(device, disconnected_callback=self._dropped, timeout=CONNECT_S)
        await client.connect()
        self._connected = True
        samples = samples_of(client, self._profile, self.port)
        self._commands = commands_of(client, self._profile, self.port)
        self._battery_pct = await battery_pct(client)
        await client.start_notify(samples, self._notified)
        await self._write(self._profile.start.encode())
        self._opened = self._clock()
        self._ready.set_result(None)

    async def _hold(self) -> None:
        """Wait for the end, and look after the sensor from time to time."""
        self._asked = self._started = self._clock()
        while not self._over:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._over_now.wait(), LOOK_S)
            if not self._over:
                await self._look()
        if self._failure is None:
            with contextlib.suppress(*BLUETOOTH_ERRORS):
                await self._write(self._profile.stop.encode())

    async def _look(self) -> None:
        """See whether the sensor still sends, has begun to, and how its battery is."""
        now = self._clock()
        if self._last is not None and now - self._last > self._gone_after_s:
            self._fail(self._out_of_reach())
        elif self._last is None and now - self._started > START_AGAIN_S:
            self._started = now
            await self._write(self._profile.start.encode())
        elif now - self._asked > BATTERY_EACH_S:
            self._asked = now
            self._battery_pct = await battery_pct(self._client) if self._client else None

    async def _write(self, data: bytes) -> None:
        if data and self._commands is not None and self._client is not None:
            async with asyncio.timeout(ANSWER_S):
                await self._client.write_gatt_char(self._commands, data)

    def _notified(self, _sender: BleakGATTCharacteristic, data: bytearray) -> None:
        if data and not self._over:
            self._queue_chunk(frame_body(bytes(data)) if self._profile.framing == "packets" else bytes(data))

    def _dropped(self, _client: BleakClient) -> None:
        if self._connected and not self._over:  # before, bleak may be trying again
            self._fail(self._out_of_reach())
            self._over_now.set()

    def _out_of_reach(self) -> LinkError:
        return self._error(
            LinkFailure.OUT_OF_REACH, f"the radio link to {self.port} broke: bring it near and check its battery"
        )
