from pathlib import Path

import pytest
import serial

from acquire.simulation.pty import PseudoTerminal


def test_bytes_pass_both_ways_unchanged():
    everything = bytes(range(256))
    with PseudoTerminal() as terminal, serial.Serial(terminal.port, timeout=5) as host:
        assert terminal.write(everything) == 256
        assert host.read(256) == everything
        host.write(everything)
        host.flush()
        assert terminal.read() == everything


def test_nothing_sent_is_nothing_read():
    with PseudoTerminal() as terminal:
        assert terminal.read() == b""


def test_own_bytes_do_not_come_back_before_a_host_is_there():
    with PseudoTerminal() as terminal:
        terminal.write(b"hello\n")
        assert terminal.read() == b""


def test_full_terminal_takes_no_more():
    with PseudoTerminal() as terminal:
        taken = [terminal.write(bytes(4096)) for _ in range(100)]
    assert taken[0] > 0
    assert taken[-1] == 0


def test_closing_hangs_up_and_twice_is_the_same_as_once():
    terminal = PseudoTerminal()
    with serial.Serial(terminal.port, timeout=5) as host:
        terminal.close()
        terminal.close()
        with pytest.raises(serial.SerialException, match=r"returned no data|Input/output error"):
            host.read(1)


def test_link_is_the_name_of_the_port_while_it_is_there(tmp_path):
    name = tmp_path / "sensor"
    with PseudoTerminal(link=name) as terminal:
        assert terminal.port == str(name)
        with serial.Serial(terminal.port, timeout=5) as host:
            terminal.write(b"x")
            assert host.read(1) == b"x"
    assert not name.is_symlink()


def test_link_left_over_from_a_crash_is_replaced(tmp_path):
    name = tmp_path / "sensor"
    name.symlink_to("/dev/pts/99999")
    with PseudoTerminal(link=name):
        assert name.exists()


def test_file_in_the_way_of_the_link_is_kept(tmp_path):
    name = tmp_path / "sensor"
    name.write_text("mine")
    before = len(list(Path("/proc/self/fd").iterdir()))
    with pytest.raises(FileExistsError):
        PseudoTerminal(link=name)
    assert name.read_text() == "mine"
    assert len(list(Path("/proc/self/fd").iterdir())) == before


@pytest.mark.parametrize("baud", [2400, 9600, 57_600, 115_200, 921_600, 1_000_000])
def test_rate_that_the_host_chose_is_seen(baud):
    with PseudoTerminal() as terminal, serial.Serial(terminal.port, 19_200) as host:
        assert terminal.baud == 19_200
        host.baudrate = baud
        assert terminal.baud == baud


def test_rate_without_a_name_is_not_known():
    with PseudoTerminal() as terminal, serial.Serial(terminal.port, 12_345):
        assert terminal.baud is None
