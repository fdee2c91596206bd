"""The bridge converter (24 bits, two wires, 10 or 80 conversions a second) on three pins, and the clock."""

import time

import machine

BITS = 24
SIGN = 1 << (BITS - 1)
SILENT_US = 1_200_000


class Clock:
    """Microseconds that turn over at 2**32, as the wire formats want them, whatever the board's own turn is."""

    def __init__(self, ticks: int = 0, turn: int = 1 << 30) -> None:
        self._ticks = ticks
        self._turn = turn
        self._us = 0

    def at(self, ticks: int) -> int:
        """Return the microseconds of a tick of the board that follows the last one."""
        self._us = self._us + (ticks - self._ticks) % self._turn & 0xFFFFFFFF
        self._ticks = ticks
        return self._us


class Converter:
    """A converter whose end of conversion is noted by an interrupt.

    Parameters
    ----------
    dout, sck, rate : int
        Pins. DOUT falls when a conversion has ended; each rise of SCK brings a bit; RATE high is 80 a second.
    """

    def __init__(self, dout: int, sck: int, rate: int) -> None:
        self._dout = machine.Pin(dout, machine.Pin.IN, machine.Pin.PULL_UP)
        self._sck = machine.Pin(sck, machine.Pin.OUT, value=0)
        self._rate = machine.Pin(rate, machine.Pin.OUT, value=1)
        self._clock = Clock(time.ticks_us(), time.ticks_add(0, -1) + 1)
        self._ended = None  # ticks, until it is read
        self._last = time.ticks_us()
        self._reading = False
        self._dout.irq(self._fell, machine.Pin.IRQ_FALLING)

    def set_rate(self, rate_hz: int) -> None:
        """Convert 10 or 80 times a second."""
        self._rate.value(rate_hz == 80)

    def ready(self) -> bool:
        """Whether a conversion has ended that was not read yet."""
        return self._ended is not None

    def silent(self) -> bool:
        """Whether none has ended for more than a second: it is off, or a wire is."""
        return time.ticks_diff(time.ticks_us(), self._last) > SILENT_US

    def read(self) -> tuple[int, int]:
        """Return when the conversion ended, in microseconds, and its count."""
        self._reading = True
        count = 0
        for _ in range(BITS):
            count = count << 1 | self._pulse()
        self._pulse()  # one pulse more asks for gain 128 the next time
        tick_us, self._ended = self._clock.at(self._ended), None
        self._reading = False
        return tick_us, count - ((count & SIGN) << 1)

    def _fell(self, _pin: machine.Pin) -> None:
        # Bits make DOUT fall too: those are no ends of conversions.
        if not self._reading and self._ended is None:
            self._ended = self._last = time.ticks_us()

    def _pulse(self) -> int:
        """Return the next bit. SCK high for 60 us switches the converter off, so nothing may come between."""
        state = machine.disable_irq()
        self._sck.value(1)
        self._sck.value(0)
        machine.enable_irq(state)
        return self._dout.value()
