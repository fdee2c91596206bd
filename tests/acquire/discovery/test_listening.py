"""The baud rate is found on one open port; bytes at a wrong rate are those that a receiver would make of them."""

import itertools

import pytest
from emulated import UnknownSensor
from pushed import force_of_push, frames_of, text_frames
from uart import received

from acquire.discovery import listening
from acquire.discovery.listening import HEAR_S, USUAL_BAUD, WAKE_S, find_baud, listen
from acquire.errors import DiscoveryError, DiscoveryFailure, LinkError, LinkFailure
from acquire.links.base import Chunk
from acquire.links.serial import SerialLink
from acquire.sensor.profile import load_profile


class FakeLink:
    """A link whose sensor sends a frame at a time, read by a receiver at any rate; time passes when waited for."""

    def __init__(self, frames, *, baud, start=b"", ends_after=None, best=None):
        self.now = 0.0
        self.retunes = []
        self.started = not start
        self._start, self._baud, self._ends_after = start, baud, ends_after
        self._frames = itertools.cycle([data for _, data in frames]) if frames else iter(())
        self._period = frames[1][0] - frames[0][0] if len(frames) > 1 else 1.0
        self._at = best or USUAL_BAUD[0]
        self._waiting = []
        self._hear()

    @property
    def ended(self):
        return self._ends_after is not None and self.now > self._ends_after

    def clock(self):
        return self.now

    def retune(self, baud):
        self.retunes.append(baud)
        self._at = baud
        self._waiting.clear()
        self._hear()

    def wait(self, timeout):
        self.now += min(timeout, self._period)
        if self.ended:
            return False
        data = next(self._frames, b"") if self.started else b""
        data = received(data, sent_baud=self._baud, read_baud=self._at) if data else b""
        if data:
            self._waiting.append(Chunk(self.now, data))
        return bool(data)

    def chunks(self):
        if self.ended:
            raise LinkError("unplugged", port="fake", reason=LinkFailure.UNPLUGGED)
        taken, self._waiting = self._waiting, []
        return taken

    def _hear(self):
        self.started |= received(self._start, sent_baud=self._at, read_baud=self._baud) == self._start


LINES = text_frames(lambda row: f"{round(row.seconds * 1e3)},{row.counts}", seconds=2.0)
PACKETS = frames_of(load_profile("packets-1k"), force_of_push(1000.0, seconds=2.0))


@pytest.mark.parametrize("frames", [LINES, PACKETS], ids=["lines", "packets"])
@pytest.mark.parametrize("baud", USUAL_BAUD)
def test_every_usual_rate_is_found_and_the_link_left_at_it(frames, baud):
    link = FakeLink(frames, baud=baud)
    attempts = find_baud(link, starts=False, clock=link.clock)
    assert attempts[-1].baud == baud
    assert attempts[-1].legible.conclusive
    assert [attempt.baud for attempt in attempts] == list(USUAL_BAUD[: USUAL_BAUD.index(baud) + 1])
    assert link.retunes == [attempt.baud for attempt in attempts][1:]


@pytest.mark.parametrize("baud", [9_600, 57_600])
def test_sensor_that_must_be_started_is_started_at_its_own_rate(baud):
    link = FakeLink(LINES, baud=baud, start=b"start\n")
    assert find_baud(link, starts=True, clock=link.clock)[-1].baud == baud


def test_rate_that_was_right_at_first_takes_no_retuning():
    link = FakeLink(LINES, baud=115_200)
    (attempt,) = find_baud(link, starts=False, clock=link.clock)
    assert attempt.size == len(attempt.heard.data) > 0
    assert link.retunes == []


def test_slow_sensor_is_heard_for_long_enough():
    slow = text_frames(lambda row: f"{row.counts}", rate_hz=10.0, seconds=3.0)
    link = FakeLink(slow, baud=9_600)
    assert find_baud(link, starts=False, clock=link.clock)[-1].baud == 9_600


