"""What the sensor does: it obeys commands and makes frames of samples. No hardware here.

The same as firmware/avr/sensor.c, command for command.
"""

import wire

SETTLING = 4
"""Conversions after a change that still show what was before."""
COUNTS_PER_PACKET = {10: 1, 80: 2}
"""Two conversions at 80 Hz hold back the first by 12.5 ms."""
COMMAND_MAX = 24


class Sensor:
    """A sensor under way.

    Parameters
    ----------
    send : callable
        Takes the bytes of a frame; returns nothing.
    converter : Converter
        Its rate is set, and whether it is silent is asked.
    """

    def __init__(self, send, converter) -> None:
        self._send = send
        self._converter = converter
        self._format = None
        self._rate_hz = 80
        self._settling = SETTLING
        self._sequence = 0
        self._counts = []
        self._tick_us = self._last_us = 0
        self._zero = None
        self._heard = b""

    # ---- samples ----

    def sample(self, tick_us: int, count: int) -> None:
        """Take a conversion that ended at `tick_us`."""
        if self._settling:
            self._settling -= 1
            return
        if self._zero is not None:
            self._add_to_zero(count)
        if self._format == "lines":
            self._send(wire.line(tick_us, count))
        elif self._format == "packets":
            self._add_to_packet(tick_us, count)

    def _add_to_packet(self, tick_us: int, count: int) -> None:
        # The counts of a packet are evenly spaced: a conversion that was not read ends the packet before it.
        if self._counts and (tick_us - self._last_us) & 0xFFFFFFFF > 1_500_000 // self._rate_hz:
            self._send_packet()
        if not self._counts:
            self._tick_us = tick_us
        self._last_us = tick_us
        self._counts.append(count)
        if len(self._counts) == COUNTS_PER_PACKET[self._rate_hz]:
            self._send_packet()

    def _send_packet(self) -> None:
        if self._counts:
            self._send(wire.packet(self._sequence, self._tick_us, self._counts))
            self._sequence = (self._sequence + 1) & 0xFFFF
        self._counts = []

    def _add_to_zero(self, count: int) -> None:
        # Counts are sent as they are, before and after: the host takes its own zero. This one tells.
        self._zero.append(count)
        if len(self._zero) == self._rate_hz:
            self._remark("zero", sum(self._zero) // len(self._zero))
            self._remark("spread", max(self._zero) - min(self._zero))
            self._zero = None

    # ---- commands ----

    def hear(self, data: bytes) -> None:
        """Take bytes from the host; a command ends with a line feed."""
        self._heard += data
        while b"\n" in self._heard:
            command, self._heard = self._heard.split(b"\n", 1)
            self._obey(command.strip(b"\r"))
        self._heard = self._heard[: COMMAND_MAX + 1]  # what is too long stays too long

    def _obey(self, command: bytes) -> None:
        if command in (b"start", b"start packets"):
            self._start("packets")
        elif command == b"start lines":
            self._start("lines")
        elif command == b"stop":
            self._stop()
        elif command == b"zero":
            self._zero = []
        elif command in (b"rate 10", b"rate 80"):
            self._set_rate(int(command[5:]))
        elif command == b"identify":
            self._identify()
        elif command:
            self._remark("error", "command")

    def _start(self, form: str) -> None:
        if self._format == form:
            return
        self._send_packet()
        self._format = form
        if form == "lines":
            self._remark("columns", "us,counts")

    def _stop(self) -> None:
        self._send_packet()
        self._format = None

    def _set_rate(self, rate_hz: int) -> None:
        if rate_hz != self._rate_hz:
            self._send_packet()
            self._rate_hz = rate_hz
            self._converter.set_rate(rate_hz)
            self._settling = SETTLING
            self._zero = None if self._zero is None else []
        self._remark("rate", rate_hz)

    def _identify(self) -> None:
        self._remark("board", "micropython")
        self._remark("firmware", 1)
        self._remark("bits", 24)
        self._remark("tick_hz", 1_000_000)
        self._remark("rate", self._rate_hz)
        self._remark("converter", "silent" if self._converter.silent() else "ready")

    def _remark(self, key: str, value: object) -> None:
        self._send(wire.remark(key, value))
