"""A table that is kept in a spreadsheet: keys in comment lines at its head, then columns, then rows.

::

    # title: Knee extension of one rowing club
    # source: measured by ourselves, spring
    action,sex,age_from,age_to,n,mean,sd
    knee-extension,female,18,29,41,2.9,0.5

Spreadsheets take such a file apart and put it together again in their own way. So a key may be parted from its
value by a colon or by a cell, cells may be quoted, rows may end in empty cells, and where semicolons part the
columns a decimal comma is a decimal comma. Anything else that does not fit is an error that names file, line
and column.
"""

from __future__ import annotations

import csv
import enum
import io
import re
import reprlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, NoReturn, TypeVar, get_args

import msgspec

from acquire.files.limits import TABLE_BYTES
from acquire.files.tomlfile import read_text
from analysis.errors import TableError

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

Head = TypeVar("Head", bound=msgspec.Struct)
Row = TypeVar("Row", bound=msgspec.Struct)
Value = TypeVar("Value", bound=msgspec.Struct)

MOST_NAMED = 10
"""So many wrong lines are named; the others are counted."""

_KEY = re.compile(r"([A-Za-z][A-Za-z-]*)\s*[:,;\t]\s*(.*)", re.DOTALL)
_DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+")
_PLACE = re.compile(r" - at `\$\.?([^`]*)`$")


@dataclass(frozen=True, slots=True)
class Line(Generic[Row]):
    """A row of a table and where it stands."""

    number: int
    """Its line in the file, from 1."""
    row: Row


@dataclass(frozen=True, slots=True)
class TableFile(Generic[Head, Row]):
    """What a table says of itself, and its rows."""

    head: Head
    lines: tuple[Line[Row], ...]


@dataclass(frozen=True, slots=True)
class _Cells:
    """The cells of one line, empty ones at the end taken off."""

    number: int
    cells: list[str]
    """Without blanks around them."""
    comment: str | None
    """What stands after the sign of a comment, put together again; None where it is none."""


def read_table(path: Traversable, head: type[Head], row_of: Callable[[Head], type[Row]]) -> TableFile[Head, Row]:
    r"""Return a table of a file.

    Parameters
    ----------
    path : Traversable
        A path, or a file inside a package: text in UTF-8, columns parted by commas, semicolons or tabs.
    head : type
        A frozen `msgspec.Struct` of the keys. A field that is a tuple takes a key that is there more than once.
    row_of : callable
        Gives the frozen `msgspec.Struct` of the rows for a head; its fields are the columns. An empty cell is
        a value that is left out.

    Raises
    ------
    TableError
        If there is no such file, a key or column is unknown, missing or there twice, or a value is of the wrong
        kind: it names the file, and the line and the column where there is one. Of rows, every wrong one is named, up
        to `MOST_NAMED`.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> class Source(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    ...     source: str
    >>> class Value(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    ...     action: str
    ...     mean_n: float
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "table.csv"
    ...     _ = path.write_text("# source: invented\naction,mean_n\nhip-flexion,210\n")
    ...     table = read_table(path, Source, lambda head: Value)
    >>> table.head.source, [(line.number, line.row.mean_n) for line in table.lines]
    ('invented', [(3, 210.0)])
    """
    text = read_text(path, error=TableError, most=TABLE_BYTES).removeprefix("\ufeff")
    parting = _parting(text)
    lines = list(_lines(path, text, parting))
    first = next((index for index, line in enumerate(lines) if line.comment is None), len(lines))
    about = _head(path, lines[:first], head)
    if first == len(lines):
        raise TableError(f"{path}: holds no columns, only its head")
    kind = row_of(about)
    columns = _columns(path, lines[first], kind)
    rows = _rows(path, [line for line in lines[first + 1 :] if line.comment is None], columns, kind, parting)
    if not rows:
        raise TableError(f"{path}: holds no rows, only its head and its columns")
    return TableFile(about, tuple(rows))


def _parting(text: str) -> str:
    """Return what parts the columns: of the three, what is most often in the line that names them."""
    names = next((line for line in text.splitlines() if line.strip(' ",;\t') and line.lstrip('" ')[:1] != "#"), "")
    return max(",;\t", key=names.count)


