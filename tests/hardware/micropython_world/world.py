"""The world around the MicroPython firmware: time, a converter, and a host with Bluetooth. It runs under MicroPython.

Time passes only while the firmware sleeps, and only as far as the host lets it. The host speaks in lines on standard
input: ``connect MTU``, ``write HEX``, ``disconnect``, ``full N`` (the next N notifications find no room),
``advertised`` and ``run MS``. It is answered by a line ``notify HEX`` for each notification, and by ``ok`` with the
microsecond and how many conversions were not read, or not rightly, when the time is over.
"""

import binascii
import sys

BITS, PULSES = 24, 25
TICKS_TURN = 1 << 30


class World:
    """What the firmware's modules act on."""

    def __init__(self, counts, rate_error, began_us):
        self.now_us = self._until_us = began_us
        self.counts = counts
        self.rate_error = rate_error
        self.missed = self.misread = 0
        self.fast = True
        self.dout, self.on_fall = 1, None
        self.told = None  # how the firmware is told of the radio's events
        self.advertised = None
        self.written = b""
        self.full = 0
        self._at = self._pulses = self._count = 0
        self._sck = 0
        self._next_us = self.now_us + self._period_us()

    # ---- time ----

    def sleep(self, us):
        end = self.now_us + us
        while self._next_us <= end:
            self._pass_to(self._next_us)
            self._convert()
            self._next_us += self._period_us()
        self._pass_to(end)

    def _pass_to(self, us):
        self.now_us = us
        while self.now_us >= self._until_us:
            self._ask()

    def _period_us(self):
        return round(1e6 / ((80 if self.fast else 10) * (1.0 + self.rate_error)))

    # ---- the converter ----

    def _convert(self):
        if self.counts is None:
            return
        if self._at and self._pulses != PULSES:
            self.misread += self._pulses > 0
            self.missed += self._pulses == 0
        self._count = self.counts[min(self._at, len(self.counts) - 1)]
        self._at += 1
        self._pulses = 0
        self._set_dout(0)

    def sck(self, level):
        if level and not self._sck:
            bit = self._pulses
            self._pulses += 1
            self._set_dout(self._count >> (BITS - 1 - bit) & 1 if bit < BITS else 1)
        self._sck = level

    def _set_dout(self, level):
        fell = self.dout and not level
        self.dout = level
        if fell and self.on_fall:
            self.on_fall(None)

    # ---- the host ----

    def notify(self, data):
        if self.full:
            self.full -= 1
            raise OSError(12)
        print("notify", binascii.hexlify(data).decode())

    def _ask(self):
        print("ok", self.now_us, self.missed, self.misread)
        line = sys.stdin.readline()
        if not line:
            sys.exit()
        word, *more = line.split()
        if word == "run":
            self._until_us = self.now_us + 1000 * int(more[0])
        elif word == "connect":
            self.told(1, (7, 0, b""))
            self.told(21, (7, int(more[0])))
        elif word == "write":
            self.written = binascii.unhexlify(more[0])
            self.told(3, (7, 0))
        elif word == "disconnect":
            self.told(2, (7, 0, b""))
        elif word == "advertised":
            print("notify", binascii.hexlify(self.advertised[0] + b"|" + self.advertised[1]).decode())
        elif word == "full":
            self.full = int(more[0])


def _made():
    with open("world.txt") as file:  # noqa: PTH123 - MicroPython has no pathlib
        rate_error, began_us, *counts = file.read().split()
    return World([int(count) for count in counts] or None, float(rate_error), int(began_us))


world = _made()
