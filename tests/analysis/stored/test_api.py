"""What scripts and notebooks use: the page of examples, the names at the doors, and the table of an archive."""

import builtins
import doctest
import importlib
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from acquire.errors import ArchiveError
from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from acquire.storage.session_file import read_session
from acquire.values.records import Trace
from analysis.stored.archive_table import read_archive
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge
from ui.papers.picture import plot_trial

ROOT = Path(__file__).parents[3]
DOORS = ("acquire", "analysis", "ui.papers")


@pytest.fixture
def archive(tmp_path):
    folder = tmp_path / "archive"
    write_archive(folder, ArchivePlan(examiners=(Examiner(code="X-1"),), sessions_each=2, trials_each=4), seed=3)
    return folder


def test_page_of_examples_says_what_the_program_does(monkeypatch):
    monkeypatch.chdir(ROOT)
    failed, tried = doctest.testfile(str(ROOT / "analysis/README.md"), module_relative=False)
    assert tried > 25, "the examples were found"
    assert failed == 0


@pytest.mark.parametrize("door", DOORS)
def test_each_name_at_a_door_is_there_and_described(door):
    module = importlib.import_module(door)
    for name in module.__all__:
        assert getattr(module, name).__doc__
        assert name in dir(module)
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = module.nothing


def test_doors_import_nothing_heavy():
    code = f"import json, sys, {', '.join(DOORS)}; print(json.dumps(sorted(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, stdout=subprocess.PIPE, text=True, check=True, timeout=60
    )
    found = set(json.loads(done.stdout))
    assert set(DOORS) < found
    assert not {"numpy", "pandas", "h5py", "matplotlib", "scipy", "msgspec"} & found


def test_table_holds_what_judging_each_trial_gives(archive):
    table, protocol = read_archive(archive), load_protocol()
    assert table.attrs == {"protocol": protocol.hash, "unreadable": {}}
    assert len(table) == 8
    for (file, number), row in table.set_index(["file", "trial"]).iterrows():
        trial = read_session(archive / file).trials[number - 1]
        judgement = judge(trial.trace(), protocol, trial.context)
        assert row["accepted"] == (judgement.verdict == "accepted")
        assert row["faults"].split() == [fault.code for fault in judgement.rejecting]
        assert row["plateau_force_n"] == judgement.measures.plateau_force_n
        assert np.isnan(row["rfd_n_per_s.0-50"]), "withheld at 200 Hz"
        assert row["action"] == trial.context.action


def test_damaged_file_is_named_and_the_others_are_read(archive):
    (archive / "X-1/00000.h5").write_bytes(b"no session")
    with pytest.warns(UserWarning, match="1 of the session files cannot be read"):
        table = read_archive(archive)
    assert table["file"].unique().tolist() == ["X-1/00001.h5"]
    assert list(table.attrs["unreadable"]) == ["X-1/00000.h5"]


def test_empty_archive_has_the_columns_of_any_other(archive, tmp_path):
    empty = tmp_path / "empty"
    empty.mkdir()
    table, full = read_archive(empty), read_archive(archive)
    assert len(table) == 0
    assert table.dtypes.to_dict() == full.dtypes.to_dict()


def test_folder_that_is_not_there_is_named(tmp_path):
    with pytest.raises(ArchiveError, match="there is no such folder"):
        read_archive(tmp_path / "none")


def test_without_pandas_it_says_what_to_install(archive, monkeypatch):
    original = builtins.__import__

    def without(name, *rest):
        if name == "pandas":
            raise ImportError(name)
        return original(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(ImportError, match=r"pip install 'ramphold\[notebook\]'"):
        read_archive(archive)


def test_plot_of_a_trace_without_an_effort_is_its_force_alone():
    axes = plot_trial(Trace(time=np.arange(1000) / 100.0, force=np.zeros(1000)))
    assert axes.get_title(loc="right") == "rejected"
    assert (len(axes.lines), len(axes.patches)) == (1, 0)


def test_plot_uses_the_axes_given(archive):
    (first, *_), axes = (
        read_session(archive / "X-1/00000.h5").trials,
        plot_trial(Trace(time=np.arange(1000) / 100.0, force=np.zeros(1000))),
    )
    assert plot_trial(first, axes=axes) is axes
    assert axes.get_title(loc="left") == f"{first.context.action.replace('-', ' ')} {first.context.side}"
    assert axes.patches, "ramp and hold are marked"
