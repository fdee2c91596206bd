import time

import numpy as np
import pytest
from bluez import Air, Peer

from acquire.errors import LinkFailure
from acquire.links import DisturbedLink, ReplayLink, SerialLink, SimulatedLink
from acquire.links.bluetooth import BluetoothLink
from acquire.sensor.profile import Profile, load_profile
from acquire.simulation.device import Device
from acquire.simulation.disturbance import Disturbance
from acquire.simulation.pty import PseudoTerminal

LIMIT_S = 10.0
PIECES = [bytes(range(start, start + 16)) for start in range(0, 256, 16)]


@pytest.fixture
def until():
    """Wait for a condition; fail when it does not come true in time."""

    def wait(condition, limit=LIMIT_S):
        end = time.monotonic() + limit
        while not condition():
            assert time.monotonic() < end, "the condition did not come true in time"
            time.sleep(0.001)

    return wait


class FakeClock:
    """Seconds that pass only when told."""

    def __init__(self):
        self.now = 100.0

    def __call__(self):
        return self.now

    def sleep(self, seconds):
        self.now += seconds


@pytest.fixture
def fake_clock():
    return FakeClock()


@pytest.fixture
def terminal():
    with PseudoTerminal() as opened:
        yield opened


@pytest.fixture
def packets():
    """A sensor with packets that waits for no command."""
    return Profile(
        name="test-packets",
        title="packets for tests",
        framing="packets",
        rate_hz=1000.0,
        rated_force_n=1000.0,
        counts_per_newton=100.0,
    )


def queued(link):
    """How many bytes a live link holds, without taking them."""
    return sum(len(chunk.data) for chunk in list(link._queue))


class OnSerial:
    """A link to a device played by the test; it ends when the plug is pulled."""

    fails_at_end = LinkFailure.UNPLUGGED, "was unplugged: plug it back in"

    def __init__(self, until):
        self.until = until
        self.terminal = PseudoTerminal()
        self.link = SerialLink(self.terminal.port)
        self.early = b""
        self.late = b"".join(PIECES)

    def release(self):
        # One by one, so that they are more than one chunk, and all with the reader when the plug is pulled:
        # what waits in a pseudo-terminal is lost when it hangs up.
        for number, piece in enumerate(PIECES, start=1):
            self.terminal.write(piece)
            self.until(lambda number=number: self.queued() == 16 * number)

    def queued(self):
        return queued(self.link)

    def end(self):
        self.terminal.close()
        self.until(lambda: self.link.trouble is not None)

    def close(self):
        self.link.close()
        self.terminal.close()


class OnReplay:
    """A recording whose second chunk comes 1,000 s after the first; the clock jumps when it is released."""

    fails_at_end = None

    def __init__(self, _until):
        self.jump = 0.0
        self.early, *rest = PIECES
        self.late = b"".join(rest)
        recording = [(5.0, self.early), *((1005.0 + 0.01 * n, piece) for n, piece in enumerate(rest))]
        self.link = ReplayLink(recording, clock=lambda: time.monotonic() + self.jump)
        self.link.wait(0.0)  # its time begins

    def release(self):
        self.jump = 1000.0

    def end(self):
        """It ends by itself."""

    def close(self):
        self.link.close()


class OnSimulated:
    """A device program that is stopped before its first packet, 90 ms after the start, and started by the test."""

    fails_at_end = None

    def __init__(self, _until):
        profile = Profile(
            name="test-commands",
            title="packets at a slow rate, with commands",
            framing="packets",
            rate_hz=100.0,
            rated_force_n=1000.0,
            counts_per_newton=100.0,
            start="start\n",
            stop="stop\n",
        )
        counts = np.arange(50)
        self.link = SimulatedLink(profile, counts)
        self.link.send(b"stop\n")
        self.early = b""
        self.late = b"".join(frame.data for frame in Device(profile, counts).frames())

    def release(self):
        self.link.send(b"start\n")

    def end(self):
        """It ends by itself."""

    def close(self):
        self.link.close()


class OnBluetooth:
    """A Bluetooth sensor that notifies lines; it ends when the sensor hangs up."""

    fails_at_end = LinkFailure.OUT_OF_REACH, "the Bluetooth link to C0:FF:EE:00:00:01 broke"

    def __init__(self, until):
        self.until = until
        profile = load_profile("ble-lines")
        self.air = Air()
        self.peer = self.air.bluez.add(Peer("Grip-01", profile.service, profile.characteristic))
        self.link = BluetoothLink(self.peer.address, profile)
        self.early = b""
        self.late = b"".join(PIECES)

    def release(self):
        self.air.bluez.notify(self.peer, *PIECES)
        self.until(lambda: queued(self.link) == 16 * len(PIECES))

    def end(self):
        self.air.bluez.drop(self.peer)
        self.until(lambda: self.link.trouble is not None)

    def close(self):
        self.link.close()
        self.air.close()


class OnDisturbedReplay(OnReplay):
    """A recording over a bad link that disturbs nothing."""

    def __init__(self, until):
        super().__init__(until)
        self.link = DisturbedLink(self.link, Disturbance(), frame_end=b"\0")


class OnDisturbedSerial(OnSerial):
    """A port over a bad link that disturbs nothing."""

    def __init__(self, until):
        super().__init__(until)
        self.port = self.link
        self.link = DisturbedLink(self.port, Disturbance(), frame_end=b"\0")

    def queued(self):
        return queued(self.port)


@pytest.fixture(params=[OnSerial, OnReplay, OnSimulated, OnBluetooth, OnDisturbedReplay, OnDisturbedSerial])
def subject(request, until):
    """A link of each kind, with `early` bytes to come at once and `late` ones to come when released."""
    made = request.param(until)
    yield made
    made.close()


@pytest.fixture
def take(until):
    """Take so many bytes from a link, as a list of chunks."""

    def taken(link, length):
        chunks = []

        def enough():
            link.wait(0.1)
            chunks.extend(link.chunks())
            return sum(len(chunk.data) for chunk in chunks) >= length

        if length:
            until(enough)
        return chunks

    return taken
