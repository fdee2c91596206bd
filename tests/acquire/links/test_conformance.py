"""The exam that every link passes: serial on a pseudo-terminal, replay, simulated, Bluetooth, and disturbed ones."""

import time

import pytest

from acquire.errors import LinkError

AT_ONCE_S = 2.0
"""Far below the ten seconds that a wait may take here, far above what a busy machine needs."""

pytestmark = pytest.mark.timeout(60)


def joined(chunks):
    return b"".join(chunk.data for chunk in chunks)


def test_all_bytes_arrive_in_order(subject, take):
    early = take(subject.link, len(subject.early))
    subject.release()
    assert joined(early) == subject.early
    assert joined(take(subject.link, len(subject.late))) == subject.late


def test_arrival_never_decreases(subject, take):
    subject.release()
    arrivals = [chunk.arrival for chunk in take(subject.link, len(subject.early + subject.late))]
    assert len(arrivals) > 1
    assert arrivals == sorted(arrivals)


def test_no_chunk_is_empty(subject, take):
    subject.release()
    assert all(chunk.data for chunk in take(subject.link, len(subject.early + subject.late)))


def test_chunks_while_nothing_comes_returns_nothing_at_once(subject, take):
    take(subject.link, len(subject.early))
    began = time.monotonic()
    assert subject.link.chunks() == []
    assert time.monotonic() - began < AT_ONCE_S


def test_wait_while_nothing_comes_gives_up_in_time(subject, take):
    take(subject.link, len(subject.early))
    began = time.monotonic()
    assert subject.link.wait(0.05) is False
    assert 0.05 <= time.monotonic() - began < AT_ONCE_S


def test_wait_with_data_there_returns_at_once(subject, take):
    take(subject.link, len(subject.early))
    subject.release()
    assert subject.link.wait(10.0)
    began = time.monotonic()
    assert subject.link.wait(10.0)
    assert time.monotonic() - began < AT_ONCE_S
    assert subject.link.chunks()


def test_no_trouble_while_bytes_flow(subject, take):
    subject.release()
    take(subject.link, len(subject.early))
    assert subject.link.trouble is None


def test_end_is_seen_only_after_all_data(subject, take, until):
    subject.release()
    subject.end()
    assert not subject.link.ended
    assert not subject.link.finished
    data = joined(take(subject.link, len(subject.early + subject.late)))
    assert data == subject.early + subject.late
    until(lambda: subject.link.ended)
    assert subject.link.wait(10.0)
    if subject.fails_at_end:
        assert not subject.link.finished
        for _ in range(2):
            reason, sentence = subject.fails_at_end
            with pytest.raises(LinkError, match=sentence) as caught:
                subject.link.chunks()
            assert caught.value.reason is reason
            assert caught.value.port == subject.link.port
    else:
        assert subject.link.finished
        assert subject.link.trouble is None
        assert subject.link.chunks() == []


def test_close_twice_is_the_same_as_once(subject):
    subject.link.close()
    subject.link.close()
    assert subject.link.chunks() == []
    assert subject.link.ended
    assert subject.link.trouble is None


def test_wait_on_closed_link_returns_at_once(subject):
    subject.link.close()
    began = time.monotonic()
    assert subject.link.wait(10.0)
    assert time.monotonic() - began < AT_ONCE_S


def test_with_block_closes(subject):
    with subject.link as link:
        assert link is subject.link
    assert link.ended


def test_send_on_open_link_is_taken(subject):
    subject.link.send(b"?")
