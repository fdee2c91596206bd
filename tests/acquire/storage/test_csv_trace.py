import itertools
import math
import re
import stat

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from acquire.errors import TraceFileError
from acquire.storage import csv_trace
from acquire.storage.csv_trace import CsvTrace, read_csv_trace, write_csv_trace
from acquire.values.records import Trace

NAN = float("nan")
LOST = [""]
# A function-scoped folder is safe here: each example writes its file anew.
in_one_folder = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)


@pytest.fixture
def read(tmp_path):
    """Return a reader of text or bytes, by way of a file."""

    def from_file(content, **options):
        path = tmp_path / "pull.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_csv_trace(path, **options)

    return from_file


def columns(trace):
    return trace.time.tolist(), trace.force.tolist()


def same_bits(got, expected):
    return np.asarray(got, dtype=np.float64).tobytes() == np.asarray(expected, dtype=np.float64).tobytes()


# What is accepted.


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("0.0,1.5\n0.1,-2.0\n", id="plain"),
        pytest.param("0.0,1.5\n0.1,-2.0", id="no line feed at the end"),
        pytest.param("time_s,force_n\n0.0,1.5\n0.1,-2.0\n", id="header"),
        pytest.param('"time_s","force_n"\n0.0,1.5\n0.1,-2.0\n', id="quoted header"),
        pytest.param("force_n,time_s\n1.5,0.0\n-2.0,0.1\n", id="columns by name"),
        pytest.param("# one\n\n#two\ntime_s,force_n\n# three\n0.0,1.5\n0.1,-2.0\n", id="comments before"),
        pytest.param("0.0,1.5\n# between\n0.1,-2.0 # at the end\n", id="comments between"),
        pytest.param("0.0,1.5\n\n0.1,-2.0\n\n\n", id="blank lines"),
        pytest.param("0.0, 1.5\n0.1, -2.0\n", id="a space after the comma"),
        pytest.param("  0.0 ,\t1.5\n0.1 , -2.0  \n", id="spaces all over"),
        pytest.param("0,1.5\r\n.1,-2\r\n", id="line ends of Windows, numbers without zeros"),
        pytest.param("0.0,1.5\r0.1,-2.0\r", id="line ends of an old Mac"),
        pytest.param("\ufefftime_s,force_n\n0.0,1.5\n0.1,-2.0\n", id="byte order mark"),
        pytest.param("# Kraft in der H\u00fcfte, \u00b5N\n0.0,1.5\n0.1,-2.0\n", id="UTF-8 in a comment"),
        pytest.param("+0E0,+15e-1\n1e-1,-0.2E+1\n", id="exponents and plus signs"),
        pytest.param("0.,1.5\n00.1,-02.\n", id="zeros before, none after"),
    ],
)
def test_two_columns_in_many_dresses(read, text):
    assert columns(read(text)) == ([0.0, 0.1], [1.5, -2.0])


@pytest.mark.parametrize("text", ["1.5\n-2.0\n4\n", "force_n\n1.5\n-2.0\n4\n", "# x\n1.5 # y\n-2.0\n#z\n4\n\n"])
def test_one_column_at_a_known_rate(read, text):
    assert columns(read(text, rate_hz=4.0)) == ([0.0, 0.25, 0.5], [1.5, -2.0, 4.0])


@pytest.mark.parametrize("lost", ["", " "])
def test_lost_sample_stays_as_nan(read, lost):
    trace = read(f"0.0,1.5\n0.1,{lost}\n0.2,2.5\n")
    assert same_bits(np.isnan(trace.force), [False, True, False])
    assert trace.time.tolist() == [0.0, 0.1, 0.2]


def test_lost_sample_cannot_be_told_in_one_column(read):
    with pytest.raises(TraceFileError, match="line 1: the force must be a number"):
        read("nan\n1\n2\n", rate_hz=10.0)


def test_arrays_are_whole_and_writable(read):
    for text in ("0.0,1.5\n0.1,-2.0\n", "0.0,1.5\n0.1,-2.0 #\n"):
        trace = read(text)
        assert all(each.dtype == np.float64 and each.flags.c_contiguous for each in (trace.time, trace.force))
        trace.force[0] = 0.0