def test_best_of_doubtful_rates_is_gone_back_to():
    """Half of the packets of this sensor are damaged at its rate, so that no rate is beyond doubt."""
    frames = [(due, data if n % 2 else data[:5] + b"?" + data[5:]) for n, (due, data) in enumerate(PACKETS)]
    link = FakeLink(frames, baud=9_600)
    attempts = find_baud(link, starts=False, clock=link.clock)
    assert attempts[-1].baud == 9_600
    assert not attempts[-1].legible.conclusive
    assert link.retunes == [*USUAL_BAUD[1:], 9_600]


def test_each_attempt_is_told():
    told = []
    link = FakeLink(LINES, baud=57_600)
    attempts = find_baud(link, starts=False, clock=link.clock, told=told.append)
    assert tuple(told) == attempts


@pytest.mark.parametrize(("starts", "hint"), [(False, "give it with --start"), (True, "after the start command")])
def test_silent_sensor_is_told_with_what_to_do(starts, hint):
    link = FakeLink([], baud=9_600)
    with pytest.raises(DiscoveryError, match=hint) as caught:
        find_baud(link, starts=starts, clock=link.clock)
    assert caught.value.reason is DiscoveryFailure.SILENT
    rates = len(USUAL_BAUD) if starts else 1
    assert link.now == pytest.approx(WAKE_S + (rates - 1) * HEAR_S, abs=0.2)


def test_binary_sensor_is_refused_before_anybody_pushes():
    frames = [(n / 80.0, b"\xaa\x55" + (n * 7919).to_bytes(4, "little") + bytes([n % 251])) for n in range(400)]
    link = FakeLink(frames, baud=9_600)
    with pytest.raises(DiscoveryError, match=r"any of the baud rates 115200, 9600.*7 bytes.*aa 55") as caught:
        find_baud(link, starts=False, clock=link.clock)
    assert caught.value.reason is DiscoveryFailure.BINARY


def test_text_without_numbers_is_refused_with_its_example():
    frames = text_frames(lambda row: f"F={row.newtons:.2f}N", seconds=2.0)
    link = FakeLink(frames, baud=9_600)
    with pytest.raises(DiscoveryError, match="letters stand right at the numbers") as caught:
        find_baud(link, starts=False, clock=link.clock)
    assert caught.value.reason is DiscoveryFailure.NO_NUMBERS


def test_unplugging_ends_the_search():
    link = FakeLink(LINES, baud=9_600, ends_after=0.05)
    with pytest.raises(LinkError, match="unplugged"):
        find_baud(link, starts=False, clock=link.clock)


def test_listening_ends_with_the_time_or_when_it_is_enough():
    link = FakeLink(LINES, baud=115_200)
    assert len(listen(link, 1.0, link.clock)) == pytest.approx(80, abs=2)
    heard = listen(link, 1.0, link.clock, enough=lambda chunks: len(chunks) == 5)
    assert len(heard) == 5


# on a real port


@pytest.fixture
def plugged():
    opened = []

    def plug(*arguments, **options):
        opened.append(UnknownSensor(*arguments, **options))
        return opened[-1]

    yield plug
    for sensor in opened:
        sensor.close()


@pytest.mark.slow
@pytest.mark.parametrize("start", [b"", b"start\n"])
def test_rate_is_found_through_the_serial_link(plugged, start, monkeypatch):
    monkeypatch.setattr(listening, "WAKE_S", 0.5)
    sensor = plugged(text_frames(lambda row: f"{row.counts}", rate_hz=320.0), baud=57_600, start=start)
    with SerialLink(sensor.port, baud=USUAL_BAUD[0], start=start) as link:
        attempts = find_baud(link, starts=bool(start), clock=link._clock)
    assert [attempt.baud for attempt in attempts] == [115_200, 9_600, 57_600]
    assert sensor.rates[-3:] == [115_200, 9_600, 57_600]
