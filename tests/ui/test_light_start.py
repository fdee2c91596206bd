"""Help comes at once: nothing heavy is imported for it, and each command brings only what it needs."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HEAVY = {"numpy", "scipy", "h5py", "matplotlib", "PyQt6", "pyqtgraph", "serial", "bleak", "reportlab", "jinja2"}

REPORT = """
import contextlib, io, json, sys
from ui.cli import main
with contextlib.redirect_stdout(io.StringIO()) as said, contextlib.suppress(SystemExit):
    main(sys.argv[1:])
print(json.dumps([said.getvalue(), sorted(sys.modules)]))
"""


def imported_for(*arguments, cwd):
    done = subprocess.run(
        [sys.executable, "-c", REPORT, *arguments],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
        check=True,
        timeout=60,
    )
    said, modules = json.loads(done.stdout)
    return said, {name.partition(".")[0] for name in modules}


@pytest.mark.parametrize("command", [(), ("demo",), ("record",), ("analyse",), ("report",), ("export",)], ids=" ".join)
def test_help_imports_nothing_heavy(tmp_path, command):
    said, modules = imported_for(*command, "--help", cwd=tmp_path)
    assert said.startswith("usage: ramphold")
    assert "argparse" in modules, "the list of modules is a real one"
    assert not HEAVY & modules


def test_analysis_of_text_needs_no_hdf5_no_port_and_no_picture(tmp_path):
    said, modules = imported_for("analyse", str(ROOT / "sample_traces/good.csv"), "--json", cwd=tmp_path)
    assert json.loads(said)["files"]
    assert "numpy" in modules
    assert not (HEAVY - {"numpy"}) & modules


def test_list_of_sensors_needs_no_hdf5_and_no_picture(tmp_path):
    said, modules = imported_for("sensors", "--json", cwd=tmp_path)
    assert json.loads(said)["profiles"]
    assert not {"h5py", "matplotlib", "scipy", "PyQt6", "pyqtgraph"} & modules
