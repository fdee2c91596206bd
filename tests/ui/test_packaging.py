"""What is handed on: a wheel with the three packages, all their settings files, the command, and no tests."""

import re
import shutil
import subprocess
import sys
import zipfile
from email import message_from_bytes
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = ("acquire", "analysis", "ui")


@pytest.fixture(scope="module")
def source(tmp_path_factory):
    """A copy of the checkout, so that building leaves nothing in it."""
    folder = tmp_path_factory.mktemp("build")
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, folder)
    for name in (*PACKAGES, "tests"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    return folder


@pytest.fixture(scope="module")
def wheel(source):
    command = [sys.executable, "-m", "pip", "wheel", ".", "--no-deps", "--no-build-isolation", "--no-index"]
    subprocess.run(
        [*command, "--quiet", "--wheel-dir", "dist"], cwd=source, check=True, timeout=100, stdout=subprocess.DEVNULL
    )
    (path,) = (source / "dist").glob("*.whl")
    with zipfile.ZipFile(path) as archive:
        yield archive


def content(wheel, ending):
    (name,) = [name for name in wheel.namelist() if name.endswith(ending)]
    return wheel.read(name)


def test_wheel_holds_every_module_and_settings_file(wheel, source):
    there = set(wheel.namelist())
    for package in PACKAGES:
        for path in (source / package).rglob("*"):
            if path.is_file() and (path.suffix == ".py" or "data" in path.parts):
                assert str(path.relative_to(source)) in there


def test_settings_files_are_those_of_the_checkout(wheel, source):
    files = [path for package in PACKAGES for path in (source / package / "data").rglob("*.*") if path.is_file()]
    assert {path.parent.name for path in files} >= {"sensors", "protocols", "actions", "references"}
    for path in files:
        assert wheel.read(str(path.relative_to(source))) == path.read_bytes()


def test_wheel_holds_the_packages_and_nothing_else(wheel):
    tops = {name.partition("/")[0] for name in wheel.namelist()}
    assert {top for top in tops if not top.endswith(".dist-info")} == set(PACKAGES)
    assert not [name for name in wheel.namelist() if Path(name).name in {"conftest.py", "test_contract.py"}]


def test_wheel_says_that_it_is_typed(wheel):
    for package in PACKAGES:
        if (ROOT / package / "py.typed").exists():
            assert f"{package}/py.typed" in wheel.namelist()


def test_command_is_called_ramphold(wheel):
    assert "[console_scripts]\nramphold = ui.cli:main" in content(wheel, ".dist-info/entry_points.txt").decode()


def test_metadata_names_program_licence_and_python(wheel):
    about = message_from_bytes(content(wheel, ".dist-info/METADATA"))
    assert about["Name"] == "ramphold"
    assert about["License-Expression"] == "GPL-3.0-or-later"
    assert about["Requires-Python"] == ">=3.11"
    assert about.get_payload().startswith("# Ramphold")


def test_wheel_needs_what_the_program_imports_and_no_test_tool(wheel):
    about = message_from_bytes(content(wheel, ".dist-info/METADATA"))
    needed = [line for line in about.get_all("Requires-Dist") if "extra ==" not in line]
    assert {re.match(r"[\w-]+", line).group() for line in needed} >= {
        "numpy",
        "h5py",
        "pyserial",
        "msgspec",
        "matplotlib",
        "scipy",
    }
    assert not [line for line in needed if line.startswith(("pingouin", "pytest", "hypothesis"))]


def test_wheel_alone_analyses_a_trace(wheel, tmp_path):
    """From the wheel, in a folder where there is no checkout: the settings files are found."""
    wheel.extractall(tmp_path / "site")
    code = "import sys, ui; from ui.cli import main; print(ui.__file__, file=sys.stderr); sys.exit(main())"
    done = subprocess.run(
        [sys.executable, "-c", code, "analyse", str(ROOT / "sample_traces/good.csv")],
        cwd=tmp_path / "site",
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert done.stderr.strip() == str(tmp_path / "site/ui/__init__.py")
    assert "accepted" in done.stdout