# The two readers agree, with each other and with Python's float.

digits = st.text("0123456789", min_size=1, max_size=25)
plain_number = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
    st.integers(-(10**20), 10**20).map(str),
    st.builds(
        "{}{}{}{}".format,
        st.sampled_from(["", "-", "+"]),
        digits,
        st.one_of(st.just(""), st.just("."), digits.map(".{}".format)),
        st.one_of(st.just(""), st.builds("{}{}".format, st.sampled_from(["e", "E-", "e+"]), st.integers(0, 250))),
    ),
    st.sampled_from(
        ["-0", "-0.0", "-0e5", "0", ".5", "5.", "1e-400", "1_0", "--1", "1e", "e5", ".", "1e999", "", "nan"]
    ),
)


rows = st.lists(
    st.tuples(plain_number, st.sampled_from(["", "", " ", " # c", "#", "\n# line", "\n \t# line", "\n", "\n\n", "\t"])),
    min_size=2,
    max_size=6,
)


@in_one_folder
@given(rows=rows, space=st.sampled_from(["", " "]), header=st.sampled_from([[0, 1], [1, 0], [1]]))
def test_quick_reader_agrees_with_the_careful_and_with_float(tmp_path, rows, space, header):
    assume(len(header) > 1 or any(number for number, _ in rows))  # a file without a sample is refused
    fields = [(str(at), number) for at, (number, _) in enumerate(rows)]
    path = tmp_path / "pull.csv"
    path.write_text(
        ",".join(["time_s", "force_n"][at] for at in header)
        + "".join(
            f"\n{f',{space}'.join(row[at] for at in header)}{end}" for row, (_, end) in zip(fields, rows, strict=True)
        )
    )
    table = csv_trace._table(path)
    quick = csv_trace._quick(table)
    if quick is None:
        return
    assert same_bits(quick["force_n"], [math.nan if number in LOST else float(number) for number, _ in rows])
    careful = csv_trace._careful(table)
    assert quick.keys() == careful.keys()
    assert all(same_bits(quick[name], careful[name]) for name in quick)


@pytest.mark.parametrize(
    "text",
    [
        "# a\n\ntime_s,force_n\n0.0,1.5\n0.1,-2\n",
        "0.0, 1.5\n0.1, -2\n\n",
        "0.0,1.5 # a\n# b\n  # c\n\n0.1,-2#\n",
        "0.0,1.5\n0.05,\n0.07, # lost\n0.1,-2\n",
        "force_n,time_s\n1.5,0.0\n-2,0.1\n",
        "force_n\n1.5 # a\n# b\n-2\n",
    ],
)
def test_usual_text_takes_the_quick_way(tmp_path, text):
    (tmp_path / "pull.csv").write_text(text)
    quick = csv_trace._quick(csv_trace._table(tmp_path / "pull.csv"))
    assert quick["force_n"][~np.isnan(quick["force_n"])].tolist() == [1.5, -2.0]


@in_one_folder
@given(numbers=st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=2, max_size=9))
def test_quick_reader_takes_what_python_writes(tmp_path, numbers):
    path = tmp_path / "pull.csv"
    path.write_text("".join(f"{row},{number!r}\n" for row, number in enumerate(numbers)))
    assert same_bits(csv_trace._quick(csv_trace._table(path))["force_n"], numbers)


@pytest.mark.parametrize(
    ("number", "value"),
    [
        # Halfway between two doubles, and its neighbours: Clinger, "How to read floating point numbers
        # accurately" (1990), the classic hard cases; the values are those of Python's float.
        ("9007199254740993", 9007199254740992.0),
        ("9007199254740993.00000000000000000000000000001", 9007199254740994.0),
        ("2.2250738585072011e-308", 2.225073858507201e-308),
        ("4.9406564584124654e-324", 5e-324),
        ("1.7976931348623157e308", 1.7976931348623157e308),
    ],
)
def test_hard_number_is_read_as_float_does(read, number, value):
    assert float(number) == value
    assert read(f"0,{number}\n1,{number}\n").force.tolist() == [value, value]


