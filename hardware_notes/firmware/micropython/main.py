"""Reference firmware of a force sensor for a board with MicroPython and Bluetooth: bridge - converter - this - radio.

Copy the five files to the board; it starts by itself when it is switched on.
"""

import time

from converter import Converter
from radio import Radio
from sensor import Sensor

NAME = "Force-01"
DOUT, SCK, RATE = 4, 5, 6
"""Pins of the board: change them to those that you have wired."""


def run() -> None:
    """Measure and send, for ever."""
    converter = Converter(DOUT, SCK, RATE)
    waiting = []  # what a host has said, to be obeyed between two conversions
    radio = Radio(NAME, waiting.append, lambda: waiting.append(b"\nstop\n"))
    sensor = Sensor(radio.send, converter)
    while True:
        if converter.ready():
            sensor.sample(*converter.read())
        while waiting:
            sensor.hear(waiting.pop(0))
        time.sleep_ms(1)


run()
