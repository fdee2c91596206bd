"""A sensor on a port of its own."""

import pytest
from recorded import Sensor


@pytest.fixture
def sensor(tmp_path):
    made = Sensor(tmp_path / "port")
    yield made
    made.unplug()
