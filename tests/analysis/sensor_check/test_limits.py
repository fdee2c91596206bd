"""The file of limits: what comes with the program, and what a user gets wrong."""

from importlib.resources import files

import msgspec
import pytest

from analysis.errors import CheckLimitsError
from analysis.sensor_check.limits import Limit, load_check_limits

STANDARD = (files("analysis") / "data/sensor-check/hand-held.toml").read_text()


@pytest.fixture
def written(tmp_path):
    def write(text):
        (tmp_path / "mine.toml").write_text(text)
        return str(tmp_path / "mine.toml")

    return write


def test_standard_limits_are_all_there():
    limits = load_check_limits()
    kinds = [name for name in limits.__struct_fields__ if isinstance(getattr(limits, name), Limit)]
    assert len(kinds) == 15
    assert all(getattr(limits, name).warn_pct < getattr(limits, name).fail_pct for name in kinds)


def test_own_file_is_read(written):
    own = load_check_limits(
        written(STANDARD.replace('name = "hand-held"', 'name = "lab"').replace("days = 30", "days = 7"))
    )
    assert (own.name, own.age.days) == ("lab", 7)
    assert own.hash != load_check_limits().hash


def test_hash_is_of_the_limits_not_of_the_comments(written):
    bare = "\n".join(line.partition("#")[0].rstrip() for line in STANDARD.splitlines())
    assert load_check_limits(written(bare)).hash == load_check_limits().hash


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        ("[creep]", "[crep]", r"mine\.toml: .*unknown field `crep`"),
        ("[age]", "[age]\nmonths = 1", r"mine\.toml: key age: .*unknown field `months`"),
        ("days = 30", "", r"mine\.toml: key age: .*missing required field `days`"),
        ("days = 30", 'days = "thirty"', r"mine\.toml: key age\.days: expected `float`, got `str`"),
        ("runs = 2 ", "runs = 0 ", r"mine\.toml: key procedure: runs must be at least 1, got 0"),
        ("creep-s = 60.0", "creep-s = 3.0", r"creep-s must be at least 4, got 3"),
        ("wait-s = 600.0", "wait-s = 3.0", r"wait-s must be at least 4, got 3"),
        ("look-s = 20.0", "look-s = nan", r"look-s must be at least 0\.5, got nan"),
        ("still-pct = 0.02", "still-pct = -1.0", r"still-pct must be at least 0, got -1"),
        ("warn-pct = 3.0", "warn-pct = 30.0", r"key rate: warn-pct and fail-pct must rise from 0, got 30\.0 and 10\.0"),
        ("version = 1", "version = ", r"mine\.toml: is not valid TOML"),
    ],
)
def test_wrong_file_is_told_with_its_key(written, old, new, match):
    assert old in STANDARD
    with pytest.raises(CheckLimitsError, match=match):
        load_check_limits(written(STANDARD.replace(old, new, 1)))


def test_file_that_is_not_there_is_told():
    with pytest.raises(CheckLimitsError, match=r"no file of limits called soft and no such file; .*: hand-held"):
        load_check_limits("soft")


def test_creep_may_be_left_out(written):
    assert load_check_limits(written(STANDARD.replace("creep-s = 60.0", "creep-s = 0.0"))).procedure.creep_s == 0.0


def test_equal_limits_have_equal_hashes():
    limits = load_check_limits()
    assert msgspec.structs.replace(limits).hash == limits.hash
    assert len(limits.hash) == 16
