import re
from importlib.resources import files

import pytest

from acquire.errors import DisturbanceError
from acquire.simulation.disturbance import Disturbance, Disturber, Drift, Drop, load_disturbance

SHIPPED = sorted(file.name.removesuffix(".toml") for file in (files("acquire") / "data" / "disturbances").iterdir())


def written(tmp_path, text):
    path = tmp_path / "mine.toml"
    path.write_text(text)
    return str(path)


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_disturbance_bears_its_name_and_disturbs(name):
    disturbance = load_disturbance(name)
    assert disturbance.name == name
    assert disturbance.title
    assert not disturbance.is_none
    bad = Disturber(disturbance, frame_end=b"\n")
    for n in range(20_000):
        bad.feed(n / 1000, b"%d\n" % n)
    assert bad.done, "twenty thousand frames meet something"


def test_at_least_the_three_that_the_documentation_names_are_shipped():
    assert {"bad-bluetooth", "noisy-cable", "busy-computer"} <= set(SHIPPED)


def test_values_in_brackets_are_those_of_keys_left_out():
    """The comments of bad-bluetooth.toml tell the defaults; here they are read and held against the classes."""
    text = (files("acquire") / "data" / "disturbances" / "bad-bluetooth.toml").read_text()
    default, kind, told = Disturbance(), None, 0
    for line in text.splitlines():
        if header := re.match(r"(?:# )?\[(\w+)\]", line):
            kind = header[1]
        elif key := re.match(r"(?:# )?(\w+) = .*\[(.+)\]", line):
            value = getattr(getattr(default, kind) if kind else default, key[1])
            shown = f'"{value}"' if isinstance(value, str) else "all four" if key[1] == "kinds" else str(value)
            assert key[2] == shown, line
            told += 1
    assert told >= 12


def test_file_of_ones_own(tmp_path):
    path = written(tmp_path, "seed = 7\n[drop]\nat_s = [1.0, 2.5]\nrun = 4\n[drift]\nppm = -20.0\n")
    assert load_disturbance(path) == Disturbance(seed=7, drop=Drop(at_s=(1.0, 2.5), run=4), drift=Drift(ppm=-20.0))


def test_empty_file_disturbs_nothing(tmp_path):
    assert load_disturbance(written(tmp_path, "")).is_none


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[drop]\nrate = 1.5\n", r"mine\.toml: key drop\.rate: expected `float` <= 1\.0"),
        ("[drop]\nrun = 0\n", r"key drop\.run: expected `int` >= 1"),
        ("[stall]\nfor_s = -1.0\n", r"key stall\.for_s: expected `float` >= 0\.0"),
        ("[corrupt]\nkinds = ['melt']\n", r"key corrupt\.kinds.*: invalid enum value 'melt'"),
        ("[corrupt]\nkinds = []\n", r"key corrupt\.kinds: expected `array` of length >= 1"),
        ("[loss]\nrate = 0.1\n", r"holds unknown field `loss`"),
        ("pieces = 'bits'\n", r"key pieces: invalid enum value 'bits'"),
        ("[drop\n", r"is not valid TOML"),
    ],
)
def test_wrong_file_is_refused_with_the_key(tmp_path, text, message):
    with pytest.raises(DisturbanceError, match=message):
        load_disturbance(written(tmp_path, text))


def test_unknown_name_lists_the_known_ones():
    with pytest.raises(DisturbanceError, match=r"no disturbance called sunspots and no such file.*bad-bluetooth"):
        load_disturbance("sunspots")
