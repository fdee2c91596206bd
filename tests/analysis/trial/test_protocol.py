"""Protocols: what comes with the program, and what a user gets wrong."""

import json
import re
from contextlib import suppress
from importlib.resources import files

import msgspec
import pytest

from acquire.simulation.efforts import FAULTY, simulate
from acquire.values.records import TrialContext
from analysis.errors import ProtocolError
from analysis.trial.protocol import Protocol, known_protocols, load_protocol
from analysis.trial.verdict import judge


@pytest.fixture
def written(tmp_path):
    def write(text, name="mine.toml"):
        path = tmp_path / name
        path.write_text(text)
        return str(path)

    return write


def standard_text():
    return (files("analysis") / "data" / "protocols" / "ramp-and-hold.toml").read_text()


def test_known_protocols_load():
    assert [load_protocol(name).name for name in known_protocols()] == list(known_protocols())


@pytest.mark.parametrize(
    ("there", "wrong", "message"),
    [
        ("low_hz = 4.0", "low_hz = 0", "key shake.low_hz: expected `float` > 0.0"),
        ("high_hz = 12.0", "high_hz = 3.0", "key shake: high_hz must be above low_hz, got 4.0 to 3.0 Hz"),
        ("smoothing_s = 0.1", "smoothing_s = nan", "key hold.smoothing_s: expected `float` > 0.0"),
        ("score_s = 3.0", "score_s = -3", "key hold.score_s: expected `float` > 0.0"),
        ("constant_for_s = 0.3", "constant_for_s = inf", "key preload.constant_for_s: expected `float` <= 600.0"),
        ("plateau_s = 0.5", "plateau_s = 0", "key examiner-pushed.plateau_s: expected `float` >= 0.1"),
        ("rise_within_s = 0.8", "rise_within_s = 0.01", "key examiner-pushed.rise_within_s: expected `float` >= 0.1"),
        ("fall_within_s = 0.3", "fall_within_s = 0", "key examiner-pushed.fall_within_s: expected `float` >= 0.1"),
        ("agreement_pct = 10.0", "agreement_pct = inf", "key set: agreement_pct must be a finite number, got inf"),
        ("warn_count = 1", "warn_count = 0", "key gave-way.warn_count: expected `int` >= 1"),
        ("most_trials = 5", "most_trials = 2", "key set: most_trials must be 3 trials at least, got 2"),
        ("rest_s = 90.0", "rest_s = 30.0", "key set: rest_s must be 60 s at least, got 30"),
        ("ramp_most_s = 2.0", "ramp_most_s = 0.5", "key instruction: ramp_most_s must be 1 s at least, got 0.5"),
    ],
)
def test_limit_out_of_range_is_told_with_file_and_key(written, there, wrong, message):
    assert there in standard_text()
    path = written(standard_text().replace(there, wrong))
    with pytest.raises(ProtocolError, match=re.escape(f"{path}: {message}")):
        load_protocol(path)


EXTREMES = (0.0, 1e-9, 0.1, 100.0, 600.0, 1e9)


@pytest.mark.parametrize("table", [name for name in Protocol.__struct_fields__ if name not in ("name", "version")])
def test_every_limit_that_is_accepted_can_be_judged_by(table):
    """Whatever number a file may hold, a trial comes to a verdict that can be written as JSON."""
    standard, trace = load_protocol(), simulate(FAULTY["examiner-pushed"], rate_hz=80.0, seed=1).trace
    limits = getattr(standard, table)
    for key, value in ((key, value) for key in limits.__struct_fields__ for value in EXTREMES):
        given = {**msgspec.to_builtins(limits), key: type(getattr(limits, key))(value)}
        with suppress(msgspec.ValidationError):
            changed = msgspec.structs.replace(standard, **{table: msgspec.convert(given, type(limits))})
            found = judge(trace, changed, TrialContext(examiner_limit_n=100.0))
            json.dumps(found.as_json(), allow_nan=False)


def test_equal_limits_have_equal_hashes_whatever_the_comments(written):
    standard = load_protocol()
    commented = load_protocol(written("# mine\n" + standard_text()))
    changed = load_protocol(written(standard_text().replace("reject_below_s = 3.0", "reject_below_s = 2.0"), "b.toml"))
    assert commented.hash == standard.hash
    assert changed.hash != standard.hash
    assert isinstance(changed, Protocol)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("warn_pct = 5.0", "warn_percent = 5.0", r"mine\.toml: key preload: .*unknown field `warn_percent`"),
        ("version = 3", 'version = "one"', r"mine\.toml: key version: expected `int`, got `str`"),
        ("[jerk]", "[jerks]", r"mine\.toml: .*unknown field `jerks`"),
        ("version = 3\n", "", r"mine\.toml: .*missing required field `version`"),
        ("version = 3", "version =", r"mine\.toml: is not valid TOML: .*line 6"),
    ],
)
def test_wrong_protocol_names_file_and_key(written, old, new, message):
    with pytest.raises(ProtocolError, match=message):
        load_protocol(written(standard_text().replace(old, new, 1)))


def test_missing_protocol_lists_what_there_is():
    with pytest.raises(ProtocolError, match=r"no protocol called nope .*comes with: brief, fast, ramp-and-hold"):
        load_protocol("nope")


def test_byte_order_mark_is_no_trouble(written):
    assert load_protocol(written("\ufeff" + standard_text())).hash == load_protocol().hash
