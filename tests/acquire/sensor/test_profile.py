import json
import re
import subprocess
import sys
from dataclasses import FrozenInstanceError
from datetime import date
from importlib.resources import files
from uuid import UUID

import msgspec
import pytest

from acquire.decoders import LineDecoder, PacketDecoder, decoder_for, encode_line, encode_packet
from acquire.errors import ProfileError
from acquire.sensor.profile import Profile, known_profiles, load_profile
from acquire.values.calibration import CalibrationState

LINES = """
name = "test"
title = "For tests"
framing = "lines"
columns = ["ms", "counts"]
rate_hz = 80
rated_force_n = 500.0
counts_per_newton = -8400.0
"""
PACKETS = LINES.replace('"lines"', '"packets"').replace('columns = ["ms", "counts"]\n', "")
RADIO = """
link = "bluetooth"
service = "bf4efde0-71a6-4e59-9d30-29a6dd4b0b9c"
characteristic = "C6F2ae04-5ab2-4b8b-8d23-61bb42fa3a55"
"""


@pytest.fixture
def load(tmp_path):
    def load(text):
        path = tmp_path / "my.toml"
        path.write_text(text, encoding="utf-8")
        return load_profile(path)

    return load


def changed(text, key, value):
    """The file with one key set anew, or left out where the value is None."""
    kept = [line for line in text.splitlines() if not line.startswith(f"{key} =")]
    return "\n".join(kept if value is None else [*kept, f"{key} = {value}"])


def test_file_in_full(load):
    profile = load(LINES)
    assert profile == Profile(
        name="test",
        title="For tests",
        framing="lines",
        columns=("ms", "counts"),
        rate_hz=80.0,
        rated_force_n=500.0,
        counts_per_newton=-8400.0,
    )
    assert type(profile.rate_hz) is float


def test_defaults(load):
    profile = load(PACKETS)
    assert (profile.link, profile.baud, profile.separator) == ("serial", 115_200, ",")
    assert (profile.count_bits, profile.sequence_bits, profile.tick_hz) == (24, 16, 1e6)
    assert (profile.zero_counts, profile.start, profile.stop, profile.silent_after_s) == (0.0, "", "", 3.0)


def test_escapes_of_commands(load):
    assert load(PACKETS + 'start = "go\\r\\n\\u0001"').start == "go\r\n\x01"


def test_radio(load):
    profile = load(PACKETS + RADIO)
    assert UUID(profile.service).version == UUID(profile.characteristic).version == 4


def test_byte_order_mark_is_no_trouble(load):
    assert load("\ufeff" + LINES).name == "test"


def test_profile_written_out_in_full_is_read_again(load):
    for profile in known_profiles():
        fields = msgspec.to_builtins(profile)
        assert load("".join(f"{key} = {json.dumps(value)}\n" for key, value in fields.items())) == profile


def test_profile_is_frozen(load):
    with pytest.raises((AttributeError, FrozenInstanceError), match="immutable"):
        load(LINES).rate_hz = 1.0


