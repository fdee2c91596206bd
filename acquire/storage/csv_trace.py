"""Traces as plain text: ``time_s,force_n`` a line, or the force alone at a known rate.

Two readers do the same job. The quick one takes only text that is plainly right, and has `msgspec` parse it as
one JSON list, twice as fast as ``np.loadtxt``. Anything unusual goes to the careful one, which reads line
by line, and so can name the line that is wrong. Where both read a text they agree to the last bit, and with
Python's ``float`` (``tests/acquire/storage/test_csv_trace.py``).

Lines that are blank or begin with ``#`` are passed over, a comment may end a line, and the first line may name
the columns. A force that is empty, beside a time, is a sample that was lost, and stays in the trace as NaN.

Where the samples of a packet share one time, as in files of Bluetooth sensors, they are spread evenly
(`acquire.values.time_stamps`). A time that is repeated by itself is an error.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, NoReturn, Protocol

import msgspec
import numpy as np

from acquire.errors import TraceFileError
from acquire.files.atomic import replace_file
from acquire.files.limits import TRACE_BYTES, read_whole
from acquire.values.records import Trace
from acquire.values.time_stamps import are_shared, spread

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from acquire.values.arrays import FloatArray


MOST_IN_LINE = 1000
"""Characters of a line that is no comment; two numbers take fifty."""
HINTED = 200
"""So much of a line is looked at to tell what is wrong with it."""

_TIME, _FORCE = "time_s", "force_n"
_HEADERS = ([_TIME, _FORCE], [_FORCE, _TIME], [_FORCE])
_NUMERIC = b"0123456789+-.eE"
_BLANK_LINES = re.compile(rb"\n{2,}")
_quick_decoder = msgspec.json.Decoder(list[float | None])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CsvTrace:
    """A trace as the file gave it; `acquire.values.records.Trace.from_samples` shows its gaps."""

    time: FloatArray
    """Seconds, shape (n,), strictly increasing."""
    force: FloatArray
    """Newtons, shape (n,); NaN where a sample was lost."""


class HasTimeAndForce(Protocol):
    """What can be written: a `CsvTrace`, a `Trace`, or the like."""

    @property
    def time(self) -> FloatArray:
        """Seconds, shape (n,), strictly increasing."""

    @property
    def force(self) -> FloatArray:
        """Newtons, shape (n,); NaN where a sample was lost."""


class _Table(NamedTuple):
    """The part of a file that holds numbers."""

    path: Path
    names: list[str]
    body: bytes
    """Lines that end in a line feed, from the first sample on."""
    first_line: int
    """Its line number in the file."""


def read_csv_trace(path: str | Path, *, rate_hz: float | None = None) -> CsvTrace:
    """Read a trace from a text file.

    Parameters
    ----------
    path : str or Path
        Two columns, seconds and newtons, separated by a comma, with decimal points; in another order when a
        header ``force_n,time_s`` says so. Or one column, newtons.
    rate_hz : float, optional
        Samples per second of a file with one column; the first sample is at 0 s.

    Returns
    -------
    CsvTrace
        With at least two samples; lost ones are NaN.

    Raises
    ------
    TraceFileError
        If the file cannot be read as such a trace: one sentence that names the file and the line.
    ValueError
        If `rate_hz` is not positive.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "pull.csv"
    ...     pull = CsvTrace(time=np.array([0.0, 0.001, 0.002]), force=np.array([1.5, np.nan, 2.5]))
    ...     write_csv_trace(path, pull, comments=["a pull, its second sample lost"])
    ...     read_csv_trace(path).force.tolist()
    [1.5, nan, 2.5]
    """
    if rate_hz is not None and not (math.isfinite(rate_hz) and rate_hz > 0):
        raise ValueError(f"rate_hz must be positive, got {rate_hz} Hz")
    table = _table(Path(path))
    _check_rate(table, rate_hz)
    columns = _quick(table)
    if columns is None:
        columns = _careful(table)
    force = columns[_FORCE]
    return CsvTrace(time=columns[_TIME] if rate_hz is None else np.arange(len(force)) / rate_hz, force=force)


FASTEST_S, LONGEST_S, MOST_S = 1e-6, 100.0, 1e11
"""Between two samples, usually; and from the beginning of the clock, which may be that of 1970 in seconds."""
MOST_N = 1e6


def check_plausible(path: str | Path, trace: HasTimeAndForce) -> None:
    """Refuse numbers that no sensor ever sent, and of which no sum or rate is finite.

    Parameters
    ----------
    path : str or Path
        Where they come from, for the error.
    trace : CsvTrace or Trace
        Of at least two samples.

    Raises
    ------
    TraceFileError
        If samples stand closer than a microsecond or farther than 100 s apart, a time is above 1e11 s, or a force above
        1e6 N; names the limit.

    Examples
    --------
    >>> check_plausible("pull.csv", CsvTrace(time=np.array([0.0, 1e-300]), force=np.zeros(2)))
    Traceback (most recent call last):
    acquire.errors.TraceFileError: pull.csv: has a sample every 1e-300 s: it must be 1e-06 to 100 s; is the first ...
    """
    step = float(np.median(np.diff(trace.time)))
    if not FASTEST_S <= step <= LONGEST_S:
        raise TraceFileError(
            f"{path}: has a sample every {step:.3g} s: it must be {FASTEST_S:g} to {LONGEST_S:g} s; is the first column"
            " in seconds?"
        )
    if np.abs(trace.time[[0, -1]]).max() > MOST_S:
        raise TraceFileError(f"{path}: has a time above {MOST_S:g} s; is the first column in seconds?")
    most = float(np.max(np.abs(trace.force), initial=0.0, where=~np.isnan(trace.force)))
    if most > MOST_N:
        raise TraceFileError(f"{path}: has a force of {most:.3g} N; more than {MOST_N:g} N is no trace of a person")


def read_trace(path: str | Path, *, rate_hz: float | None = None) -> Trace:
    r"""Read a text file as one trace, with its gaps in time filled with NaN.

    Parameters
    ----------
    path : str or Path
        As in `read_csv_trace`.
    rate_hz : float, optional
        Samples per second of a file with one column.

    Returns
    -------
    Trace
        Time in s and force in N, shape (n_samples,); NaN where a sample was lost. The file does not say where the
        sensor was at its limit, so `clipped` is None.

    Raises
    ------
    TraceFileError
        If the file cannot be read as a trace; names the file and the line.
    ValueError
        If `rate_hz` is not positive.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "pull.csv"
    ...     _ = path.write_text("0.00,1.0\n0.01,2.0\n0.02,3.0\n0.04,5.0\n")
    ...     read_trace(path).force.tolist()
    [1.0, 2.0, 3.0, nan, 5.0]
    """
    found = read_csv_trace(path, rate_hz=rate_hz)
    check_plausible(path, found)
    return Trace.from_samples(found.time, found.force)


def write_csv_trace(path: str | Path, trace: HasTimeAndForce, comments: Iterable[str] = ()) -> None:
    """Write a trace as text that reads back to the same numbers, whole or not at all.

    Parameters
    ----------
    path : str or Path
        The file to make or replace.
    trace : CsvTrace or Trace
        NaN forces are written as empty fields.
    comments : iterable of str, optional
        Lines for the head of the file.

    Raises
    ------
    TraceFileError
        If the file cannot be written; what was there before is then untouched.
    ValueError
        If a force is infinite, or time does not increase or is not finite.

    Examples
    --------
    >>> import tempfile
    >>> trace = CsvTrace(time=np.array([0.0, 0.01]), force=np.array([1.5, np.nan]))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "pull.csv"
    ...     write_csv_trace(path, trace, comments=["invented"])
    ...     print(path.read_text(), end="")
    # invented
    time_s,force_n
    0.0,1.5
    0.01,
    """
    if np.isinf(trace.force).any() or not _rises(trace.time):
        raise ValueError(f"{path}: time must be finite and increase, and force must not be infinite")
    head = [f"# {line}".rstrip() for comment in comments for line in (comment.splitlines() or [""])]
    rows = zip(trace.time.tolist(), trace.force.tolist(), strict=True)
    samples = [f"{time!r}," if math.isnan(force) else f"{time!r},{force!r}" for time, force in rows]
    text = "\n".join([*head, f"{_TIME},{_FORCE}", *samples, ""])
    try:
        replace_file(path, lambda aside: aside.write_bytes(text.encode()))
    except OSError as error:
        raise TraceFileError(f"{path}: cannot be written: {error.strerror or error}") from error


def _rises(time: FloatArray) -> bool:
    return bool(np.isfinite(time).all() and (time[1:] > time[:-1]).all())


def _contents(path: Path) -> bytes:
    """Return the bytes of a text file, its lines ended by line feeds, its byte order mark gone."""
    try:
        data = read_whole(path, most=TRACE_BYTES)
    except FileNotFoundError:
        raise TraceFileError(f"{path}: there is no such file") from None
    except IsADirectoryError:
        raise TraceFileError(f"{path}: is a folder: give the files in it") from None
    except OSError as error:
        raise TraceFileError(f"{path}: cannot be read: {error.strerror}") from error
    _check_is_text(path, data)
    data = data.removeprefix(b"\xef\xbb\xbf")
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return data if data.endswith(b"\n") else data + b"\n"


def _check_is_text(path: Path, data: bytes) -> None:
    bad = data.find(b"\0") if b"\0" in data else len(data)
    try:
        data[:bad].decode()
    except UnicodeDecodeError as error:
        bad = error.start
    if bad < len(data):
        line = data.count(b"\n", 0, bad) + 1
        raise TraceFileError(f"{path}, line {line}: is not text in UTF-8, so this is not a CSV file")


def _table(path: Path) -> _Table:
    """Pass over the head of the file, and find which columns it has."""
    data = _contents(path)
    start, number, names = 0, 0, None
    while start < len(data):
        end = data.index(b"\n", start) + 1
        number += 1
        if line := _without_comment(path, number, data[start:end]):
            fields = _fields(line)
            if names is None and all(map(_is_word, fields)):
                names = _header(path, number, line)
            else:
                names = names or _guessed(path, number, line)
                return _Table(path, names, data[start:].rstrip() + b"\n", number)
        start = end
    if not data.strip():
        raise TraceFileError(f"{path}: is empty")
    raise TraceFileError(f"{path}: holds no samples, only comments or a header")


def _without_comment(path: Path, number: int, line: bytes) -> str:
    text = line.partition(b"#")[0].strip()
    if len(text) > MOST_IN_LINE:
        raise TraceFileError(f"{path}, line {number}: is longer than {MOST_IN_LINE} characters, so this is no trace")
    return text.decode().strip()


def _fields(line: str) -> list[str]:
    return [field.strip() for field in line.split(",")]


def _header(path: Path, number: int, line: str) -> list[str]:
    names = [field.strip('"') for field in _fields(line)]
    if names not in _HEADERS:
        _bad_value(path, number, line, f"the header must be {_TIME},{_FORCE} or {_FORCE} alone, got {_shown(line)}")
    return names


def _guessed(path: Path, number: int, line: str) -> list[str]:
    fields = _fields(line)
    if len(fields) > 2:
        _wrong_columns(path, number, line, "1 or 2 columns")
    return [_TIME, _FORCE] if len(fields) == 2 else [_FORCE]


def _check_rate(table: _Table, rate_hz: float | None) -> None:
    where = f"{table.path}, line {table.first_line}"
    if rate_hz is None and _TIME not in table.names:
        raise TraceFileError(f"{where}: has one column, the force, so its sample rate is needed: give --rate")
    if rate_hz is not None and _TIME in table.names:
        raise TraceFileError(
            f"{where}: has two columns, of which one is time: leave out --rate,"
            " or write decimal points if it has decimal commas"
        )


def _quick(table: _Table) -> dict[str, FloatArray] | None:
    """Return the columns of a text that is plainly right, None of any other."""
    body, width = _tidied(table), len(table.names)
    rows = body.count(b"\n")
    # With the numbers taken out, only the skeleton of a table remains: no line is longer than another.
    if rows < 2 or body.translate(None, _NUMERIC) != (b"," * (width - 1) + b"\n") * rows:
        return None
    # The second field may be empty; if that is a time, it becomes a NaN, which does not rise.
    flat = body.replace(b",\n", b",null\n").replace(b"\n", b",")
    if b"-0," in flat:  # JSON's -0 is a whole number, so it loses its sign
        return None
    try:
        numbers = _quick_decoder.decode(b"[" + flat[:-1] + b"]")
    except msgspec.DecodeError:
        return None
    values = np.array(numbers, dtype=np.float64).reshape(rows, width)
    columns = {name: values[:, at].copy() for at, name in enumerate(table.names)}
    if _TIME not in columns or _rises(columns[_TIME]):
        return columns
    return _spread(columns)


def _spread(columns: dict[str, FloatArray]) -> dict[str, FloatArray] | None:
    """Return the columns with the samples of each packet spread; None where the times are not those of packets."""
    time = columns[_TIME]
    if not (np.isfinite(time).all() and (time[1:] >= time[:-1]).all() and are_shared(time)):
        return None
    return columns | {_TIME: spread(time)}


def _tidied(table: _Table) -> bytes:
    """Return the samples without what is passed over, as far as that is quickly done."""
    body = _uncommented(table.body)
    if b", " in body:
        body = body.replace(b", ", b",")
    if _TIME not in table.names:
        return body
    if b"\n\n" in body:
        body = _BLANK_LINES.sub(b"\n", body)
    return body


def _uncommented(body: bytes) -> bytes:
    pieces, at = [], 0
    while (mark := body.find(b"#", at)) >= 0:
        line, end = body.rfind(b"\n", 0, mark) + 1, body.index(b"\n", mark)
        alone = not body[line:mark].strip(b" \t")
        pieces.append(body[at:line] if alone else body[at:mark].rstrip(b" \t"))
        at = end + 1 if alone else end
    return b"".join([*pieces, body[at:]])


def _careful(table: _Table) -> dict[str, FloatArray]:
    """Return the columns of any text that can be read, or say which line cannot."""
    columns: dict[str, list[float]] = {name: [] for name in table.names}
    before: tuple[int, float] | None = None
    repeated: tuple[int, float, int] | None = None
    for number, line in _rows(table):
        fields = _fields(line)
        if len(fields) != len(table.names):
            _wrong_columns(table.path, number, line, "2 columns" if _TIME in table.names else "1 column")
        row = dict(zip(table.names, fields, strict=True))
        if _TIME in row:
            time = _time(table.path, number, line, row[_TIME], before)
            if repeated is None and before is not None and time == before[1]:
                repeated = number, time, before[0]
            before = number, time
            columns[_TIME].append(time)
        columns[_FORCE].append(_force(table.path, number, line, row[_FORCE]))
    if len(columns[_FORCE]) < 2:
        raise TraceFileError(f"{table.path}, line {table.first_line}: holds one sample, a trace needs two")
    found = {name: np.array(column, dtype=np.float64) for name, column in columns.items()}
    return found if repeated is None else _spread(found) or _repeated(table.path, *repeated)


def _repeated(path: Path, number: int, time: float, before: int) -> NoReturn:
    raise TraceFileError(f"{path}, line {number}: time must increase, got {time!r} s after {time!r} s in line {before}")


def _rows(table: _Table) -> Iterator[tuple[int, str]]:
    blank = None
    for number, raw in enumerate(table.body.split(b"\n")[:-1], start=table.first_line):
        if line := _without_comment(table.path, number, raw):
            if blank is not None and _TIME not in table.names:
                # Without time stamps, to pass over it would move all samples after it.
                raise TraceFileError(
                    f"{table.path}, line {blank}: is blank: give the times too, so that a lost sample can be shown"
                )
            yield number, line
        elif not raw.strip():
            blank = number


def _force(path: Path, number: int, line: str, field: str) -> float:
    if not field:
        return math.nan
    force = _number(field)
    if force is None or not math.isfinite(force):
        otherwise = f"the force must be a number, or empty for a lost sample, got {_shown(field)}"
        _bad_value(path, number, line, otherwise)
    return force


def _time(path: Path, number: int, line: str, field: str, before: tuple[int, float] | None) -> float:
    time = _number(field)
    if time is None or not math.isfinite(time):
        _bad_value(path, number, line, f"the time must be a number of seconds, got {_shown(field)}")
    if before is not None and time < before[1]:
        raise TraceFileError(
            f"{path}, line {number}: time must increase, got {time!r} s after {before[1]!r} s in line {before[0]}"
        )
    return time


def _number(field: str) -> float | None:
    """Return the number in a field; None for what is none, even if Python would take it, like 1_000."""
    if "_" in field or not field.isascii():
        return None
    try:
        return float(field)
    except ValueError:
        return None


def _is_word(field: str) -> bool:
    return bool(field) and _number(field) is None


def _bad_value(path: Path, number: int, line: str, otherwise: str) -> NoReturn:
    raise TraceFileError(f"{path}, line {number}: {_hint(line) or otherwise}")


def _wrong_columns(path: Path, number: int, line: str, wanted: str) -> NoReturn:
    got = f"expected {wanted} separated by commas, got {len(_fields(line))} in {_shown(line)}"
    raise TraceFileError(f"{path}, line {number}: {_hint(line) or got}")


def _hint(line: str) -> str | None:
    """Return what a foreign spreadsheet did to the line, None when it did nothing known."""
    line = line[:HINTED]
    if re.fullmatch(r"[-+]?\d+,\d+\s*[;\t].*", line) or re.fullmatch(r"[-+]?\d+,\d+,\s*[-+]?\d+,\d+", line):
        return f"write decimal points, not decimal commas, and a comma between columns, got {_shown(line)}"
    if re.search(r";|[^\s,]\s*\t\s*[^\s,]", line) or re.fullmatch(r"[-+.\deE]+ +[-+.\deE]+", line):
        return f"columns must be separated by commas, got {_shown(line)}"
    return None


def _shown(text: str) -> str:
    return repr(text if len(text) <= 40 else text[:37] + "...")
