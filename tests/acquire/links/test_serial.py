import threading
import time

import msgspec
import pytest
from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

from acquire.errors import LinkError, LinkFailure
from acquire.links import SerialLink
from acquire.links import ports as ports_module
from acquire.simulation.pty import PseudoTerminal

pytestmark = pytest.mark.timeout(60)


@pytest.fixture
def link(terminal, fake_clock):
    with SerialLink(terminal.port, clock=fake_clock, silent_after_s=3.0, stalled_after_s=0.5) as opened:
        yield opened


@pytest.fixture
def heard(until):
    """What the device hears, once it is so many bytes."""

    def listen(terminal, length):
        data = bytearray()

        def enough():
            data.extend(terminal.read())
            return len(data) >= length

        until(enough)
        return bytes(data)

    return listen


def joined(chunks):
    return b"".join(chunk.data for chunk in chunks)


def readers(port):
    return [thread for thread in threading.enumerate() if thread.name == f"read {port}"]


def test_chunk_carries_the_second_it_arrived(link, terminal, take, fake_clock):
    fake_clock.now = 123.5
    terminal.write(b"x")
    assert take(link, 1) == [(123.5, b"x")]


def test_start_command_is_sent_on_opening_and_stop_on_closing(terminal, heard):
    link = SerialLink(terminal.port, start=b"go\n", stop=b"halt\n")
    assert heard(terminal, 3) == b"go\n"
    link.close()
    assert heard(terminal, 5) == b"halt\n"


def test_start_command_is_sent_again_until_the_first_byte_comes(terminal, heard, fake_clock, take):
    with SerialLink(terminal.port, start=b"go\n", clock=fake_clock) as link:
        assert heard(terminal, 3) == b"go\n"
        for _ in range(2):
            fake_clock.now += 1.1
            assert heard(terminal, 3) == b"go\n"
        terminal.write(b"x")
        take(link, 1)
        fake_clock.now += 100.0
        # Twice the time in which the reader would have come round to it.
        assert not link.wait(0.2)
    assert terminal.read() == b""


def test_sent_bytes_reach_the_device_unchanged(link, terminal, heard):
    everything = bytes(range(256))
    link.send(everything)
    assert heard(terminal, 256) == everything


def test_received_bytes_are_unchanged_whatever_they_are(link, terminal, take):
    # Among them all that a terminal could take for a control character: XON, XOFF, interrupt, CR, LF.
    everything = bytes(range(256))
    terminal.write(everything)
    assert joined(take(link, 256)) == everything


def test_bytes_from_before_opening_are_thrown_away(terminal, take):
    terminal.write(b"stale")
    with SerialLink(terminal.port) as link:
        terminal.write(b"fresh")
        assert joined(take(link, 5)) == b"fresh"


def test_port_is_opened_for_this_program_alone(link):
    with pytest.raises(LinkError, match="in use by another program") as caught:
        SerialLink(link.port)
    assert caught.value.reason is LinkFailure.BUSY


def test_silent_sensor_is_in_trouble_but_not_at_its_end(link, terminal, take, fake_clock):
    fake_clock.now += 3.0
    assert link.trouble is None
    fake_clock.now += 0.2
    assert link.trouble.reason is LinkFailure.SILENT
    assert str(link.trouble) == (
        f"the sensor on {link.port} has sent nothing for 3.2 s: check that it is switched on and is the sensor chosen"
    )
    assert link.chunks() == []
    terminal.write(b"late")
    assert joined(take(link, 4)) == b"late"
    assert link.trouble is None


def test_stalled_sensor_recovers_with_the_next_byte(link, terminal, take, fake_clock):
    terminal.write(b"first")
    take(link, 5)
    fake_clock.now += 0.5
    assert link.trouble is None
    fake_clock.now += 0.2
    assert link.trouble.reason is LinkFailure.STALLED
    assert str(link.trouble) == (f"the sensor on {link.port} stopped sending 0.7 s ago: check the sensor and its cable")
    assert link.chunks() == []
    assert not link.ended
    terminal.write(b"again")
    assert joined(take(link, 5)) == b"again"
    assert link.trouble is None