WRONG = {
    "unknown key, nearly right": (LINES + "rate = 80", "key rate: is unknown; did you mean rate_hz?"),
    "unknown key": (LINES + "weight_kg = 1", "key weight_kg: is unknown; take it out; the keys are: name, title, link"),
    "table": (LINES + "[sensor]\nx = 1", "key sensor: is unknown; take it out"),
    "missing name": (changed(LINES, "name", None), "key name: is missing; add name = lower-case letters"),
    "missing rate": (changed(LINES, "rate_hz", None), "key rate_hz: is missing; add rate_hz = a number above 0"),
    "missing framing": (changed(LINES, "framing", None), 'key framing: is missing; add framing = "lines" or "packets"'),
    "rate as text": (changed(LINES, "rate_hz", '"80"'), "key rate_hz: must be a number above 0, got '80'"),
    "rate as truth": (changed(LINES, "rate_hz", "true"), "key rate_hz: must be a number above 0, got True"),
    "rate zero": (changed(LINES, "rate_hz", "0"), "key rate_hz: must be a number above 0, got 0"),
    "rate below zero": (changed(LINES, "rate_hz", "-80.0"), "key rate_hz: must be a number above 0, got -80.0"),
    "rate not a number": (changed(LINES, "rate_hz", "nan"), "key rate_hz: must be a number above 0, got nan"),
    "rate infinite": (changed(LINES, "rate_hz", "inf"), "key rate_hz: must be a finite number, got inf"),
    "rate by a slip": (changed(LINES, "rate_hz", "1e7"), "key rate_hz: must be 50000 at most, got 10000000.0"),
    "rated force zero": (changed(LINES, "rated_force_n", "0"), "key rated_force_n: must be a number above 0, got 0"),
    "sensitivity zero": (changed(LINES, "counts_per_newton", "0"), "key counts_per_newton: must not be 0; give counts"),
    "sensitivity not a number": (
        changed(LINES, "counts_per_newton", "nan"),
        "key counts_per_newton: must be a finite number, got nan",
    ),
    "silence at once": (LINES + "silent_after_s = 0", "key silent_after_s: must be a number above 0, got 0"),
    "zero as text": (LINES + 'zero_counts = "0"', "key zero_counts: must be a number, got '0'"),
    "baud with a point": (LINES + "baud = 9600.5", "key baud: must be a whole number above 0, got 9600.5"),
    "converter of 20 bits": (LINES + "count_bits = 20", "key count_bits: must be 16, 24 or 32, got 20"),
    "line counter of 0 bits": (LINES + "sequence_bits = 0", "key sequence_bits: must be a whole number from 1 to 32"),
    "line counter of 33 bits": (LINES + "sequence_bits = 33", "key sequence_bits: must be a whole number from 1 to 32"),
    "name with capitals": (changed(LINES, "name", '"My sensor"'), "key name: must be lower-case letters, digits and"),
    "title of two lines": (changed(LINES, "title", '"a\\nb"'), "key title: must be one line of text"),
    "no title": (changed(LINES, "title", '""'), "key title: must be one line of text, got ''"),
    "other link": (LINES + 'link = "usb"', 'key link: must be "serial" or "bluetooth", got \'usb\''),
    "other framing": (changed(LINES, "framing", '"text"'), 'key framing: must be "lines" or "packets", got \'text\''),
    "command not ASCII": (PACKETS + 'start = "\u00e9"', "key start: must be text of ASCII characters"),
    "separator of two": (LINES + 'separator = ", "', "key separator: must be one of comma, semicolon, colon, bar"),
    "separator of a number": (LINES + 'separator = "."', "key separator: must be one of comma, semicolon, colon, bar"),
    "lines without columns": (changed(LINES, "columns", None), "key columns: must hold a force column, counts, n or"),
    "columns without a force": (
        changed(LINES, "columns", '["ms", "seq"]'),
        "key columns: must hold a force column, counts, n or value, got ['ms', 'seq']",
    ),
    "column unknown": (
        changed(LINES, "columns", '["ms", "force"]'),
        'key columns: must be a list of "counts", "n" (newtons), "value", "seq", "ms", "us", "s" and "-" (ignored),',
    ),
    "columns as text": (changed(LINES, "columns", '"counts"'), 'key columns: must be a list of "counts", "n" (newt'),
    "column twice": (
        changed(LINES, "columns", '["counts", "-", "-", "counts"]'),
        "key columns: each may come once, got ['counts', '-', '-', 'counts']; ignore others with \"-\"",
    ),
    "two clocks": (
        changed(LINES, "columns", '["s", "counts", "us"]'),
        "key columns: may hold one clock at most, got ['s', 'counts', 'us']; ignore others with \"-\"",
    ),
    "newtons with a sensitivity": (
        changed(LINES, "columns", '["n"]'),
        'key counts_per_newton: must be 1 or -1 with column n, got -8400.0; other units are a column "value"',
    ),
    "columns for packets": (
        changed(LINES, "framing", '"packets"'),
        'key columns: is for framing = "lines" only, and this is "packets"; change one of the two',
    ),
    "separator for packets": (PACKETS + 'separator = ";"', 'key separator: is for framing = "lines" only'),
    "line counter for packets": (PACKETS + "sequence_bits = 8", 'key sequence_bits: is for framing = "lines" only'),
    "tick for lines": (LINES + "tick_hz = 1000", 'key tick_hz: is for framing = "packets" only, and this is "lines"'),
    "baud over Bluetooth": (
        LINES + RADIO + "baud = 9600",
        'key baud: is for link = "serial" only, and this is "bluetooth"',
    ),
    "service on a wire": (
        LINES + changed(RADIO, "link", '"serial"'),
        'key service: is for link = "bluetooth" only, and this is "serial"',
    ),
    "radio without a characteristic": (
        LINES + changed(RADIO, "characteristic", None),
        "key characteristic: a bluetooth sensor needs both service and characteristic",
    ),
    "short UUID": (
        LINES + changed(RADIO, "service", '"181d"'),
        "key service: must be a UUID of 32 hexadecimal digits, as 8-4-4-4-12, got '181d'",
    ),
    "sensitivity in numbers": (LINES + "sensitivity = 5", 'key sensitivity: must be "nominal" or "unknown", got 5'),
    "no TOML": (
        'name = "a"\nrate_hz = eighty\n',
        "key rate_hz: is not valid TOML: Invalid value (column 11)",
    ),
    "key twice": ('name = "a"\nname = "b"\n', "key name: is not valid TOML: Cannot overwrite a value (column 11)"),
    "no end": (
        'name = "a"\ncolumns = ["ms",\n\n',
        "key columns: is not valid TOML: Invalid value; the file ends before",
    ),
    "no key": ("name = 'a'\n= 5", "is not valid TOML: Invalid statement (column 1)"),
}