def test_minus_zero_keeps_its_sign(read):
    assert np.signbit(read("0,-0\n1,-0\n").force).all()


def test_same_numbers_as_loadtxt(tmp_path):
    rng = np.random.default_rng(4)
    table = np.column_stack([np.arange(500) / 1000, rng.normal(200, 50, 500)])
    np.savetxt(tmp_path / "saved.csv", table, delimiter=",", header="time_s,force_n")
    trace = read_csv_trace(tmp_path / "saved.csv")
    expected = np.loadtxt(tmp_path / "saved.csv", delimiter=",")
    assert same_bits(np.column_stack([trace.time, trace.force]), expected)


# What is refused, and how that is said.


@pytest.mark.parametrize(
    ("text", "message"),
    [
        pytest.param("", "pull.csv: is empty", id="empty"),
        pytest.param(" \n\n", "pull.csv: is empty", id="only blanks"),
        pytest.param("# a\n# b\n", "pull.csv: holds no samples, only comments or a header", id="only comments"),
        pytest.param("time_s,force_n\n", "pull.csv: holds no samples", id="only a header"),
        pytest.param("# a\n0.0,1.5\n", "pull.csv, line 2: holds one sample, a trace needs two", id="one sample"),
        pytest.param("0.0,1\nnan,2\n", "line 2: the time must be a number of seconds, got 'nan'", id="nan time"),
        pytest.param("0.0,1\n,2\n", "line 2: the time must be a number of seconds, got ''", id="no time"),
        pytest.param("force_n,time_s\n1,0\n2,\n", "line 3: the time must be .*, got ''", id="no time, by name"),
        pytest.param("0.0,1\ninf,2\n", "line 2: the time must be a number of seconds, got 'inf'", id="inf time"),
        pytest.param("0.0,1\n0.1,nan\n", "line 2: the force must be a number, .*, got 'nan'", id="nan force"),
        pytest.param("0.0,1\n0.1,-NaN\n", "line 2: the force must be a number, .*, got '-NaN'", id="NaN force"),
        pytest.param(
            "0.0,1\n0.1,-inf\n",
            "line 2: the force must be a number, or empty for a lost sample, got '-inf'",
            id="inf force",
        ),
        pytest.param(
            "0.0,1\n0.1,1e999\n",
            "line 2: the force must be a number, or empty for a lost sample, got '1e999'",
            id="too large",
        ),
        pytest.param(
            "0.0,1\n0.1,ten\n", "line 2: the force must be a number, or empty for a lost sample, got 'ten'", id="word"
        ),
        pytest.param(
            "0.0,1\n0.1,1_0\n",
            "line 2: the force must be a number, or empty for a lost sample, got '1_0'",
            id="only Python's number",
        ),
        pytest.param(
            "0.0,1\n0.1,\u0661\n",
            "line 2: the force must be a number, or empty for a lost sample, got '\u0661'",
            id="foreign digit",
        ),
        pytest.param(
            "0.0,1\n0.1,0x1\n",
            "line 2: the force must be a number, or empty for a lost sample, got '0x1'",
            id="hexadecimal",
        ),
        pytest.param(
            "0.0,1\n0.1,1 2\n",
            "line 2: the force must be a number, or empty for a lost sample, got '1 2'",
            id="two in one",
        ),
        pytest.param(
            "0.0,abc\n", "line 1: the force must be a number, or empty for a lost sample, got 'abc'", id="half a header"
        ),
        pytest.param("0.0,1\n0.2,2\n0.1,3\n", "line 3: time must increase, got 0.1 s after 0.2 s in line 2", id="back"),
        pytest.param("0.0,1\n#\n\n0.0,2\n", "line 4: time must increase, got 0.0 s after 0.0 s in line 1", id="twice"),
        pytest.param(
            "0.0,1\n0.1,2,3\n", "line 2: expected 2 columns separated by commas, got 3 in '0.1,2,3'", id="3rd"
        ),
        pytest.param(
            "0.0,1\n0.1\n", "line 2: expected 2 columns separated by commas, got 1 in '0.1'", id="one missing"
        ),
        pytest.param("0.0,1,2\n0.1,2,3\n", "line 1: expected 1 or 2 columns separated by commas, got 3", id="three"),
        pytest.param(
            "1.0\n2.0\n", "line 1: has one column, the force, so its sample rate is needed: give --rate", id="r"
        ),
        pytest.param(
            "# a\nforce_n\n1.0\n2.0\n", "line 3: has one column, the force, .*give --rate", id="named, no rate"
        ),
        pytest.param(
            "t,F\n0,1\n1,2\n", "line 1: the header must be time_s,force_n or force_n alone, got 't,F'", id="h"
        ),
        pytest.param("time_s\n0\n1\n", "line 1: the header must be .*, got 'time_s'", id="time alone"),
        pytest.param(
            "time_s,force_n\ntime_s,force_n\n0,1\n", "line 2: the time must be .*, got 'time_s'", id="header 2"
        ),
        pytest.param("0,0;1,5\n0,1;1,6\n", "line 1: write decimal points, not decimal commas, .*'0,0;1,5'", id="comma"),
        pytest.param("0,0\t1,5\n", "line 1: write decimal points, not decimal commas", id="decimal commas, tabs"),
        pytest.param("0,001,12,5\n", "line 1: write decimal points, not decimal commas", id="commas for both"),
        pytest.param("time_s;force_n\n0,0;1,5\n", "line 1: columns must be separated by commas", id="semicolon header"),
        pytest.param(
            "0.0;1.5\n0.1;2.5\n", "line 1: columns must be separated by commas, got '0.0;1.5'", id="semicolons"
        ),
        pytest.param("0.0\t1.5\n0.1\t2.5\n", "line 1: columns must be separated by commas", id="tabs"),
        pytest.param("0.0 1.5\n0.1 2.5\n", "line 1: columns must be separated by commas, got '0.0 1.5'", id="spaces"),
        pytest.param(b"0.0,1\n0.1,\x00\n", "line 2: is not text in UTF-8, so this is not a CSV file", id="NUL"),
        pytest.param(b"\x89HDF\r\n\x1a\n\0\0", "line 1: is not text in UTF-8", id="HDF5"),
        pytest.param("0.0,1\n".encode("utf-16"), "line 1: is not text in UTF-8", id="UTF-16"),
        pytest.param(b"0.0,1\n# H\xfcfte\n0.1,2\n", "line 2: is not text in UTF-8", id="Latin-1"),
    ],
)
def test_bad_file_is_refused_with_its_line(read, text, message):
    with pytest.raises(TraceFileError, match=message):
        read(text)