@pytest.mark.parametrize("case", [(1000.0, 0.5), (10.0, 0.5), (2.0, 2.5)])
def test_slow_sensor_gets_five_periods_before_it_counts_as_stalled(terminal, take, fake_clock, packets, case):
    rate_hz, stalled_after_s = case
    profile = msgspec.structs.replace(packets, rate_hz=rate_hz)
    with SerialLink.for_profile(terminal.port, profile, clock=fake_clock) as link:
        terminal.write(b"x")
        take(link, 1)
        fake_clock.now += stalled_after_s - 0.01
        assert link.trouble is None
        fake_clock.now += 0.02
        assert link.trouble.reason is LinkFailure.STALLED


def test_unplugged_keeps_what_had_arrived_then_raises(link, terminal, until):
    terminal.write(b"before")
    until(lambda: sum(len(chunk.data) for chunk in link._queue) == 6)
    terminal.close()
    until(lambda: link.trouble is not None)
    assert link.trouble.reason is LinkFailure.UNPLUGGED
    assert not link.ended
    assert joined(link.chunks()) == b"before"
    assert link.ended
    with pytest.raises(LinkError, match=f"the sensor on {link.port} was unplugged: plug it back in"):
        link.chunks()


def test_unplugging_wakes_who_waits(link, terminal):
    unplug = threading.Timer(0.05, terminal.close)
    unplug.start()
    began = time.monotonic()
    assert link.wait(30.0)
    assert time.monotonic() - began < 10.0
    unplug.join()
    with pytest.raises(LinkError, match="was unplugged"):
        link.chunks()


def test_sending_to_an_unplugged_sensor(link, terminal):
    terminal.close()
    with pytest.raises(LinkError, match="was unplugged") as caught:
        link.send(b"tare\n")
    assert caught.value.reason is LinkFailure.UNPLUGGED


def test_closing_an_unplugged_link_with_a_stop_command(terminal, until):
    link = SerialLink(terminal.port, stop=b"halt\n")
    terminal.close()
    until(lambda: link.trouble is not None)
    link.close()
    assert link.ended


def test_sending_on_a_closed_link(link):
    link.close()
    with pytest.raises(LinkError, match=f"{link.port} is closed: open it again to send") as caught:
        link.send(b"tare\n")
    assert caught.value.reason is LinkFailure.FAILED


def test_closing_from_another_thread_ends_the_wait_and_the_reader(link):
    closing = threading.Timer(0.05, link.close)
    closing.start()
    began = time.monotonic()
    assert link.wait(30.0)
    assert time.monotonic() - began < 10.0
    closing.join()
    assert readers(link.port) == []
    assert link.chunks() == []


def test_closed_link_still_hands_over_what_had_arrived(link, terminal, until):
    terminal.write(b"left over")
    until(lambda: sum(len(chunk.data) for chunk in link._queue) == 9)
    link.close()
    assert not link.ended
    assert joined(link.chunks()) == b"left over"
    assert link.ended


def test_closed_port_can_be_opened_again(link):
    link.close()
    with SerialLink(link.port) as second:
        assert second.trouble is None


def test_device_that_takes_nothing(link, monkeypatch):
    # A pseudo-terminal holds some kilobytes for a device that does not read.
    monkeypatch.setattr(link._serial, "write_timeout", 0.05)
    with pytest.raises(LinkError, match="does not take what is sent to it") as caught:
        link.send(bytes(1_000_000))
    assert caught.value.reason is LinkFailure.FAILED


def test_start_command_that_is_not_taken_lets_the_port_go(terminal, monkeypatch):
    monkeypatch.setattr(ports_module, "WRITE_TIMEOUT_S", 0.05)
    with pytest.raises(LinkError, match="does not take what is sent to it"):
        SerialLink(terminal.port, start=bytes(1_000_000))
    with SerialLink(terminal.port) as link:
        assert readers(link.port) != []


def test_data_that_nobody_takes_ends_the_link_instead_of_being_dropped(terminal, until):
    sent = bytes(range(256)) * 8
    with SerialLink(terminal.port, queue_limit=1000) as link:
        terminal.write(sent)
        until(lambda: link.trouble is not None)
        assert link.trouble.reason is LinkFailure.FAILED
        kept = joined(link.chunks())
        assert kept
        assert sent.startswith(kept)
        with pytest.raises(LinkError, match=r"was not taken and over 0\.001 MB wait: open the port again"):
            link.chunks()


def test_data_that_is_taken_in_time_never_fills_the_queue(terminal, take):
    with SerialLink(terminal.port, queue_limit=1000) as link:
        for number in range(20):
            piece = bytes([number]) * 100
            terminal.write(piece)
            assert joined(take(link, 100)) == piece


