"""The serial ports of this computer: which there are, and opening one.

pyserial tells what is wrong with a port in several ways: with an error number, with a `termios.error`
behind it, or only in words. Here they become one `LinkError` with a reason and a sentence that says what to do.
"""

from __future__ import annotations

import errno
import os
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import serial

from acquire.errors import LinkDetail, LinkError, LinkFailure
from acquire.values.outside_text import visible

if TYPE_CHECKING:
    from collections.abc import Iterator

if sys.platform == "win32":
    NOT_A_TERMINAL: tuple[type[Exception], ...] = ()
else:
    import termios

    NOT_A_TERMINAL: tuple[type[Exception], ...] = (termios.error,)

PORT_ERRORS: tuple[type[Exception], ...] = (OSError, *NOT_A_TERMINAL)
"""What an open port may raise: pyserial's own exception is an OSError, `termios.error` is not."""
OPEN_ERRORS: tuple[type[Exception], ...] = (*PORT_ERRORS, ValueError)

READ_TIMEOUT_S = 0.1
WRITE_TIMEOUT_S = 1.0

ERRNO_REASONS = {
    errno.ENOENT: LinkFailure.NOT_FOUND,
    errno.ENOTDIR: LinkFailure.NOT_FOUND,
    errno.ENXIO: LinkFailure.NOT_FOUND,
    errno.ENODEV: LinkFailure.NOT_FOUND,
    errno.EIO: LinkFailure.NOT_FOUND,  # the port is just hanging up
    errno.EISDIR: LinkFailure.NOT_A_PORT,
    errno.ENOTTY: LinkFailure.NOT_A_PORT,
    errno.EAGAIN: LinkFailure.BUSY,
    errno.EBUSY: LinkFailure.BUSY,
    errno.EACCES: LinkFailure.NO_PERMISSION,
    errno.EPERM: LinkFailure.NO_PERMISSION,
}
# On Windows pyserial gives no error number, only the system's error in its text;
# a port that is open elsewhere is "access denied" there.
NAMED_REASONS = {"FileNotFoundError": LinkFailure.NOT_FOUND, "PermissionError": LinkFailure.BUSY}

CHOOSE = "choose one of the ports that `ramphold sensors` lists"
SENTENCES = {
    LinkFailure.NOT_FOUND: f"there is no port {{port}}: plug the sensor in, or {CHOOSE}",
    LinkFailure.NOT_A_PORT: f"{{port}} is not a serial port: {CHOOSE}",
    LinkFailure.BUSY: "{port} is in use by another program: close that program and try again",
    LinkFailure.NO_PERMISSION: "this account may not open {port}: "
    "join the group that owns the port (on Debian `dialout`) and log in again",
    LinkFailure.FAILED: "{port} cannot be opened ({error}): unplug the sensor, plug it back in and try again",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PortInfo:
    """One serial port of this computer."""

    device: str
    """What to open, like ``/dev/ttyACM0`` or ``COM3``."""
    description: str
    """What the port calls itself; the device's own name where it says nothing."""
    vid: str | None = None
    """USB vendor number, four hex digits; None where the port is not on USB."""
    pid: str | None = None
    """USB product number, four hex digits."""


def serial_ports() -> tuple[PortInfo, ...]:
    """Return the serial ports of this computer, sorted by device."""
    from serial.tools import list_ports  # noqa: PLC0415 - only needed to list, and slower than all else here

    return tuple(
        PortInfo(
            device=found.device,
            description=found.device if found.description in {None, "n/a"} else visible(found.description),
            vid=_hex(found.vid),
            pid=_hex(found.pid),
        )
        for found in sorted(list_ports.comports())
    )


class UsbName(NamedTuple):
    """What a sensor on USB is called wherever it is plugged in."""

    vid: int
    pid: int
    serial: str
    interface: str
    """Of a sensor with several ports, which; else nothing."""


def usb_name(port: str) -> UsbName | None:
    """Return the name of the sensor on a port; None where it has no serial number, or is not on USB."""
    own = os.path.realpath(port)
    return next((name for device, name in _usb_names() if own in {device, os.path.realpath(device)}), None)


def port_of(name: UsbName) -> str | None:
    """Return the port that a sensor is on now; None where it is on none, or two call themselves so."""
    found = [device for device, other in _usb_names() if other == name]
    return found[0] if len(found) == 1 else None


def _usb_names() -> Iterator[tuple[str, UsbName]]:
    from serial.tools import list_ports  # noqa: PLC0415 - as above

    for found in list_ports.comports():
        if found.serial_number and found.vid is not None and found.pid is not None:
            yield found.device, UsbName(found.vid, found.pid, found.serial_number, found.interface or "")


def open_port(port: str, baud: int) -> serial.Serial:
    """Open a port for this program alone, and throw away what waited there from before.

    Raises
    ------
    LinkError
        NOT_FOUND, NOT_A_PORT, BUSY, NO_PERMISSION or FAILED.
    """
    try:
        return serial.Serial(port, baud, timeout=READ_TIMEOUT_S, write_timeout=WRITE_TIMEOUT_S, exclusive=True)
    except OPEN_ERRORS as error:
        reason = _reason(error)
        sentence = SENTENCES[reason].format(port=port, error=error)
        detail = LinkDetail.NOT_OPENED if reason is LinkFailure.FAILED else None
        raise LinkError(sentence, port=port, reason=reason, detail=detail, error=str(error)) from error


def _reason(error: Exception) -> LinkFailure:
    if isinstance(error, NOT_A_TERMINAL) or isinstance(error.__context__, NOT_A_TERMINAL):
        return LinkFailure.NOT_A_PORT
    number = getattr(error, "errno", None)
    if number is not None:
        return ERRNO_REASONS.get(number, LinkFailure.FAILED)
    named = (reason for name, reason in NAMED_REASONS.items() if name in str(error))
    return next(named, LinkFailure.FAILED)


def _hex(number: int | None) -> str | None:
    return None if number is None else f"{number:04x}"
