"""A sensor on a port that sessions are recorded from."""

import pytest
from record_bench import Bench


@pytest.fixture
def bench(device, force, tmp_path):
    return Bench(device, force, tmp_path)
