"""A sensor by Bluetooth Low Energy, by bleak.

One thread runs one asyncio loop for one connection: it finds the sensor, connects, subscribes, queues each
notification as it comes, and in the end disconnects. Nothing else is done there. The parts, each in a module:

    bluetooth             the link: its thread, who waits for it, how it ends
    bluetooth_search      which sensors are in range, and which is meant
    bluetooth_connection  connection, subscription, commands; what keeps it alive; battery
    gatt                  characteristics of a connected sensor
    bluetooth_errors      what Bluetooth says when it fails, in plain words

OUT_OF_REACH (the sensor dropped the connection, or fell silent for long) and FAILED end the link. A search can take
seconds; `BluetoothLink.cancel_search` ends it from another thread.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time
from concurrent.futures import CancelledError, Future, wait
from functools import partial
from typing import TYPE_CHECKING

from acquire.errors import LinkDetail, LinkError, LinkFailure
from acquire.links.base import BluetoothState
from acquire.links.bluetooth_connection import BluetoothConnection, KeepAlive
from acquire.links.bluetooth_errors import BLUETOOTH_ERRORS, bluetooth_error
from acquire.links.bluetooth_search import SCAN_S
from acquire.links.gatt import ANSWER_S
from acquire.links.live import QUEUE_LIMIT, LiveLink

if TYPE_CHECKING:
    from collections.abc import Callable

    from acquire.sensor.profile import Profile

LOOK_S = 0.25
CANCEL_POLL_S = 0.05


class BluetoothLink(LiveLink):
    """A sensor by Bluetooth Low Energy; a `Link`.

    Parameters
    ----------
    port : str
        Name or address; empty to take the only one in range that has the profile's service.
    profile : Profile
        Its service, characteristic, framing, commands and patience. The start command is sent again each
        second until the first byte comes.
    patience : float
        Multiplies how long the sensor may be silent.
    search_s : float
        How long to look for it.
    queue_limit : int
        Bytes of memory that unread data may take.
    cancelled : threading.Event, optional
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
        cancelled: threading.Event | None = None,
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
        self._cancelled = cancelled or threading.Event()
        self._another = partial(
            BluetoothLink,
            profile=profile,
            patience=patience,
            search_s=search_s,
            queue_limit=queue_limit,
            cancelled=self._cancelled,
            clock=clock,
        )
        self._connection = BluetoothConnection(profile, self.port, received=self._received, dropped=self._dropped)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._task: asyncio.Task[None] | None = None
        self._over_now = asyncio.Event()
        self._began = threading.Event()
        self._ready: Future[None] = Future()
        self._thread = threading.Thread(
            target=self._run, args=(port, search_s, patience), name=f"bluetooth {self.port}", daemon=True
        )
        self._open()

    def reopened(self) -> BluetoothLink:
        """Close this link and return a new one to the same sensor.

        Raises
        ------
        LinkError
            As for a new link; NOT_FOUND as long as the sensor is not back.
        """
        self.close()
        return self._another(self._connection.address)

    def cancel_search(self) -> None:
        """End a `reopened` that is under way in another thread, and all later ones: they raise FAILED."""
        self._cancelled.set()

    @property
    def bluetooth(self) -> BluetoothState | None:
        """Signal and battery."""
        return self._connection.state

    def send(self, data: bytes) -> None:
        """Write bytes to the sensor's characteristic; see `Link.send`."""
        if self._over or self._loop is None:
            raise self._error(
                LinkFailure.FAILED, f"{self.port} is closed: open it again to send", detail=LinkDetail.CLOSED
            )
        if not self._connection.takes_commands:
            raise self._error(
                LinkFailure.FAILED,
                f"{self._called} takes no commands: is its profile right?",
                detail=LinkDetail.NO_COMMANDS,
            )
        asked = asyncio.run_coroutine_threadsafe(self._connection.write(data), self._loop)
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
        while not wait([self._ready], CANCEL_POLL_S).done and not self._cancelled.is_set():
            pass
        if self._cancelled.is_set():  # also where it was found at that very moment
            raise self._error(
                LinkFailure.FAILED, f"the search for {self._called} was ended", detail=LinkDetail.SEARCH_ENDED
            )
        self._ready.result()

    # ---- in the thread of the loop ----

    def _run(self, wanted: str, search_s: float, patience: float) -> None:
        try:
            asyncio.run(self._live(wanted, search_s, patience))
        except asyncio.CancelledError:
            return  # nobody waits for it any more
        except BaseException as error:  # nobody must wait for a thread that is gone
            self._end(
                self._error(
                    LinkFailure.FAILED,
                    f"{self.port} stopped by a fault of the program: {error!r}",
                    detail=LinkDetail.PROGRAM_FAULT,
                    error=repr(error),
                )
            )
            raise

    async def _live(self, wanted: str, search_s: float, patience: float) -> None:
        """Hold the connection, from the search to the disconnection."""
        self._loop, self._task = asyncio.get_running_loop(), asyncio.current_task()
        self._began.set()
        try:
            await self._connection.open(wanted, search_s)
            self._opened = self._clock()
            self._ready.set_result(None)
            await self._hold(patience)
        except LinkError as error:
            self._end(error)
        except BLUETOOTH_ERRORS as error:
            self._end(bluetooth_error(error, self.port), error)
        finally:
            await self._connection.close()

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

    async def _hold(self, patience: float) -> None:
        """Wait for the end, and look after the sensor from time to time."""
        keep_alive = KeepAlive(self._connection, patience=patience, now=self._clock())
        while not self._over:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._over_now.wait(), LOOK_S)
            if not self._over and not await keep_alive.look(self._clock(), last=self._last):
                self._fail(self._out_of_reach())
        if self._failure is None:
            with contextlib.suppress(*BLUETOOTH_ERRORS):
                await self._connection.stop()

    def _received(self, data: bytes) -> None:
        if not self._over:
            self._queue_chunk(data)

    def _dropped(self) -> None:
        if not self._over:
            self._fail(self._out_of_reach())
            self._over_now.set()

    def _out_of_reach(self) -> LinkError:
        return self._error(
            LinkFailure.OUT_OF_REACH, f"the Bluetooth link to {self.port} broke: bring it near and check its battery"
        )
