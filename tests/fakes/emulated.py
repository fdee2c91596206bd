"""An unknown sensor on a pseudo-terminal that garbles what is read at another baud rate than its own."""

import threading
import time

from uart import received

from acquire.simulation.pty import PseudoTerminal

LIMIT_S = 60.0
POLL_S = 0.002


class UnknownSensor:
    """Plays frames in real time, or faster, from the moment the port is opened or the start command comes.

    Parameters
    ----------
    frames : list of (float, bytes)
        Seconds and lines or packets.
    baud : int
        Its own rate.
    start : bytes
        It sends nothing before it hears this.
    speed : float
        Times as fast as life.
    """

    def __init__(self, frames, *, baud=115_200, start=b"", speed=1.0):
        self.heard = b""
        self.rates = []
        self._frames, self._baud, self._start, self._speed = frames, baud, start, speed
        self._terminal = PseudoTerminal()
        self.port = self._terminal.port
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def close(self):
        """Pull the plug."""
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
            while began is not None and upcoming and upcoming[0] <= (time.monotonic() - began) * self._speed:
                self._terminal.write(received(upcoming[1], sent_baud=self._baud, read_baud=self._terminal.baud))
                upcoming = next(frames, None)

    def _listen(self):
        """Hear the host, garbled too, and note at which rate it listens."""
        rate = self._terminal.baud
        self.heard += received(self._terminal.read(), sent_baud=rate, read_baud=self._baud)
        if self.rates[-1:] != [rate]:
            self.rates.append(rate)