def line_of_fault(text, message):
    """Where a reader would look: the last line that sets the key, else what the case is about."""
    key = re.match(r"(?:key (\w+): )?", message)[1]
    about = [n for n, line in enumerate(text.splitlines(), 1) if key and re.match(rf"\[?{key}\b", line)]
    return about[-1] if about else None


@pytest.mark.parametrize(("text", "message"), WRONG.values(), ids=WRONG.keys())
def test_wrong_file_says_line_and_key_and_what_to_do(load, text, message):
    with pytest.raises(ProfileError, match=re.escape(message)) as caught:
        load(text)
    line = 2 if text.endswith("\n= 5") else line_of_fault(text, message)
    where = f", line {line}" if line else ""
    assert re.search(rf"my\.toml{where}: {re.escape(message)}", str(caught.value))
    assert caught.value.line == line
    assert caught.value.key == (re.match(r"(?:key (\w+): )?", message)[1] or "")


def test_every_case_but_a_missing_key_has_a_line():
    without = {name for name, case in WRONG.items() if line_of_fault(*case) is None} - {"no key"}
    assert without == {name for name in WRONG if name.startswith("missing")} | {
        "lines without columns",
        "radio without a characteristic",
    }


def test_line_of_a_value_over_several_lines_is_its_first(load):
    with pytest.raises(ProfileError, match=r"my\.toml, line 4: key columns: each may come once"):
        load(LINES.replace('["ms", "counts"]', '[  # in order\n "ms",\n "ms", "counts"]').lstrip())


def test_file_that_is_no_text(tmp_path):
    path = tmp_path / "my.toml"
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(ProfileError, match=r"my\.toml: is not a text file in UTF-8"):
        load_profile(path)


def test_file_that_may_not_be_read(tmp_path, monkeypatch):
    path = tmp_path / "my.toml"
    path.write_text(LINES)

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(path), "open", refuse)  # root may read everything
    with pytest.raises(ProfileError, match=r"my\.toml: cannot be read: Permission denied"):
        load_profile(path)


@pytest.mark.parametrize("name", ["bridge-81", "nowhere/my.toml", "..", ""])
def test_profile_that_is_not_there(name):
    with pytest.raises(
        ProfileError, match=rf"no sensor profile called {re.escape(name)} and no such file; .*bridge-80"
    ):
        load_profile(name)


def test_rules_hold_for_profiles_made_in_code():
    with pytest.raises(ValueError, match="key columns: must hold a force column"):
        Profile(name="a", title="a", framing="lines", rate_hz=1.0, rated_force_n=1.0, counts_per_newton=1.0)


def test_known_profiles_are_named_after_their_files():
    stems = {file.name.removesuffix(".toml") for file in (files("acquire") / "data" / "sensors").iterdir()}
    assert {profile.name for profile in known_profiles()} == stems
    assert len(stems) == 10


@pytest.mark.parametrize("profile", known_profiles(), ids=lambda profile: profile.name)
def test_known_profile(profile):
    assert load_profile(profile.name) == profile
    assert profile.nominal_calibration().state(date(2030, 1, 1)) is CalibrationState.MISSING
    # A rated force must be within the converter's range, or it could not be measured.
    low, high = profile.limit_counts
    assert low < profile.rated_force_n * profile.counts_per_newton < high


