"""What a sensor is: a TOML file that says how it talks, not a class.

The program comes with a profile for each typical kind of sensor (``acquire/data/sensors``). A user copies
one, changes what differs and gives the file's path. The wire formats behind `framing` are specified in
hardware_notes/wire_formats.md.

A file is checked in full when it is read, and what is wrong is said with the file, the line, the key and what the
key must be. All keys are listed, with an example each, in hardware_notes/profiles.md.
"""

from __future__ import annotations

import difflib
import math
import re
import reprlib
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

import msgspec
from msgspec import Meta
from msgspec.structs import FieldInfo

from acquire.errors import ProfileError
from acquire.files.named_file import named_or_path
from acquire.files.tomlfile import TomlError, line_of, load_toml, read_text, unfinished_line
from acquire.sensor.clock_columns import CLOCK_COLUMNS
from acquire.values.calibration import Calibration

ColumnName = Literal["counts", "n", "value", "seq", "ms", "us", "s", "-"]
FORCE_COLUMNS = ("counts", "n", "value")
"""The first of these that a line holds is the force; others are ignored."""
BELONGS = {
    "columns": ("framing", "lines"),
    "separator": ("framing", "lines"),
    "sequence_bits": ("framing", "lines"),
    "tick_hz": ("framing", "packets"),
    "baud": ("link", "serial"),
    "service": ("link", "bluetooth"),
    "characteristic": ("link", "bluetooth"),
    "command_characteristic": ("link", "bluetooth"),
}
"""Keys that mean something for one framing or one link only."""

UUID = r"[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}"

