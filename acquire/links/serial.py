"""A sensor on a serial port, by pyserial.

One thread blocks in ``read(max(1, in_waiting))``, stamps what it got and queues it; nothing else is done
there, so a slow reader of the queue delays nobody.

What ends a link and what does not:

- UNPLUGGED (the port hung up) and FAILED (the queue outgrew its limit) end it: `SerialLink.chunks` hands
  over what had arrived, then raises. The same port can be opened again with `SerialLink.reopened`.
- SILENT and STALLED do not end it (see `acquire.links.live`).
"""

from __future__ import annotations

import contextlib
import threading
import time
from typing import TYPE_CHECKING, Self

from serial import SerialTimeoutException

from acquire.errors import LinkDetail, LinkError, LinkFailure
from acquire.links.live import QUEUE_LIMIT, LiveLink
from acquire.links.ports import PORT_ERRORS, open_port, port_of, usb_name

if TYPE_CHECKING:
    from collections.abc import Callable

    from acquire.sensor.profile import Profile

START_AGAIN_S = 1.0


class SerialLink(LiveLink):
    """A sensor on a serial port; a `Link`.

    Parameters
    ----------
    port : str
        The device to open, exclusively.
    baud : int
        Bits per second.
    silent_after_s : float
        Seconds without one byte after which `trouble` is SILENT.
    stalled_after_s : float
        Seconds since the last byte after which `trouble` is STALLED.
    start, stop : bytes
        Sent once the port is open, and before it is closed. The start command is sent again each second
        until the first byte comes: many boards reset when their port is opened, and miss the first one.
    queue_limit : int
        Bytes of memory that unread data may take.
    clock : callable
        Monotonic seconds; stamps the chunks and measures silence.

    Raises
    ------
    LinkError
        NOT_FOUND, NOT_A_PORT, BUSY, NO_PERMISSION or FAILED, if the port cannot be opened; UNPLUGGED or
        FAILED, if the start bytes cannot be sent.
    """

    def __init__(
        self,
        port: str,
        *,
        baud: int = 115_200,
        silent_after_s: float = 3.0,
        stalled_after_s: float = 0.5,
        start: bytes = b"",
        stop: bytes = b"",
        queue_limit: int = QUEUE_LIMIT,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(
            port,
            called=f"the sensor on {port}",
            hint="check the sensor and its cable",
            silent_after_s=silent_after_s,
            stalled_after_s=stalled_after_s,
            queue_limit=queue_limit,
            clock=clock,
        )
        self._baud = baud
        self._start = start
        self._stop = stop
        self._serial = open_port(port, baud)
        self._usb = usb_name(port)
        self._opened = self._started = clock()
        self._thread = threading.Thread(target=self._read, name=f"read {port}", daemon=True)
        self._begin()

    @classmethod
    def for_profile(
        cls,
        port: str,
        profile: Profile,
        *,
        patience: float = 1.0,
        clock: Callable[[], float] = time.monotonic,
    ) -> Self:
        """Open a port the way a sensor's profile says.

        Five periods without a byte, or 0.5 s, are a stall; `patience` multiplies these limits and that of
        silence. Raises what opening a link raises.
        """
        return cls(
            port,
            baud=profile.baud,
            silent_after_s=patience * profile.silent_after_s,
            stalled_after_s=patience * max(0.5, 5.0 / profile.rate_hz),
            start=profile.start.encode(),
            stop=profile.stop.encode(),
            clock=clock,
        )

    def reopened(self) -> Self:
        """Close this link and return a new one to the same sensor: by its serial number, else to the same port.

        To be called every second or so after UNPLUGGED. The old port is let go first, or the system would
        give the sensor that comes back another name.

        Raises
        ------
        LinkError
            NOT_FOUND as long as the sensor is not back; else as for a new link.
        """
        self.close()
        port = None if self._usb is None else port_of(self._usb)
        return type(self)(
            port or self.port,
            baud=self._baud,
            silent_after_s=self._silent_after_s,
            stalled_after_s=self._stalled_after_s,
            start=self._start,
            stop=self._stop,
            queue_limit=self._queue_limit,
            clock=self._clock,
        )

    def retune(self, baud: int) -> None:
        """Go on at another baud rate without closing the port, which would reset many boards.

        What came before is thrown away, and the start command is sent anew.

        Raises
        ------
        LinkError
            FAILED, if the port cannot do that rate; UNPLUGGED, if it is gone.
        """
        try:
            # The system's buffer is not emptied: the reading thread would take that for an unplugged port.
            self._serial.baudrate = baud
        except ValueError as error:
            raise self._error(
                LinkFailure.FAILED,
                f"{self.port} cannot do {baud} bit/s",
                detail=LinkDetail.BAUD_RATE,
                baud=baud,
            ) from error
        except PORT_ERRORS as error:
            raise self._unplugged() from error
        self._baud = baud
        self._forget()
        self._started = self._opened
        self.send(self._start)

    def send(self, data: bytes) -> None:
        """Send bytes to the sensor; see `Link.send`."""
        if self._closed:
            raise self._error(
                LinkFailure.FAILED, f"{self.port} is closed: open it again to send", detail=LinkDetail.CLOSED
            )
        try:
            self._serial.write(data)
        except SerialTimeoutException as error:
            raise self._error(
                LinkFailure.FAILED,
                f"the sensor on {self.port} does not take what is sent to it: switch it off and on",
                detail=LinkDetail.NOT_TAKEN,
            ) from error
        except PORT_ERRORS as error:
            raise self._unplugged() from error

    def close(self) -> None:
        """Send the stop bytes, end the reader thread, close the port; a second time does nothing."""
        if self._closed:
            return
        with contextlib.suppress(LinkError):
            self.send(self._stop)
        self._shut()
        # Closed under a reading thread, pyserial raises TypeError there: so wake it and let it go first.
        self._serial.cancel_read()
        if self._thread.ident is not None:
            self._thread.join()
        self._serial.close()

    def _begin(self) -> None:
        try:
            self.send(self._start)
        except LinkError:
            self._serial.close()
            self._closed = True
            raise
        self._thread.start()

    def _read(self) -> None:
        try:
            while not self._over:
                if data := self._serial.read(max(1, self._serial.in_waiting)):
                    self._queue_chunk(data)
                elif self._last is None:
                    self._start_again()
        except PORT_ERRORS as error:
            self._fail(self._unplugged(), error)

    def _start_again(self) -> None:
        if self._clock() - self._started > START_AGAIN_S:
            self._started = self._clock()
            with contextlib.suppress(LinkError):  # a port that is gone ends the reading
                self.send(self._start)

    def _unplugged(self) -> LinkError:
        return self._error(LinkFailure.UNPLUGGED, f"the sensor on {self.port} was unplugged: plug it back in")
