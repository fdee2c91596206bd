"""Every loader of settings and tables sees an edit at once, without a new start of the program."""

from importlib import resources
from pathlib import Path

import pytest

from analysis.battery.actions import load_actions
from analysis.references.tables import load_table
from analysis.reliability.published import load_published
from analysis.results.ratios import load_pairs
from analysis.results.settings import load_result_settings
from analysis.sensor_check.limits import load_check_limits
from analysis.trial.protocol import load_protocol

DATA = Path(str(resources.files("analysis") / "data"))

LOADERS = [
    (load_protocol, "protocols/ramp-and-hold.toml", "version = ", lambda value: value.version),
    (load_result_settings, "results/standard.toml", "version = ", lambda value: value.version),
    (load_check_limits, "sensor-check/hand-held.toml", "version = ", lambda value: value.version),
    (load_pairs, "ratios/joints.toml", 'key = "', lambda value: value[0].key),
    (load_actions, "actions/thirteen.toml", 'pad = "', lambda value: next(iter(value.values())).pad),
    (load_table, "references/alvarenga-2019.csv", "38.54", lambda value: value.rows[0].mean),
    (load_published, "reliability/published.csv", "29.26", lambda value: [(row.low, row.high) for row in value.rows]),
]


@pytest.mark.parametrize(("load", "name", "text", "seen"), LOADERS, ids=[row[0].__name__ for row in LOADERS])
def test_edited_file_is_read_again(tmp_path, load, name, text, seen):
    shipped = (DATA / name).read_text(encoding="utf-8")
    path = tmp_path / Path(name).name
    path.write_text(shipped, encoding="utf-8")
    before = load(str(path))
    assert load(str(path)) == before
    assert text in shipped
    edited = text[:-1] + "3" if text[0].isdigit() else text + "9"
    path.write_text(shipped.replace(text, edited, 1), encoding="utf-8")
    after = load(str(path))
    assert seen(after) != seen(before)
    path.write_text(shipped, encoding="utf-8")
    assert load(str(path)) == before


@pytest.mark.parametrize("load", [load_protocol, load_result_settings, load_check_limits])
def test_edited_limits_have_another_hash(tmp_path, load):
    name = {load_protocol: LOADERS[0][1], load_result_settings: LOADERS[1][1], load_check_limits: LOADERS[2][1]}[load]
    shipped = (DATA / name).read_text(encoding="utf-8")
    path = tmp_path / "own.toml"
    path.write_text(shipped, encoding="utf-8")
    before = load(str(path)).hash
    path.write_text(shipped.replace("version = ", "version = 7", 1), encoding="utf-8")
    assert before == load().hash != load(str(path)).hash


def test_actions_that_a_caller_changes_stay_what_the_file_says():
    load_actions().clear()
    assert len(load_actions()) == 13
