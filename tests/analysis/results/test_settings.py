"""The settings of results: what comes with the program, and what a user gets wrong."""

from importlib.resources import files

import msgspec
import pytest

from analysis.errors import SettingsError
from analysis.results.settings import ScoreOf, TrialScore, known_result_settings, load_result_settings


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
    assert len(tables) == 9
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
        ('of = "best"', 'of = "worst"', r"mine\.toml: key score\.of: invalid enum value 'worst'"),
        ('trial = "plateau"', 'trial = "best-2s"', r"mine\.toml: key score\.trial: invalid enum value 'best-2s'"),
        ("exponent = 0.67", "exponent = 6.7", r"mine\.toml: key allometry\.exponent: .*<= 2\.0"),
        ("[coverage]", "[cover]", r"mine\.toml: .*unknown field `cover`"),
    ],
)
def test_wrong_settings_name_file_and_key(written, old, new, message):
    with pytest.raises(SettingsError, match=message):
        load_result_settings(written(standard_text().replace(old, new, 1)))


def test_tables_left_out_are_those_of_standard(written):
    standard = load_result_settings()
    own = load_result_settings(written('name = "mine"\nversion = 1\n[score]\nof = "median"\nreason = "ours"\n'))
    assert (own.name, own.score.of, own.score.trial) == ("mine", ScoreOf.MEDIAN, TrialScore.PLATEAU)
    assert msgspec.structs.replace(own, name="standard", version=standard.version, score=standard.score) == standard


def test_all_that_come_along_differ_in_hash():
    found = [load_result_settings(name) for name in known_result_settings()]
    assert [each.name for each in found] == list(known_result_settings())
    assert len({each.hash for each in found}) == len(found) == 3


def test_missing_settings_list_what_there_is():
    with pytest.raises(
        SettingsError, match=r"no file of result settings called nope .*comes with: mean-of-best-second, peak, standard"
    ):
        load_result_settings("nope")