def _lines(path: Traversable, text: str, parting: str) -> Iterator[_Cells]:
    """Yield the lines that hold something."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=parting, strict=True)
    try:
        for cells in reader:
            while cells and not cells[-1].strip():
                cells.pop()
            if cells:
                stripped = [cell.strip() for cell in cells]
                comment = parting.join(cells).strip().lstrip("#").strip() if stripped[0].startswith("#") else None
                yield _Cells(reader.line_num, stripped, comment)
    except csv.Error as cause:
        raise TableError(f"{path}, line {reader.line_num}: is no row of a CSV file: {cause}") from cause


def _head(path: Traversable, lines: list[_Cells], kind: type[Head]) -> Head:
    """Return the keys of the comment lines."""
    fields = msgspec.structs.fields(kind)
    known = [field.encode_name for field in fields]
    several = {field.encode_name for field in fields if isinstance(field.default, tuple)}
    values: dict[str, Any] = {}
    numbers: dict[str, int] = {}
    for line in lines:
        if not line.comment:
            continue
        if (match := _KEY.fullmatch(line.comment)) is None:
            raise TableError(f"{path}, line {line.number}: must be '# key: value', got {reprlib.repr(line.comment)}")
        key, value = match[1].casefold(), match[2]
        if key not in known:
            raise TableError(f"{path}, line {line.number}: there is no key {key}; there are: {', '.join(known)}")
        if key in several:
            values[key] = (*values.get(key, ()), value)
        elif key in values:
            raise TableError(f"{path}, line {line.number}: the key {key} is there twice")
        else:
            values[key] = value
        numbers[key] = line.number
    try:
        return msgspec.convert(values, kind, strict=False)
    except msgspec.ValidationError as cause:
        said, place = _said(cause, kind)
        if place not in numbers:
            raise TableError(f"{path}: {said} in its head, as '# key: value'") from cause
        raise TableError(f"{path}, line {numbers[place]}: key {place}: {_shown(values[place])}{said}") from cause


def _columns(path: Traversable, line: _Cells, kind: type[Row]) -> list[str]:
    """Return the names of the columns, checked against the fields of a row."""
    columns = [cell.casefold() for cell in line.cells]
    fields = msgspec.structs.fields(kind)
    known = [field.encode_name for field in fields]
    for column in columns:
        if column not in known:
            _refuse(path, line, f"there is no column {column or 'without a name'}; there are: {', '.join(known)}")
        if columns.count(column) > 1:
            _refuse(path, line, f"the column {column} is there twice")
    missing = [field.encode_name for field in fields if field.required and field.encode_name not in columns]
    if missing:
        _refuse(path, line, f"the column {missing[0]} is missing")
    return columns


def _rows(path: Traversable, lines: list[_Cells], columns: list[str], kind: type[Row], parting: str) -> list[Line[Row]]:
    """Return the rows, or name all lines that are wrong: whoever types in a table corrects them in one go."""
    rows: list[Line[Row]] = []
    wrong: list[str] = []
    for line in lines:
        try:
            rows.append(_row(path, line, columns, kind, parting))
        except TableError as error:
            wrong.append(str(error))
    if wrong:
        others = [each.removeprefix(f"{path}, ") for each in wrong[1:MOST_NAMED]]
        more = [f"and {len(wrong) - MOST_NAMED} more lines"] if len(wrong) > MOST_NAMED else []
        raise TableError("; ".join([wrong[0], *others, *more]))
    return rows


def _row(path: Traversable, line: _Cells, columns: list[str], kind: type[Row], parting: str) -> Line[Row]:
    """Return one row; empty cells are left out of it."""
    if len(line.cells) > len(columns):
        _refuse(path, line, f"has {len(line.cells)} cells, but there are {len(columns)} columns")
    given = {column: cell for column, cell in zip(columns, line.cells, strict=False) if cell}
    values = {name: _with_point(cell) for name, cell in given.items()} if parting == ";" else given
    try:
        return Line(line.number, msgspec.convert(values, kind, strict=False))
    except msgspec.ValidationError as cause:
        said, place = _said(cause, kind)
        where = f", column {place}" if place else ""
        raise TableError(f"{path}, line {line.number}{where}: {_shown(given.get(place))}{said}") from cause


def _with_point(cell: str) -> str:
    return cell.replace(",", ".") if _DECIMAL_COMMA.fullmatch(cell) else cell


_PLAIN = {
    "Object missing required field": "there must be a value for",
    "Expected `str` of length >= 1": "must not be empty",
    " | null`": "`",
    "`float`": "a number",
    "`int`": "a whole number",
    ", got `str`": "",
}
"""The words of `msgspec`, and ours."""


def _said(cause: msgspec.ValidationError, kind: type[msgspec.Struct]) -> tuple[str, str]:
    """Return what is wrong and of which key or column, "" when it is about none."""
    text = str(cause)
    match = _PLACE.search(text)
    place = match[1] if match else ""
    text = _PLACE.sub("", text)
    if text.startswith("Invalid enum value"):
        return f"must be one of: {', '.join(_allowed(kind, place))}", place
    for theirs, ours in _PLAIN.items():
        text = text.replace(theirs, ours)
    return text[:1].lower() + text[1:], place


def _allowed(kind: type[msgspec.Struct], place: str) -> Iterator[str]:
    """Yield the words that a key or column may hold."""
    (found,) = (field.type for field in msgspec.structs.fields(kind) if field.encode_name == place)
    yield from _words(found)


def _words(kind: Any) -> Iterator[str]:  # noqa: ANN401 (a type form: an enum, a Literal, or a union of such)
    parts = tuple(kind) if isinstance(kind, enum.EnumType) else get_args(kind)
    for part in parts:
        if isinstance(part, str):
            yield str(part)
        else:
            yield from _words(part)


def _shown(value: object) -> str:
    return f"{value!r}: " if isinstance(value, str) else ""


def _refuse(path: Traversable, line: _Cells, what: str) -> NoReturn:
    raise TableError(f"{path}, line {line.number}: {what}")
