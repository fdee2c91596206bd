"""What can go wrong below the analysis.

::

    AcquireError                what, where, what to do
    ├── ProfileError            a sensor profile that cannot be used
    ├── CalibrationError        a calibration that cannot be made or read
    ├── DiscoveryError          a sensor whose data cannot be made out; `reason` says why
    ├── LinkError               a link that cannot be opened or has ended; `reason` says which
    ├── TraceFileError          a stored trace that cannot be read
    ├── DisturbanceError        a file that says how bad a link is, and cannot be used
    └── ArchiveError            a session file or journal that cannot be read or written

Each message is one plain sentence that says what is wrong, where, and what to do. Programs read the
attributes, never the text.
"""

from __future__ import annotations

import enum


class AcquireError(Exception):
    """Base of all errors of this package."""


class ProfileError(AcquireError):
    """A sensor profile that cannot be used; `key` and `line` say where, as far as it is one place."""

    def __init__(self, message: str, *, key: str = "", line: int | None = None) -> None:
        super().__init__(message)
        self.key = key
        self.line = line


class CalibrationError(AcquireError):
    """A calibration that cannot be made or read."""


class LinkFailure(enum.Enum):
    """Why a link cannot be opened or has ended."""

    NOT_FOUND = "not found"
    NOT_A_PORT = "not a port"
    BUSY = "busy"
    NO_PERMISSION = "no permission"
    SILENT = "silent"
    """Nothing was ever sent."""
    STALLED = "stalled"
    """Data came, then stopped."""
    UNPLUGGED = "unplugged"
    OUT_OF_REACH = "out of reach"
    """A Bluetooth link that was up has broken."""
    NO_BLUETOOTH = "no Bluetooth"
    """This computer has no Bluetooth that works."""
    BLUETOOTH_OFF = "Bluetooth off"
    NOT_PAIRED = "not paired"
    """The sensor talks to computers that it was paired with, and not to this one."""
    FAILED = "failed"


class LinkDetail(enum.Enum):
    """What exactly is wrong with a link, where its reason alone does not say what to do."""

    NOT_OPENED = "not opened"
    """With `error`, the words of the system; so has UNREACHABLE."""
    UNREACHABLE = "unreachable"
    BAUD_RATE = "baud rate"
    """With `baud`."""
    CLOSED = "closed"
    NOT_TAKEN = "not taken"
    """The sensor does not take what is sent to it."""
    NO_COMMANDS = "no commands"
    OVERFLOW = "overflow"
    """With `megabytes` that nobody took."""
    SEARCH_ENDED = "search ended"
    PROGRAM_FAULT = "program fault"
    """With `error`; so have WRONG_PROFILE and NOT_STARTED."""
    WRONG_PROFILE = "wrong profile"
    NOT_STARTED = "not started"
    SENDS_NOTHING = "sends nothing"
    SEVERAL = "several"
    """With `names` of the sensors that fit."""
    CLOSE_NAME = "close name"
    """With `name`, the one that may be meant."""
    NO_PORT = "no port"
    """None was chosen; with `sensor`, its profile."""
    SERIAL_PORT = "serial port"
    """For a Bluetooth sensor; with `sensor`."""
    NOT_UNDERSTOOD = "not understood"
    """With `seconds` in which nothing that can be understood came."""
    NOTHING_MORE = "nothing more"


class LinkError(AcquireError):
    """A link that cannot be opened or has ended; `detail` and `values` say more where the reason leaves it open."""

    def __init__(
        self, message: str, *, port: str, reason: LinkFailure, detail: LinkDetail | None = None, **values: object
    ) -> None:
        super().__init__(message)
        self.port = port
        self.reason = reason
        self.detail = detail
        self.values = values


class DiscoveryFailure(enum.Enum):
    """Why it cannot be made out what a sensor sends."""

    SILENT = "silent"
    TOO_LITTLE = "too little"
    WRONG_BAUD = "wrong baud rate"
    """Or wrong data bits and parity."""
    BINARY = "binary"
    """Of no known format."""
    UNREADABLE = "unreadable"
    """A wrong baud rate or a binary format: the bytes do not tell."""
    NO_NUMBERS = "no numbers"
    """Text without numbers as the format wants them."""
    NO_RATE = "no rate"
    """Nothing tells the time: a file of bytes without a clock in them."""
    UNUSABLE = "unusable"
    """What was found makes no profile."""


class DiscoveryError(AcquireError):
    """A sensor whose data cannot be made out."""

    def __init__(self, message: str, *, reason: DiscoveryFailure) -> None:
        super().__init__(message)
        self.reason = reason


class TraceFileError(AcquireError):
    """A stored trace that cannot be read."""


class DisturbanceError(AcquireError):
    """A file that says how bad a link is, and cannot be used."""


class ArchiveError(AcquireError):
    """A session file or journal that cannot be read or written."""
