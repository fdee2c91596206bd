"""Read a settings file into a frozen value, with errors that name the file and the key; write values as TOML."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
import tomllib
from typing import TYPE_CHECKING, Any, TypeVar

import msgspec

from acquire.files.limits import SETTINGS_BYTES, read_whole

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from importlib.resources.abc import Traversable

Value = TypeVar("Value", bound=msgspec.Struct)


def parse_toml(
    path: Traversable, kind: type[Value], *, error: type[Exception], otherwise: Mapping[str, Any] | None = None
) -> Value:
    """Return the file as a value of `kind`.

    Parameters
    ----------
    path : Traversable
        A path, or a file inside a package.
    kind : type
        A frozen `msgspec.Struct` that forbids unknown fields.
    error : type
        The exception to raise, with one plain sentence.
    otherwise : mapping, optional
        What a key or table of the top level is where the file does not have it.

    Raises
    ------
    error
        If the file is not there, is no TOML, or a key is unknown, missing or of the wrong kind.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> class Limits(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    ...     most_n: float
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "limits.toml"
    ...     _ = path.write_text("most_n = 250.0")
    ...     parse_toml(path, Limits, error=ValueError)
    Limits(most_n=250.0)
    """
    try:
        return msgspec.convert({**(otherwise or {}), **load_toml(read_text(path, error=error))}, kind)
    except TomlError as cause:
        raise error(f"{path}: is not valid TOML: {cause}") from cause
    except msgspec.ValidationError as cause:
        raise error(f"{path}: {_plain(str(cause))}") from cause


class TomlError(ValueError):
    """A text that is no TOML, or that no settings file needs; as `tomllib` says it."""


MOST_PARTS = 64
"""Of a dotted key; the reader's memory goes with their square."""
_DOTTED = re.compile(
    r"""(?<![\w"'-])(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){%(most)s}""".replace("%(most)s", str(MOST_PARTS))
)


def load_toml(text: str) -> dict[str, Any]:
    """Return what TOML holds.

    Raises
    ------
    TomlError
        If it is not valid, is nested too deeply, or a key or number is too long.

    Examples
    --------
    >>> load_toml("most_n = 250.0")
    {'most_n': 250.0}
    """
    if found := _DOTTED.search(text):
        line = text.count("\n", 0, found.start()) + 1
        raise TomlError(f"a key has more than {MOST_PARTS} parts (at line {line}, column 1)")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise TomlError("brackets are nested too deeply") from None
    except ValueError as error:  # a number of thousands of digits too
        raise TomlError(str(error)) from error


def read_text(path: Traversable, *, error: type[Exception], most: int = SETTINGS_BYTES) -> str:
    """Return the text of a settings file, in UTF-8; no more than `most` bytes of it.

    Raises
    ------
    error
        If the file is not there, cannot be read, or is no such text.

    Examples
    --------
    >>> from pathlib import Path
    >>> read_text(Path("no-such-file.toml"), error=ValueError)
    Traceback (most recent call last):
    ValueError: no-such-file.toml: there is no such file
    """
    try:
        content = read_whole(path, most=most).decode("utf-8-sig")  # some editors begin a file with a byte order mark
    except (FileNotFoundError, IsADirectoryError, NotADirectoryError):
        raise error(f"{path}: there is no such file") from None
    except OSError as cause:
        raise error(f"{path}: cannot be read: {cause.strerror}") from cause
    except UnicodeDecodeError as cause:
        raise error(f"{path}: is not a text file in UTF-8") from cause
    return content.replace("\r\n", "\n").replace("\r", "\n")


def content_hash(settings: msgspec.Struct) -> str:
    """Return the first 16 hexadecimal digits of the SHA-256 of settings: equal settings, equal hash.

    Examples
    --------
    >>> class Limits(msgspec.Struct, frozen=True):
    ...     most_n: float
    >>> first, second, third = (content_hash(Limits(most_n)) for most_n in (250.0, 250.0, 260.0))
    >>> first == second, first == third
    (True, False)
    """
    return hashlib.sha256(msgspec.json.encode(settings, order="sorted")).hexdigest()[:16]


def line_of(text: str, key: str) -> int | None:
    r"""Return the line on which a key of the top level is set, counted from 1; None where it is not.

    Parameters
    ----------
    text : str
        Valid TOML.
    key : str
        A key, or the name of a table.

    Examples
    --------
    >>> line_of('# a sensor\nrate_hz = 80\n', "rate_hz")
    2
    """
    in_table = False
    for begin, statement, table in _statements(text):
        header = statement.lstrip().startswith("[")
        in_table = in_table or header
        if table is not None and key in table and (header or not in_table):
            return begin
    return None


def unfinished_line(text: str) -> int:
    r"""Return the line on which the last statement begins, of a text that ends too early.

    Examples
    --------
    >>> unfinished_line('name = "a"\ncolumns = ["ms",\n"counts"\n')
    2
    """
    *_, (begin, _, _) = _statements(text.rstrip("\n"))
    return begin


def _statements(text: str) -> Iterator[tuple[int, str, dict[str, Any] | None]]:
    """Yield each statement with its first line and what it says; None where the text ends before it is whole.

    TOML's own reader tells no lines of what is right, so it is given line after line until a statement is whole. That
    holds for any way to write a value, also over several lines; it is asked only where brackets and long strings are
    closed, and no more than `MOST_TRIES` times in vain, so that the time goes with the length of the text.
    """
    begin, statement, open_, tries = 1, list[str](), _Open(), 0
    for number, line in enumerate(text.split("\n"), start=1):
        statement.append(line + "\n")
        open_.take(line)
        if open_.is_closed and tries < MOST_TRIES:
            table = _whole("".join(statement))
            tries += table is None
            if table is not None:
                yield begin, "".join(statement), table
                begin, statement, open_ = number + 1, [], _Open()
    if statement:
        yield begin, "".join(statement), None


MOST_TRIES = 100
_QUOTED = re.compile(r"""\"\"\"|'''|"(?:[^"\\]|\\.)*"|'[^']*'|#.*|[\[\]{}]""")
_STEPS = {"[": 1, "{": 1, "]": -1, "}": -1}


class _Open:
    """What of a statement is still open, line by line: brackets, and strings of several lines."""

    def __init__(self) -> None:
        self._depth = 0
        self._string = ""

    @property
    def is_closed(self) -> bool:
        return self._depth <= 0 and not self._string

    def take(self, line: str) -> None:
        for token in _QUOTED.findall(line):
            if token in {'"""', "'''"}:
                self._string = "" if token == self._string else self._string or token
            elif not self._string:
                self._depth += _STEPS.get(token, 0)


def _whole(text: str) -> dict[str, Any] | None:
    """Return what TOML holds; None where a value is not complete."""
    try:
        return load_toml(text)
    except TomlError:
        return None


def toml_value(value: str | float | dt.date | tuple[Any, ...]) -> str:
    r"""Return a value as TOML text, to be read again as it was.

    Examples
    --------
    >>> toml_value("start\n"), toml_value(80.0), toml_value(("ms", "counts")), toml_value(True)
    ('"start\\n"', '80.0', '["ms", "counts"]', 'true')
    """
    if isinstance(value, str):
        # A JSON string is a TOML string but for DEL, which TOML wants escaped.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, tuple):
        return f"[{', '.join(map(toml_value, value))}]"
    if isinstance(value, bool):
        return str(value).lower()
    return str(value) if isinstance(value, int | dt.date) else repr(float(value))


def _plain(message: str) -> str:
    """Turn "... - at `$.a.b`" into "key a.b: ..."."""
    text, _, place = message.partition(" - at `$.")
    text = text[:1].lower() + text[1:].replace("Object ", "")
    return f"key {place.rstrip('`')}: {text}" if place else text.replace("object contains", "holds")