Name = Annotated[
    str, Meta(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*\Z", description="lower-case letters, digits and single hyphens")
]
Positive = Annotated[float, Meta(gt=0, description="a number above 0")]
Number = Annotated[float, Meta(description="a number")]
Command = Annotated[str, Meta(pattern=r"^[\x00-\x7f]*\Z", description="text of ASCII characters, \\n for a line end")]
OptionalUuid = Annotated[
    str, Meta(pattern=rf"^({UUID})?\Z", description="a UUID of 32 hexadecimal digits, as 8-4-4-4-12")
]


class Profile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One kind of sensor: its link, its wire format, its rate and its nominal sensitivity."""

    name: Name
    title: Annotated[str, Meta(pattern=r"^[^\n]+\Z", description="one line of text")]
    """What it is, in one line."""
    link: Annotated[Literal["serial", "bluetooth"], Meta(description='"serial" or "bluetooth"')] = "serial"
    baud: Annotated[int, Meta(gt=0, description="a whole number above 0")] = 115_200
    """Bits per second of a serial line, 8N1. A USB device port ignores it."""
    service: OptionalUuid = ""
    """Bluetooth: the service that holds the characteristic."""
    characteristic: OptionalUuid = ""
    """Bluetooth: what notifies the samples."""
    command_characteristic: OptionalUuid = ""
    """Bluetooth: what `start`, `stop` and `zero` are written to, in the same service; `characteristic` without it."""
    framing: Annotated[Literal["lines", "packets"], Meta(description='"lines" or "packets"')]
    columns: Annotated[
        tuple[ColumnName, ...],
        Meta(description='a list of "counts", "n" (newtons), "value", "seq", "ms", "us", "s" and "-" (ignored)'),
    ] = ()
    """Lines: what each column holds. `value` is a decimal number that goes with the force, in any unit. Where a
    sensor sends several, counts are kept before newtons, newtons before a value, and the others ignored.

    Counters of `ms` and `us` are unsigned 32 bit: they go back to 0 at 2**32 of their own steps, after 49.7
    days or 71.6 minutes. The decoders give them as sent; the time base follows them round.
    """
    separator: Annotated[
        str, Meta(pattern=r"^[,;:| \t]\Z", description="one of comma, semicolon, colon, bar, space and tab")
    ] = ","
    """Lines: the character between columns."""
    count_bits: Annotated[Literal[16, 24, 32], Meta(description="16, 24 or 32")] = 24
    """Width of the converter. Its two's complement limits the counts; packets send counts this wide."""
    sequence_bits: Annotated[int, Meta(ge=1, le=32, description="a whole number from 1 to 32")] = 16
    """Width of the sequence number; always 16 in packets."""
    tick_hz: Positive = 1e6
    """Packets: steps of the device clock per second. The clock is unsigned 32 bit."""
    rate_hz: Positive
    """Nominal samples per second."""
    rated_force_n: Positive
    """The most the sensor may carry, N."""
    rating: Annotated[Literal["stated", "unknown"], Meta(description='"stated" or "unknown"')] = "stated"
    """Unknown: `rated_force_n` is a guess, and clips nothing; only the converter's own ends do."""
    counts_per_newton: Number
    """Nominal sensitivity, negative when counts fall as the effort rises; 1 or -1 with column `n`."""
    sensitivity: Annotated[Literal["nominal", "unknown"], Meta(description='"nominal" or "unknown"')] = "nominal"
    """Unknown: `counts_per_newton` is a guess, and until known weights were hung, so is every newton."""
    zero_counts: Number = 0.0
    """Counts of the unloaded sensor, roughly."""
    start: Command = ""
    """Sent when the link is opened."""
    stop: Command = ""
    """Sent before it is closed."""
    zero: Command = ""
    """Sent when the user asks for it: the unloaded sensor takes its own zero."""
    silent_after_s: Positive = 3.0
    """A sensor that has sent nothing for so long after opening is silent, s."""

    def __post_init__(self) -> None:
        _check_numbers(self)
        _check_belonging(self)
        if self.framing == "lines":
            _check_columns(self)
        if self.link == "bluetooth" and not (self.service and self.characteristic):
            raise ProfileKeyError("characteristic", "a bluetooth sensor needs both service and characteristic")

    @property
    def limit_counts(self) -> tuple[int, int]:
        """Lowest and highest count of the converter."""
        half = 1 << (self.count_bits - 1)
        return -half, half - 1

    @property
    def force_column(self) -> str:
        """What the force comes as: "counts", "n" or "value"."""
        return next((name for name in FORCE_COLUMNS if name in self.columns), "counts")

    @property
    def sends_counts(self) -> bool:
        """Whether it sends whole counts of a converter, and no decimal numbers."""
        return self.force_column == "counts"

    @property
    def stated_force_n(self) -> float | None:
        """The rated force, N; None where it is a guess."""
        return self.rated_force_n if self.rating == "stated" else None

    def nominal_calibration(self) -> Calibration:
        """Return the sensitivity of the profile, for a sensor that nobody has calibrated.

        Returns
        -------
        Calibration
            Without points or date, so that its state is "missing".

        Examples
        --------
        >>> load_profile("simulated").nominal_calibration().force([4000, 8000]).tolist()
        [1.0, 2.0]
        """
        return Calibration(
            newtons_per_count=1 / self.counts_per_newton,
            zero_counts=self.zero_counts,
            rated_force_n=self.stated_force_n,
            limit_counts=self.limit_counts if self.sends_counts else None,
            guess=True if self.sensitivity == "unknown" else None,
        )


SHORTENED = reprlib.Repr()
"""A wrong value is shown as far as it takes to recognise it."""
SHORTENED.maxstring = SHORTENED.maxother = 80

FASTEST_HZ = 50_000.0
"""Minutes of the stream are kept in memory; a faster sensor was never tried."""

FIELDS: dict[str, FieldInfo] = {field.name: field for field in msgspec.structs.fields(Profile)}


def load_profile(name_or_path: str | Path) -> Profile:
    """Return the profile of a name, or from a file.

    Parameters
    ----------
    name_or_path : str or Path
        A name of a shipped profile, or the path of a TOML file.

    Raises
    ------
    ProfileError
        If there is no such profile or file, or the file is not right; says the file, the line, the key and
        what the key must be.

    Examples
    --------
    >>> load_profile("bridge-80").rate_hz
    80.0
    """
    return _read(named_or_path(str(name_or_path), folder=_shipped(), kind="sensor profile", error=ProfileError))


def known_profiles() -> tuple[Profile, ...]:
    """Return the profiles the program comes with, in the order of their names.

    Examples
    --------
    >>> [profile.name for profile in known_profiles()][:4]
    ['ble-lines', 'ble-packets', 'board-lines', 'board-packets']
    """
    found = [_read(file) for file in _shipped().iterdir() if file.name.endswith(".toml")]
    return tuple(sorted(found, key=lambda profile: profile.name))


def _shipped() -> Traversable:
    return files("acquire") / "data" / "sensors"


class ProfileKeyError(ValueError):
    """One key of a profile that is not right."""

    def __init__(self, key: str, what: str) -> None:
        super().__init__(f"key {key}: {what}")
        self.key = key


def _read(path: Traversable) -> Profile:
    text = read_text(path, error=ProfileError)
    try:
        table = load_toml(text)
        _check_keys(table)
        return Profile(**{key: _converted(table[key], field) for key, field in FIELDS.items() if key in table})
    except TomlError as cause:
        raise _not_toml(path, text, str(cause)) from cause
    except ProfileKeyError as cause:
        raise _error(path, str(cause), line=line_of(text, cause.key), key=cause.key) from cause


def _not_toml(path: Traversable, text: str, what: str) -> ProfileError:
    """Return the error of a file that cannot be read on, with the key that its line seems to set."""
    what, _, place = what.partition(" (at ")
    at = re.match(r"line (\d+), column (\d+)", place)
    line = int(at[1]) if at else unfinished_line(text)
    found = re.match(r"\s*([\w-]+)\s*=", text.split("\n")[line - 1])
    key = found[1] if found else ""
    about = f"key {key}: is not valid TOML: {what}" if key else f"is not valid TOML: {what}"
    hint = f"{about} (column {at[2]})" if at else f"{about}; the file ends before this is complete"
    return _error(path, hint, line=line, key=key)


def _error(path: Traversable, what: str, *, line: int | None, key: str) -> ProfileError:
    where = f"{path}, line {line}" if line else str(path)
    return ProfileError(f"{where}: {what}", line=line, key=key)


def _check_keys(table: dict[str, object]) -> None:
    for key in table:
        if key not in FIELDS:
            raise ProfileKeyError(key, f"is unknown; {_instead_of(key)}")
    for key, field in FIELDS.items():
        if field.required and key not in table:
            raise ProfileKeyError(key, f"is missing; add {key} = {meaning(field)}")
    rate = table["rate_hz"]
    if isinstance(rate, int | float) and FASTEST_HZ < rate < math.inf:
        raise ProfileKeyError("rate_hz", f"must be {FASTEST_HZ:.0f} at most, got {rate}")


def _instead_of(key: str) -> str:
    close = difflib.get_close_matches(key, FIELDS, n=1)
    return f"did you mean {close[0]}?" if close else f"take it out; the keys are: {', '.join(FIELDS)}"


def _converted(value: object, field: FieldInfo) -> Any:  # noqa: ANN401 # as the field declares
    try:
        return msgspec.convert(value, field.type)
    except msgspec.ValidationError as cause:
        raise ProfileKeyError(field.name, f"must be {meaning(field)}, got {SHORTENED.repr(value)}") from cause


def meaning(field: FieldInfo) -> str:
    """Return what a key must be, from its declaration.

    Examples
    --------
    >>> meaning(FIELDS["rate_hz"])
    'a number above 0'
    """
    return next(str(extra.description) for extra in get_args(field.type) if isinstance(extra, Meta))


def _check_numbers(profile: Profile) -> None:
    for key in ("tick_hz", "rate_hz", "rated_force_n", "counts_per_newton", "zero_counts", "silent_after_s"):
        value = getattr(profile, key)
        if not math.isfinite(value):
            raise ProfileKeyError(key, f"must be a finite number, got {value}")
    if profile.counts_per_newton == 0:
        raise ProfileKeyError("counts_per_newton", "must not be 0; give counts for one newton, with its sign")


def _check_belonging(profile: Profile) -> None:
    for key, (choice, wanted) in BELONGS.items():
        chosen = getattr(profile, choice)
        if chosen != wanted and getattr(profile, key) != FIELDS[key].default:
            raise ProfileKeyError(
                key, f'is for {choice} = "{wanted}" only, and this is "{chosen}"; change one of the two'
            )


def _check_columns(profile: Profile) -> None:
    columns = profile.columns
    named = [column for column in columns if column != "-"]
    if not set(columns) & set(FORCE_COLUMNS):
        raise ProfileKeyError("columns", f"must hold a force column, counts, n or value, got {list(columns)}")
    if len(named) != len(set(named)):
        raise ProfileKeyError("columns", f'each may come once, got {list(columns)}; ignore others with "-"')
    if len(set(columns) & set(CLOCK_COLUMNS)) > 1:
        raise ProfileKeyError("columns", f'may hold one clock at most, got {list(columns)}; ignore others with "-"')
    if profile.force_column == "n" and abs(profile.counts_per_newton) != 1:
        raise ProfileKeyError(
            "counts_per_newton",
            f'must be 1 or -1 with column n, got {profile.counts_per_newton}; other units are a column "value"',
        )