def test_bad_line_is_shown_shortened(read):
    with pytest.raises(TraceFileError, match=re.escape("got 401 in '" + "1," * 18 + "1...'")):
        read("0,1\n" + "1," * 400 + "1\n")


def test_bad_line_far_down_is_named(read):
    rows = [f"{n / 1000},{n}\n" for n in range(5000)]
    rows[4321] = "4.321,4321;\n"
    with pytest.raises(TraceFileError, match=re.escape("line 4324: columns must be separated by commas")):
        read("# a pull\ntime_s,force_n\n" + "".join(rows))


@pytest.mark.parametrize("text", ["0.0,1\n0.1,2\n", "time_s,force_n\n0.0,1\n0.1,2\n"])
def test_rate_beside_time_stamps_is_refused(read, text):
    with pytest.raises(TraceFileError, match="has two columns, of which one is time: leave out --rate"):
        read(text, rate_hz=1000.0)


def test_one_column_that_becomes_two_is_refused(read):
    with pytest.raises(TraceFileError, match="line 2: expected 1 column separated by commas, got 2 in '2,5'"):
        read("1\n2,5\n", rate_hz=1000.0)


def test_blank_line_in_one_column_is_refused(read):
    with pytest.raises(
        TraceFileError, match="line 3: is blank: give the times too, so that a lost sample can be shown"
    ):
        read("1\n2\n\n3\n", rate_hz=1000.0)


@pytest.mark.parametrize("rate", [0.0, -1.0, NAN, float("inf")])
def test_rate_that_is_no_rate_is_refused(read, rate):
    with pytest.raises(ValueError, match=f"rate_hz must be positive, got {rate} Hz"):
        read("1\n2\n", rate_hz=rate)


