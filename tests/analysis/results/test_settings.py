"""The settings of results: what comes with the program, and what a user gets wrong."""

from importlib.resources import files

import msgspec
import pytest

from analysis.errors import SettingsError
from analysis.results.settings import load_result_settings


def standard_text():
    return (files("analysis") / "data" / "results" / "standard.toml").read_text()


@pytest.fixture
def written(tmp_path):
    def write(text):
        path = tmp_path / "mine.toml"
        path.write_text(text)
        return str(path)

    return write


def test_every_table_gives_its_reason():
    tables = [value for value in msgspec.to_builtins(load_result_settings()).values() if isinstance(value, dict)]
    assert len(tables) == 8
    assert all(len(table["reason"]) > 10 for table in tables)


def test_settings_of_ones_own_have_a_hash_of_their_own(written):
    own = load_result_settings(written("# mine\n" + standard_text().replace("within_deg = 5.0", "within_deg = 10.0")))
    assert own.pad_angle.within_deg == 10.0
    assert own.hash != load_result_settings().hash


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("within_deg = 5.0", "within_deg = 60.0", r"mine\.toml: key pad-angle\.within_deg: .*<= 45\.0"),
        ("within_m = 0.005", "within_m = -0.005", r"mine\.toml: key lever-arm\.within_m: .*>= 0\.0"),
        ("level_pct = 95.0", "level_pct = 100.0", r"mine\.toml: key coverage\.level_pct: .*< 100\.0"),
        ("gravity_m_s2 = 9.80665", "gravity_m_s2 = 1.62", r"mine\.toml: key body-weight\.gravity_m_s2: .*>= 9\.7"),
        ('index = "stronger"', 'index = "left"', r"mine\.toml: key sides\.index: invalid enum value 'left'"),
        ('of = "best"', 'of = "median"', r"mine\.toml: key score\.of: invalid enum value 'median'"),
        ("[coverage]", "[cover]", r"mine\.toml: .*unknown field `cover`"),
    ],
)
def test_wrong_settings_name_file_and_key(written, old, new, message):
    with pytest.raises(SettingsError, match=message):
        load_result_settings(written(standard_text().replace(old, new, 1)))


def test_missing_settings_list_what_there_is():
    with pytest.raises(SettingsError, match=r"no file of result settings called nope .*comes with: standard"):
        load_result_settings("nope")
