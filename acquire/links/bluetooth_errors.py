"""What bleak and the system below it raise, as one `LinkError` with a reason and a sentence that says what to do.

On Linux bleak speaks to the Bluetooth service over D-Bus. A missing bus is a plain OSError, a missing service a
D-Bus error, and a timeout asyncio's; the rest are bleak's own.
"""

from __future__ import annotations

import sys

from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakError,
    BleakGATTProtocolError,
    BleakGATTProtocolErrorCode,
)

from acquire.errors import LinkDetail, LinkError, LinkFailure

if sys.platform == "linux":
    from dbus_fast.errors import InvalidAddressError, InvalidMessageError

    # the last two where something listens at its address that is no bus
    NO_BUS: tuple[type[Exception], ...] = (OSError, InvalidAddressError, InvalidMessageError, UnicodeDecodeError)
else:
    NO_BUS = (OSError,)

BLUETOOTH_ERRORS: tuple[type[Exception], ...] = (BleakError, *NO_BUS, TimeoutError, EOFError)
"""What bleak may raise; EOFError where its bus hangs up in mid-message."""

Why = BleakBluetoothNotAvailableReason
NOT_AVAILABLE = {
    Why.NO_BLUETOOTH: LinkFailure.NO_BLUETOOTH,
    Why.NO_BLE_CENTRAL_ROLE: LinkFailure.NO_BLUETOOTH,
    Why.POWERED_OFF: LinkFailure.BLUETOOTH_OFF,
    Why.DENIED_BY_USER: LinkFailure.NO_PERMISSION,
    Why.DENIED_BY_SYSTEM: LinkFailure.NO_PERMISSION,
    Why.DENIED_BY_UNKNOWN: LinkFailure.NO_PERMISSION,
}
DBUS_REASONS = {
    "org.freedesktop.DBus.Error.ServiceUnknown": LinkFailure.NO_BLUETOOTH,
    "org.freedesktop.DBus.Error.NameHasNoOwner": LinkFailure.NO_BLUETOOTH,
    "org.freedesktop.DBus.Error.AccessDenied": LinkFailure.NO_PERMISSION,
    "org.bluez.Error.NotReady": LinkFailure.BLUETOOTH_OFF,
    "org.bluez.Error.InProgress": LinkFailure.BUSY,
    "org.bluez.Error.AlreadyConnected": LinkFailure.BUSY,
    "org.freedesktop.DBus.Error.UnknownObject": LinkFailure.NOT_FOUND,
    "org.bluez.Error.DoesNotExist": LinkFailure.NOT_FOUND,
}
"""Names from BlueZ's own documentation of its D-Bus interface (org.bluez.Adapter, Device, GattCharacteristic)."""
NOT_PERMITTED = {"Not paired": LinkFailure.NOT_PAIRED, "Notify acquired": LinkFailure.BUSY}
"""BlueZ's org.bluez.Error.NotPermitted means several things, and only its text says which."""

Gatt = BleakGATTProtocolErrorCode
UNPAIRED = {
    Gatt.INSUFFICIENT_AUTHENTICATION,
    Gatt.INSUFFICIENT_AUTHORIZATION,
    Gatt.INSUFFICIENT_ENCRYPTION,
    Gatt.INSUFFICIENT_ENCRYPTION_KEY_SIZE,
}
"""Bluetooth Core Specification, Vol 3, Part F, 3.4.1.1: what a sensor answers until it is paired."""

SENTENCES = {
    LinkFailure.NO_BLUETOOTH: "this computer has no working Bluetooth ({error}): plug in an adapter, or start the "
    "system's Bluetooth service (on Debian: systemctl start bluetooth)",
    LinkFailure.BLUETOOTH_OFF: "Bluetooth is switched off: switch it on in the system's settings and try again",
    LinkFailure.NO_PERMISSION: "this account may not use Bluetooth: allow it in the system's privacy settings "
    "(on Debian join the group `bluetooth`) and log in again",
    LinkFailure.NOT_FOUND: "no sensor {port} is in range: switch it on, bring it near, and see that no telephone or "
    "other program is connected to it",
    LinkFailure.BUSY: "{port} is in use by another program: close that program and try again",
    LinkFailure.NOT_PAIRED: "{port} must be paired with this computer first: pair it in the system's Bluetooth "
    "settings and try again",
    LinkFailure.FAILED: "{port} cannot be reached ({error}): switch it off and on, bring it near and try again",
}


def bluetooth_error(error: Exception, port: str) -> LinkError:
    """Return what an exception of bleak means for the user.

    Parameters
    ----------
    error : Exception
        One of `BLUETOOTH_ERRORS`.
    port : str
        The sensor, as the user knows it.
    """
    return _link_error(_reason(error), port, error=_said(error))


def not_found(port: str, *, close: str | None = None) -> LinkError:
    """Return the error of a sensor that is not in range; `close` is the name of one that may be meant."""
    if close is None:
        return _link_error(LinkFailure.NOT_FOUND, port)
    sentence = f"{SENTENCES[LinkFailure.NOT_FOUND].format(port=port)}; did you mean {close}?"
    return LinkError(sentence, port=port, reason=LinkFailure.NOT_FOUND, detail=LinkDetail.CLOSE_NAME, name=close)


def wrong_profile(port: str, what: str) -> LinkError:
    """Return the error of a sensor that is not as its profile says, such as `it has no service 180f`."""
    sentence = f"{port} is not as its profile says ({what}): choose another profile, or correct this one"
    return LinkError(sentence, port=port, reason=LinkFailure.FAILED, detail=LinkDetail.WRONG_PROFILE, error=what)


def _link_error(reason: LinkFailure, port: str, *, error: str = "") -> LinkError:
    detail = LinkDetail.UNREACHABLE if reason is LinkFailure.FAILED else None
    return LinkError(
        SENTENCES[reason].format(port=port, error=error), port=port, reason=reason, detail=detail, error=error
    )


def _reason(error: Exception) -> LinkFailure:  # noqa: PLR0911 # one return for each kind of exception
    if isinstance(error, BleakBluetoothNotAvailableError):
        return NOT_AVAILABLE.get(error.reason, LinkFailure.NO_BLUETOOTH)
    if isinstance(error, BleakGATTProtocolError):
        return LinkFailure.NOT_PAIRED if error.code in UNPAIRED else LinkFailure.FAILED
    if isinstance(error, BleakDBusError):
        return _dbus_reason(error)
    if isinstance(error, BleakDeviceNotFoundError):
        return LinkFailure.NOT_FOUND
    if isinstance(error, PermissionError):
        return LinkFailure.NO_PERMISSION
    if isinstance(error, NO_BUS) and not isinstance(error, TimeoutError):
        return LinkFailure.NO_BLUETOOTH  # the system bus itself cannot be reached
    return LinkFailure.FAILED


def _dbus_reason(error: BleakDBusError) -> LinkFailure:
    if error.dbus_error == "org.bluez.Error.NotPermitted":
        return NOT_PERMITTED.get(error.dbus_error_details or "", LinkFailure.FAILED)
    return DBUS_REASONS.get(error.dbus_error, LinkFailure.FAILED)


def _said(error: Exception) -> str:
    """Return the error's own words in one line."""
    if isinstance(error, TimeoutError):
        return "it did not answer in time"
    if isinstance(error, NO_BUS):
        return "the system bus cannot be reached"
    if isinstance(error, BleakBluetoothNotAvailableError | BleakGATTProtocolError):
        # these hold a reason or a code beside their words
        return " ".join(word for word in error.args if isinstance(word, str)).rstrip(".")
    return " ".join(str(error).split()) or type(error).__name__
