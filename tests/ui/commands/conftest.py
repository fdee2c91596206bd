"""What commands are tried with: a sensor on a port that sessions are recorded from, and a simulated one to check."""

from functools import partial

import msgspec
import pytest
from record_bench import Bench

from analysis.sensor_check import SensorCheck
from ui.session.open_sensor import open_for_check


@pytest.fixture
def bench(device, force, tmp_path):
    return Bench(device, force, tmp_path)


@pytest.fixture
def kept(own_state):
    """Return the checks that were kept."""
    return lambda: [
        msgspec.json.decode(path.read_bytes(), type=SensorCheck) for path in sorted(own_state.glob("checks/*/*.json"))
    ]


@pytest.fixture
def simulated(ramphold, monkeypatch):
    """Check a simulated cell, sixty times real time."""

    def run(*more, cell=None, seconds=4.0):
        if cell is not None:
            monkeypatch.setattr("ui.commands.check.open_for_check", partial(open_for_check, cell=cell))
        return ramphold("check", "simulated", "--seconds", seconds, "--speed", 60, *more)

    return run