def test_missing_file_is_named(tmp_path):
    with pytest.raises(TraceFileError, match=r"none\.csv: there is no such file"):
        read_csv_trace(tmp_path / "none.csv")


def test_folder_is_refused(tmp_path):
    with pytest.raises(TraceFileError, match=f"{tmp_path.name}: is a folder: give the files in it"):
        read_csv_trace(tmp_path)


def test_path_through_a_file_is_refused(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(TraceFileError, match=r"pull\.csv: cannot be read: Not a directory"):
        read_csv_trace(tmp_path / "file" / "pull.csv")


def test_endless_file_is_refused(read, monkeypatch):
    monkeypatch.setattr(csv_trace, "TRACE_BYTES", 3 << 20)
    with pytest.raises(TraceFileError, match=r"pull\.csv: cannot be read: it is larger than 3 MiB, which is the most"):
        read(b"0,1\n" * (1 << 20))


@in_one_folder
@given(text=st.text(st.sampled_from("0123456789.,;-+eE#\n\r\t nainftme_sorc"), max_size=40) | st.binary(max_size=40))
def test_any_file_reads_or_says_why(tmp_path, text):
    path = tmp_path / "pull.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    for rate_hz in (None, 100.0):
        try:
            trace = read_csv_trace(path, rate_hz=rate_hz)
        except TraceFileError as error:
            assert str(error).startswith(str(path))  # noqa: PT017 - either end is right
        else:
            assert len(trace.time) == len(trace.force) >= 2
            assert all(later > earlier for earlier, later in itertools.pairwise(trace.time.tolist()))
            assert not np.isinf(trace.force).any()


# Writing.

traces = st.lists(
    st.tuples(st.floats(allow_nan=False, allow_infinity=False), st.floats(allow_infinity=False)),
    min_size=2,
    max_size=20,
    unique_by=lambda row: row[0],
).map(lambda rows: np.array(sorted(rows, key=lambda row: row[0])))


@in_one_folder
@given(rows=traces)
def test_written_trace_reads_back_to_the_bit(tmp_path, rows):
    trace = CsvTrace(time=rows[:, 0], force=rows[:, 1])
    write_csv_trace(tmp_path / "out.csv", trace, comments=["as written", "two\nlines", ""])
    again = read_csv_trace(tmp_path / "out.csv")
    lost = np.isnan(trace.force)
    assert same_bits(again.time, trace.time)
    assert same_bits(np.isnan(again.force), lost)
    assert same_bits(again.force[~lost], trace.force[~lost])


def test_written_file_is_plain_text(tmp_path):
    trace = Trace(time=np.array([0.0, 0.001]), force=np.array([NAN, 0.1]))
    write_csv_trace(tmp_path / "out.csv", trace, comments=["invented\n\nof nobody"])
    assert (tmp_path / "out.csv").read_bytes() == (b"# invented\n#\n# of nobody\ntime_s,force_n\n0.0,\n0.001,0.1\n")
    assert stat.S_IMODE((tmp_path / "out.csv").stat().st_mode) & 0o400


@pytest.mark.parametrize(
    ("time", "force"), [([0.0, 0.0], [1.0, 2.0]), ([0.0, NAN], [1.0, 2.0]), ([0.0, 1.0], [1.0, float("inf")])]
)
def test_trace_that_could_not_be_read_is_not_written(tmp_path, time, force):
    with pytest.raises(ValueError, match="time must be finite and increase, and force must not be infinite"):
        write_csv_trace(tmp_path / "out.csv", CsvTrace(time=np.array(time), force=np.array(force)))
    assert list(tmp_path.iterdir()) == []


def test_trace_into_a_missing_folder_is_refused(tmp_path):
    trace = CsvTrace(time=np.array([0.0, 1.0]), force=np.array([1.0, 2.0]))
    with pytest.raises(TraceFileError, match=r"out\.csv: cannot be written: No such file or directory"):
        write_csv_trace(tmp_path / "none" / "out.csv", trace)