@pytest.fixture
def on_usb(monkeypatch):
    """Say what is plugged in: path and serial number."""

    def plug(**numbers):
        found = [ListPortInfo(str(path)) for path in numbers.values()]
        for number, port in zip(numbers, found, strict=True):
            port.vid, port.pid, port.serial_number = 0x0A3B, 7, number
        monkeypatch.setattr(list_ports, "comports", lambda: found)

    return plug


def test_sensor_that_comes_back_under_another_name_is_found_by_its_serial_number(tmp_path, until, take, on_usb):
    one, other = tmp_path / "ACM0", tmp_path / "ACM1"
    first = PseudoTerminal(link=one)
    on_usb(FS0014=one)
    link = SerialLink(str(one))
    first.close()
    until(lambda: link.ended)
    with PseudoTerminal(link=one) as stranger, PseudoTerminal(link=other) as second:
        on_usb(FS0099=one, FS0014=other)
        with link.reopened() as new:
            assert new.port == str(other)
            stranger.write(b"of another sensor")
            second.write(b"after")
            assert joined(take(new, 5)) == b"after"


def test_sensor_plugged_back_in_is_opened_again_with_the_same_settings(tmp_path, until, heard, take):
    name = tmp_path / "sensor"
    first = PseudoTerminal(link=name)
    link = SerialLink(str(name), start=b"go\n", stalled_after_s=7.0)
    first.write(b"before")
    assert joined(take(link, 6)) == b"before"
    first.close()
    until(lambda: link.ended)
    for _ in range(2):
        with pytest.raises(LinkError, match=f"there is no port {name}") as caught:
            link.reopened()
        assert caught.value.reason is LinkFailure.NOT_FOUND
    with PseudoTerminal(link=name) as second, link.reopened() as new:
        assert heard(second, 3) == b"go\n"
        assert new.trouble is None
        second.write(b"after")
        assert joined(take(new, 5)) == b"after"
        assert new._stalled_after_s == 7.0


def test_other_rate_is_taken_without_closing_the_port(terminal, heard, take, fake_clock):
    with SerialLink(terminal.port, baud=115_200, start=b"go\n", clock=fake_clock) as link:
        assert heard(terminal, 3) == b"go\n"
        terminal.write(b"before")
        assert joined(take(link, 6)) == b"before"
        link.retune(9_600)
        assert terminal.baud == 9_600
        assert heard(terminal, 3) == b"go\n"
        terminal.write(b"after")
        assert joined(take(link, 5)) == b"after"
        assert len(readers(link.port)) == 1


def test_what_waits_from_another_rate_is_thrown_away(link, terminal, take):
    terminal.write(b"~")  # one byte: all of it has been read once the link has something
    assert link.wait(10.0)
    link.retune(9_600)
    terminal.write(b"x")
    assert joined(take(link, 1)) == b"x"


def test_silence_is_counted_from_the_change_of_rate(link, terminal, take, fake_clock):
    terminal.write(b"noise")
    take(link, 5)
    fake_clock.now += 10.0
    assert link.trouble.reason is LinkFailure.STALLED
    link.retune(9_600)
    assert link.trouble is None
    fake_clock.now += 3.5
    assert link.trouble.reason is LinkFailure.SILENT


def test_link_opened_again_has_the_last_rate(link, terminal):
    link.retune(57_600)
    with link.reopened():
        assert terminal.baud == 57_600


def test_rate_that_the_port_cannot_do(link, terminal, monkeypatch):
    def refuse(_, __):
        raise ValueError("Failed to set custom baud rate")

    monkeypatch.setattr("serial.Serial.baudrate", property(lambda _: 115_200, refuse))
    with pytest.raises(LinkError, match=rf"{terminal.port} cannot do 12345 bit/s") as caught:
        link.retune(12_345)
    assert caught.value.reason is LinkFailure.FAILED


def test_changing_the_rate_of_an_unplugged_sensor(link, terminal, until):
    terminal.close()
    until(lambda: link.ended)
    with pytest.raises(LinkError, match="was unplugged") as caught:
        link.retune(9_600)
    assert caught.value.reason is LinkFailure.UNPLUGGED


def test_opening_again_lets_the_port_go_first(link, terminal, take):
    with link.reopened() as new:
        assert link.ended
        terminal.write(b"x")
        assert joined(take(new, 1)) == b"x"
