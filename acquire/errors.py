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


class LinkError(AcquireError):
    """A link that cannot be opened or has ended."""

    def __init__(self, message: str, *, port: str, reason: LinkFailure) -> None:
        super().__init__(message)
        self.port = port
        self.reason = reason


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
