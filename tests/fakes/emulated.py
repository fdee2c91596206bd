"""An unknown sensor on a pseudo-terminal, garbled where it is read at a wrong baud rate, and a person who pushes."""

import itertools
import threading
import time

import numpy as np
from uart import received

from acquire.simulation.pty import PseudoTerminal

LIMIT_S = 60.0
POLL_S = 0.002


class UnknownSensor:
    """Plays frames in real time, from the moment it is made or the start command comes.

    Parameters
    ----------
    frames : iterable of (float, bytes)
        Seconds and lines or packets; taken as they fall due.
    baud : int
        Its own rate.
    start : bytes
        It sends nothing before it hears this.
    """

    def __init__(self, frames, *, baud=115_200, start=b""):
        self.heard = b""
        self.rates = []
        self._frames, self._baud, self._start = frames, baud, start
        self._terminal = PseudoTerminal()
        self.port = self._terminal.port
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def close(self):
        """Pull the plug; a second time does nothing."""
        self._stopping.set()
        self._thread.join(LIMIT_S)
        self._terminal.close()

    def _run(self):
        began = None
        frames = iter(self._frames)
        upcoming = next(frames, None)
        while not self._stopping.wait(POLL_S):
            self._listen()
            if began is None and self._start in self.heard:
                began = time.monotonic()
            while began is not None and upcoming and upcoming[0] <= time.monotonic() - began:
                self._terminal.write(received(upcoming[1], sent_baud=self._baud, read_baud=self._terminal.baud))
                upcoming = next(frames, None)

    def _listen(self):
        """Hear the host, garbled too, and note at which rate it listens."""
        rate = self._terminal.baud
        self.heard += received(self._terminal.read(), sent_baud=rate, read_baud=self._baud)
        if self.rates[-1:] != [rate]:
            self.rates.append(rate)


class Person:
    """Whoever pushes when told to, and types what is asked for.

    Parameters
    ----------
    answers : sequence of str
        What is typed at each question, in turn.
    misses : int
        Pushes that are not heard.
    """

    def __init__(self, answers=(), *, misses=0, push_n=120.0):
        self.force_n = 0.0
        self.told = []
        self._answers = list(answers)
        self._misses, self._push_n = misses, push_n
        self._noise = itertools.cycle(np.random.default_rng(4).normal(0.0, 0.05, 997).tolist())

    def forces(self, rate_hz):
        """Seconds and newtons without end: what the person does meanwhile."""
        for number in itertools.count():
            yield number, number / rate_hz, self.force_n + next(self._noise)

    def hear(self, sentence):
        """Do what a sentence asks for."""
        self.told.append(sentence)
        if "PUSH" in sentence:
            self._misses -= 1
            self.force_n = self._push_n if self._misses < 0 else 0.0
        elif "Let go" in sentence:
            self.force_n = 0.0

    def readline(self):
        """Type the next answer; a number of kilograms that was asked to be hung is hung."""
        return f"{self._answers.pop(0)}\n" if self._answers else ""
