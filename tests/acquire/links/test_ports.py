import errno
import os

import pytest
import serial
from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

from acquire.errors import LinkError, LinkFailure
from acquire.links import PortInfo, serial_ports
from acquire.links.ports import open_port


def refused(port):
    with pytest.raises(LinkError) as caught:
        open_port(str(port), 115_200)
    assert caught.value.port == str(port)
    assert "\n" not in str(caught.value)
    return caught.value


@pytest.fixture
def refusing(monkeypatch):
    """Make pyserial refuse every port with an error, where the real one cannot be had in a test."""

    def refuse_with(error):
        def refuse(*_args, **_kwargs):
            raise error

        monkeypatch.setattr(serial, "Serial", refuse)

    return refuse_with


def test_missing_port():
    error = refused("/dev/no-such-port")
    assert error.reason is LinkFailure.NOT_FOUND
    assert str(error).startswith("there is no port /dev/no-such-port: plug the sensor in")


def test_path_below_a_file(tmp_path):
    (tmp_path / "file").touch()
    assert refused(tmp_path / "file" / "port").reason is LinkFailure.NOT_FOUND


def test_regular_file(tmp_path):
    (tmp_path / "trace.csv").write_text("time_s,force_n\n")
    error = refused(tmp_path / "trace.csv")
    assert error.reason is LinkFailure.NOT_A_PORT
    assert "trace.csv is not a serial port: choose one of the ports" in str(error)


def test_folder(tmp_path):
    assert refused(tmp_path).reason is LinkFailure.NOT_A_PORT


def test_pipe(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    assert refused(tmp_path / "pipe").reason is LinkFailure.NOT_A_PORT


def test_port_open_elsewhere(terminal):
    with open_port(terminal.port, 115_200):
        error = refused(terminal.port)
    assert error.reason is LinkFailure.BUSY
    assert str(error) == f"{terminal.port} is in use by another program: close that program and try again"


def test_refused_port_is_let_go(terminal):
    with open_port(terminal.port, 115_200):
        refused(terminal.port)
    with open_port(terminal.port, 115_200) as opened:
        assert opened.is_open


def test_no_permission(refusing):
    # Injected: the tests may run as an account that may open everything.
    refusing(serial.SerialException(errno.EACCES, "could not open port"))
    error = refused("/dev/ttyACM0")
    assert error.reason is LinkFailure.NO_PERMISSION
    assert str(error) == (
        "this account may not open /dev/ttyACM0: "
        "join the group that owns the port (on Debian `dialout`) and log in again"
    )


@pytest.mark.parametrize(
    ("number", "reason"),
    [
        (errno.ENXIO, LinkFailure.NOT_FOUND),
        (errno.ENODEV, LinkFailure.NOT_FOUND),
        (errno.EIO, LinkFailure.NOT_FOUND),
        (errno.EBUSY, LinkFailure.BUSY),
        (errno.EPERM, LinkFailure.NO_PERMISSION),
        (errno.ENOMEM, LinkFailure.FAILED),
    ],
)
def test_error_numbers_that_only_hardware_gives(refusing, number, reason):
    refusing(serial.SerialException(number, "could not open port"))
    assert refused("/dev/ttyACM0").reason is reason


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("FileNotFoundError(2, 'The system cannot find the file specified.', None, 2)", LinkFailure.NOT_FOUND),
        ("PermissionError(13, 'Access is denied.', None, 5)", LinkFailure.BUSY),
        ("OSError(22, 'A device attached to the system is not functioning.')", LinkFailure.FAILED),
    ],
)
def test_words_without_a_number_as_on_windows(refusing, text, reason):
    # The form of the message is that of serialwin32.py in pyserial 3.5; the system's words are from memory.
    refusing(serial.SerialException(f"could not open port 'COM9': {text}"))
    assert refused("COM9").reason is reason


def test_impossible_baud_rate(terminal):
    with pytest.raises(LinkError, match=r"cannot be opened \(.*-1.*\)") as caught:
        open_port(terminal.port, -1)
    assert caught.value.reason is LinkFailure.FAILED


def test_ports_are_listed_in_order_with_their_usb_numbers(monkeypatch):
    usb = ListPortInfo("/dev/ttyACM10")
    usb.description, usb.vid, usb.pid = "strain gauge bridge", 0x0A3B, 0x7
    usb_second = ListPortInfo("/dev/ttyACM9")
    monkeypatch.setattr(list_ports, "comports", lambda: [usb, usb_second])
    assert serial_ports() == (
        PortInfo(device="/dev/ttyACM9", description="/dev/ttyACM9"),
        PortInfo(device="/dev/ttyACM10", description="strain gauge bridge", vid="0a3b", pid="0007"),
    )


def test_ports_of_this_computer_are_values():
    assert all(isinstance(port, PortInfo) and port.device for port in serial_ports())
