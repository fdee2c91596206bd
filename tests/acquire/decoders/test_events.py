"""Packets that stand side by side become one; nothing else moves."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from acquire.decoders.events import Damage, Packet, Packets, packets_together

A, B = Packet(1, 100, (7,)), Packet(2, 200, (8, 9))
BAD = Damage("too short", 9, 0)

packets = st.builds(
    Packet, st.integers(0, 65535), st.integers(0, 2**32 - 1), st.lists(st.integers(-9, 9), max_size=4).map(tuple)
)
events = st.lists(packets | st.just(BAD), max_size=12)


def apart(together):
    """The packets again, one by one."""
    for event in together:
        if isinstance(event, Packets):
            assert event.sizes == tuple(map(len, event.counts))
            yield from map(Packet, event.sequence, event.tick, event.counts)
        else:
            yield event


def test_one_packet_alone_is_packets_of_one():
    assert packets_together([B]) == [Packets((2,), (200,), ((8, 9),), (2,))]


def test_damage_alone_stays_as_it_is():
    assert packets_together([BAD]) == [BAD]


def test_damage_parts_the_packets_before_it_from_those_after_it():
    assert packets_together([A, B, BAD, A]) == [
        Packets((1, 2), (100, 200), ((7,), (8, 9)), (1, 2)),
        BAD,
        Packets((1,), (100,), ((7,),), (1,)),
    ]


def test_nothing_is_nothing():
    assert packets_together([]) == []


@given(events)
def test_every_event_is_there_in_its_order_and_no_two_packets_stand_apart(given_events):
    together = packets_together(given_events)
    assert list(apart(together)) == given_events
    kinds = [isinstance(event, Packets) for event in together]
    assert not any(one and other for one, other in pairwise(kinds))
