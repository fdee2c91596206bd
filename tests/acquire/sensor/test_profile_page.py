"""The page on profiles says what the program reads: each key, what it must be, its default, an example that works."""

import re
import tomllib
from pathlib import Path
from typing import get_args

import pytest

from acquire.files.tomlfile import toml_value
from acquire.sensor.profile import BELONGS, FIELDS, FORCE_COLUMNS, ColumnName, load_profile, meaning

PAGE = (Path(__file__).parents[3] / "hardware_notes/profiles.md").read_text(encoding="utf-8")
TABLES = re.findall(r"(?:^\|.*\n)+", PAGE, flags=re.MULTILINE)

WHOLE = {
    "name": '"a"',
    "title": '"a"',
    "framing": '"lines"',
    "columns": '["counts"]',
    "rate_hz": "80",
    "rated_force_n": "500",
    "counts_per_newton": "8400",
}
RADIO = {
    "link": '"bluetooth"',
    "service": '"76d4eeb6-115a-4bab-9676-8b57dbe053c8"',
    "characteristic": '"4d1ac735-01bc-45cd-8651-4ea68c54dc41"',
}


def rows(table):
    cells = [[cell.strip() for cell in line.strip("|\n").split("|")] for line in table.splitlines()]
    return cells[2:]


KEYS = {key.strip("`"): rest for key, *rest in rows(TABLES[0])}


def test_every_key_is_there_in_its_order():
    assert list(KEYS) == list(FIELDS)


@pytest.mark.parametrize("key", FIELDS)
def test_what_a_key_must_be_and_its_default_are_those_of_the_program(key):
    must, default, means, _ = KEYS[key]
    assert must == meaning(FIELDS[key])
    assert default == ("" if FIELDS[key].required else f"`{toml_value(FIELDS[key].default)}`")
    assert len(means) > 10


@pytest.mark.parametrize("key", FIELDS)
def test_example_of_a_key_is_read(key, tmp_path):
    example = KEYS[key][-1].strip("`")
    choice, wanted = BELONGS.get(key, ("", ""))
    lines = {**WHOLE, **(RADIO if "bluetooth" in (wanted, example.strip('"')) else {}), key: example}
    if wanted == "packets":
        lines |= {"framing": '"packets"'}
        del lines["columns"]
    path = tmp_path / "a.toml"
    path.write_text("".join(f"{name} = {value}\n" for name, value in lines.items()))
    read = getattr(load_profile(path), key)
    wanted_value = tomllib.loads(f"key = {example}")["key"]
    assert read == (tuple(wanted_value) if isinstance(wanted_value, list) else wanted_value)
    assert choice in {"", "framing", "link"}


def test_every_column_is_told():
    told = [name for cell, _ in rows(TABLES[1]) for name in re.findall(r"`([^`]+)`", cell)]
    assert sorted(told) == sorted(get_args(ColumnName))
    assert told[: len(FORCE_COLUMNS)] == list(FORCE_COLUMNS)


@pytest.mark.parametrize(("unit", "newtons"), [("kilograms", 9.80665), ("pounds", 4.4482216152605)])
def test_other_units_are_right(unit, newtons):
    """NIST SP 811 (2008), Appendix B.8."""
    told = float(re.search(rf"(0\.\d+) for {unit}", PAGE)[1])
    assert told == pytest.approx(1.0 / newtons, rel=5e-5)


def test_keys_that_belong_to_one_choice_are_told():
    told = {
        key: tuple(re.search(r'`(\w+) = "(\w+)"`', only).groups())
        for cell, only in rows(TABLES[2])
        for key in re.findall(r"`(\w+)`", cell)
    }
    assert told == BELONGS


def test_whole_example_is_a_profile(tmp_path):
    text = re.search(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL)[1]
    (tmp_path / "my-grip.toml").write_text(text)
    profile = load_profile(tmp_path / "my-grip.toml")
    assert (profile.name, profile.rate_hz, profile.baud, profile.columns) == ("my-grip", 10.0, 9600, ("seq", "counts"))
