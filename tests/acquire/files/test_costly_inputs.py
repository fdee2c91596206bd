"""Small inputs that once cost minutes or gigabytes: each is refused with its limit, before it is parsed."""

import os
import tracemalloc

import pytest

from acquire.errors import AcquireError, CalibrationError, ProfileError, TraceFileError
from acquire.files.limits import SETTINGS_BYTES
from acquire.files.tomlfile import line_of, unfinished_line
from acquire.sensor.calibration_file import load_calibration
from acquire.sensor.profile import load_profile
from acquire.storage.csv_trace import MOST_IN_LINE, read_trace
from analysis.errors import AnalysisError
from analysis.trial.protocol import load_protocol

TOML = {
    "5,000 brackets": ("a = " + "[" * 5000 + "]" * 5000, "nested too deeply"),
    "5,000 braces": ("a = " + "{b=" * 5000 + "1" + "}" * 5000, "nested too deeply"),
    "a number of 5,000 digits": ("a = " + "9" * 5000, "5000 digits"),
    "a dotted key of 50,000 parts": (".".join("a" * 50_000) + " = 1", "a key has more than 64 parts"),
    "a quoted key of 5,000 parts": (".".join(['"a b"'] * 5000) + " = 1", "a key has more than 64 parts"),
    "a header of 50,000 parts": ("[" + ".".join("a" * 50_000) + "]", "a key has more than 64 parts"),
    "too many bytes": ("#" * (SETTINGS_BYTES + 1), "it is larger than 256 KiB"),
}
READERS = {"profile": load_profile, "calibration": load_calibration, "protocol": load_protocol}


@pytest.mark.parametrize(("text", "limit"), TOML.values(), ids=TOML)
@pytest.mark.parametrize("read", READERS.values(), ids=READERS)
def test_settings_are_refused_with_the_limit(tmp_path, read, text, limit):
    path = tmp_path / "my.toml"
    path.write_text(text)
    tracemalloc.start()
    try:
        with pytest.raises((AcquireError, AnalysisError), match=limit) as caught:
            read(str(path))
        assert tracemalloc.get_traced_memory()[1] < 60 << 20
    finally:
        tracemalloc.stop()
    assert len(str(caught.value)) < 1000


def test_line_of_a_key_behind_an_array_of_20_000_lines():
    array = "a = [\n" + "1,\n" * 20_000 + "]\n"
    assert line_of(f"{array}b = 2\n", "b") == 20_003
    assert line_of('a = """\n[[[\n"""\nb = 2 # ]\n', "b") == 4
    assert unfinished_line(f"a = 1\nb = [\n{'1,' * 1000}\n") == 2


def test_unknown_key_before_a_long_array_is_named_with_its_line(tmp_path):
    path = tmp_path / "my.toml"
    path.write_text("columns = [\n" + '"counts",\n' * 20_000 + "]\nnone_such = 1\n")
    with pytest.raises(ProfileError, match=r"my\.toml, line 20003: key none_such: is unknown"):
        load_profile(str(path))


CSV = {
    "100,000 tabs": ("0,1" + "\t" * 100_000 + "x\n", f"line 1: is longer than {MOST_IN_LINE} characters"),
    "900 tabs": ("0,1" + "\t" * 900 + "x\n1,2\n", "line 1: "),
    "100,000 blanks and digits": ("1 " * 50_000 + "\n", f"line 1: is longer than {MOST_IN_LINE} characters"),
    "times of 1e-300": ("0,1\n1e-300,2\n2e-300,3\n", "it must be 1e-06 to 100 s"),
    "times of 1e300": ("0,1\n1e300,2\n2e300,3\n", "it must be 1e-06 to 100 s"),
    "forces of 1e300": ("0,1\n0.01,1e300\n0.02,3\n", "more than 1e\\+06 N is no trace of a person"),
}


@pytest.mark.parametrize(("text", "limit"), CSV.values(), ids=CSV)
def test_traces_are_refused_with_the_limit(tmp_path, text, limit):
    path = tmp_path / "pull.csv"
    path.write_text(text)
    with pytest.raises(TraceFileError, match=limit):
        read_trace(path)


@pytest.mark.parametrize("read", [read_trace, load_calibration], ids=["trace", "calibration"])
def test_pipe_and_device_are_never_opened(tmp_path, read):
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", "/dev/zero"):
        with pytest.raises((TraceFileError, CalibrationError), match="no ordinary file, but a pipe, a device"):
            read(path)
