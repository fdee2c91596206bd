"""A bad link around others: what it does to them, and what goes through untouched.

That it is the link itself when it disturbs nothing is shown by the conformance tests.
"""

import math

import pytest

from acquire.errors import LinkError, LinkFailure
from acquire.links import Chunk, DisturbedLink, ReplayLink, SerialLink
from acquire.simulation.disturbance import Delay, Disturbance, Drop, Reorder, Stall

LINES = [(10.0 + 0.25 * n, b"%d\n" % n) for n in range(12)]


def replayed(disturbance, recording=LINES):
    return DisturbedLink(ReplayLink(recording, speed=math.inf), disturbance, frame_end=b"\n")


def drained(link):
    chunks = []
    while not link.finished:
        chunks += link.chunks()
    return chunks


class Failing(ReplayLink):
    """Gives what it has, then fails; for a while it says that it is stalled."""

    stalled = LinkError("still", port="here", reason=LinkFailure.STALLED)

    def __init__(self, recording):
        super().__init__(recording, speed=math.inf, port="here")
        self.error = LinkError("gone", port="here", reason=LinkFailure.UNPLUGGED)
        self.heard = []

    finished = False

    @property
    def ended(self):
        return False

    @property
    def trouble(self):
        return self.stalled

    def chunks(self):
        if self._next is None:
            raise self.error
        return super().chunks()

    def send(self, data):
        self.heard.append(data)


def test_replay_of_hours_is_disturbed_chunk_by_chunk():
    link = replayed(Disturbance(drop=Drop(at_s=(1.0,), run=2)))
    assert [chunk.data for chunk in drained(link)] == [b"%d\n" % n for n in range(12) if n not in (4, 5)]
    assert link.done == {"drop": 2}
    assert link.port == "replay"


def test_what_is_held_back_at_the_end_comes_before_it_is_finished():
    link = replayed(Disturbance(stall=Stall(at_s=(1.0,), for_s=60.0)))
    assert not link.finished
    chunks = drained(link)
    assert [chunk.data for chunk in chunks] == [data for _, data in LINES]
    assert chunks[-1].arrival == 71.0
    assert link.ended
    assert link.chunks() == []


def test_what_is_held_back_when_a_link_fails_comes_before_the_error():
    link = DisturbedLink(Failing(LINES), Disturbance(reorder=Reorder(at_s=(2.7,), reach=9)), frame_end=b"\n")
    assert len(link.chunks()) == 11
    assert link.chunks() == [Chunk(12.75, b"11\n")]
    for _ in range(2):
        with pytest.raises(LinkError, match="gone"):
            link.chunks()


def test_what_is_held_back_when_a_link_is_closed_comes_then():
    link = DisturbedLink(ReplayLink(LINES), Disturbance(stall=Stall(at_s=(0.0,), for_s=60.0)), frame_end=b"\n")
    assert link.chunks() == []
    link.close()
    assert not link.ended
    assert link.wait(10.0)
    assert link.chunks() == [Chunk(70.0, b"0\n")]
    assert link.ended


def test_trouble_of_the_link_is_told():
    link = DisturbedLink(Failing(LINES), Disturbance(), frame_end=b"\n")
    assert link.trouble is Failing.stalled


def test_stall_of_the_disturbance_is_told_while_it_lasts(fake_clock):
    recording = ReplayLink(LINES, clock=fake_clock, sleep=fake_clock.sleep)
    link = DisturbedLink(recording, Disturbance(stall=Stall(at_s=(0.5,), for_s=1.0)), frame_end=b"\n")
    told = []
    for _ in LINES:
        link.wait(1.0)
        link.chunks()
        told.append(link.trouble)
    assert [trouble is not None for trouble in told] == [n in (4, 5) for n in range(12)]
    assert told[4].reason is LinkFailure.STALLED
    assert str(told[5]) == "nothing has got through the disturbed link to replay for 1.0 s"


def test_commands_go_through():
    link = DisturbedLink(Failing(LINES), Disturbance(drop=Drop(rate=1.0)), frame_end=b"\n")
    link.send(b"start\n")
    assert link._link.heard == [b"start\n"]
    assert link.bluetooth is None


def test_live_port_is_disturbed(terminal, until):
    with DisturbedLink(SerialLink(terminal.port), Disturbance(drop=Drop(at_s=(0.0,))), frame_end=b"\n") as link:
        terminal.write(b"first\nsecond\nthi")
        came = []
        until(lambda: link.wait(0.1) and came.extend(link.chunks()) is None and came)
        assert b"".join(chunk.data for chunk in came) == b"second\n"
        terminal.write(b"rd\n")
        until(lambda: link.wait(0.1) and came.extend(link.chunks()) is None and len(came) > 1)
        assert came[-1].data == b"third\n"


def test_delays_do_not_depend_on_the_speed_of_a_replay(fake_clock):
    disturbance = Disturbance(delay=Delay(rate=0.5, up_to_s=1.0))
    slow = DisturbedLink(
        ReplayLink(LINES, speed=3.0, clock=fake_clock, sleep=fake_clock.sleep), disturbance, frame_end=b"\n"
    )
    chunks = []
    while not slow.finished:
        slow.wait(0.1)
        chunks += slow.chunks()
    assert chunks == drained(replayed(disturbance))


def test_long_replay_is_handed_over_in_parts():
    link = ReplayLink(((float(n), b"x") for n in range(10_000)), speed=math.inf)
    parts = []
    while not link.finished:
        parts.append(link.chunks())
    assert max(map(len, parts)) == 1000
    assert [chunk.arrival for part in parts for chunk in part] == list(range(10_000))