@pytest.mark.parametrize("profile", known_profiles(), ids=lambda profile: profile.name)
def test_known_profile_is_decoded(profile):
    decoder = decoder_for(profile)
    if profile.framing == "packets":
        assert isinstance(decoder, PacketDecoder)
        wire = encode_packet(1, 2, [profile.limit_counts[1]], count_bits=profile.count_bits)
    else:
        assert isinstance(decoder, LineDecoder)
        line = {"counts": profile.limit_counts[1], "seq": 2**profile.sequence_bits - 1, "ms": 2**32 - 1, "us": 0}
        wire = encode_line([line[column] for column in profile.columns], profile.separator)
    (event,) = decoder.feed(wire)
    assert list(event.counts) == [profile.limit_counts[1]]


def test_line_decoder_follows_the_profile(load):
    profile = load(
        changed(LINES, "columns", '["seq", "counts"]') + '\nseparator = ";"\ncount_bits = 16\nsequence_bits = 8'
    )
    decoder = decoder_for(profile)
    assert [event.counts for event in decoder.feed(b"255;32767\n")] == [[32767]]
    assert [event.reason for event in decoder.feed(b"256;0\n0;32768\n0,0\n")] == [
        "number out of range",
        "number out of range",
        "wrong number of columns",
    ]


@pytest.mark.parametrize(
    ("bits", "limits"), [(16, (-32768, 32767)), (24, (-8388608, 8388607)), (32, (-(2**31), 2**31 - 1))]
)
def test_limits_of_the_converter(load, bits, limits):
    profile = load(LINES + f"count_bits = {bits}")
    assert profile.limit_counts == profile.nominal_calibration().limit_counts == limits


def test_nominal_calibration(load):
    calibration = load(LINES + "zero_counts = 1000").nominal_calibration()
    assert calibration.force([1000, 1000 - 8400 * 20]).tolist() == pytest.approx([0.0, 20.0], rel=1e-15)
    assert calibration.rated_force_n == 500.0
    assert calibration.points == ()
    assert calibration.date is None


def test_sensor_that_sends_newtons(load):
    profile = load(changed(changed(LINES, "columns", '["n"]'), "counts_per_newton", "-1"))
    calibration = profile.nominal_calibration()
    assert (profile.force_column, profile.sends_counts) == ("n", False)
    assert calibration.force([-2.5]).tolist() == [2.5]
    assert calibration.limit_counts is None


def test_sensor_that_sends_another_unit(load):
    # 1 kgf = 9.80665 N: 3rd General Conference on Weights and Measures, 1901.
    profile = load(changed(changed(LINES, "columns", '["ms", "value"]'), "counts_per_newton", str(1 / 9.80665)))
    calibration = profile.nominal_calibration()
    assert (profile.force_column, profile.sends_counts) == ("value", False)
    assert calibration.force([2.0]).tolist() == pytest.approx([19.6133])
    assert calibration.limit_counts is None
    assert [event.counts for event in decoder_for(profile).feed(b"5,-2.25\n6,2e1\n")] == [[-2.25, 20.0]]


@pytest.mark.parametrize(
    ("columns", "taken", "count"),
    [
        ('["value", "n", "counts"]', "counts", 8400),
        ('["value", "n", "-"]', "n", -1.0),
        ('["value", "-", "-"]', "value", 0.5),
    ],
)
def test_of_several_forces_the_first_of_counts_newtons_and_value_is_taken(load, columns, taken, count):
    profile = load(changed(changed(LINES, "columns", columns), "counts_per_newton", "1"))
    assert profile.force_column == taken
    assert [event.counts for event in decoder_for(profile).feed(b"0.5,-1.0,8400\n")] == [[count]]


def test_calibration_of_unknown_sensitivity_is_a_guess(load):
    assert load(LINES + 'sensitivity = "unknown"').nominal_calibration().guess is True
    assert load(LINES).nominal_calibration().guess is None


def test_packets_hold_counts(load):
    assert load(PACKETS).sends_counts


def test_profile_needs_no_link_library():
    loaded = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys, acquire.decoders, acquire.sensor.profile as p; p.known_profiles(); print(*sys.modules)",
        ],
        check=True,
        capture_output=True,
        text=True,
    ).stdout.split()
    assert "acquire.sensor.profile" in loaded
    assert not {"bleak", "serial", "h5py", "scipy", "matplotlib"} & set(loaded)
