"""The reference firmware, built once and run: on an emulated chip, and under MicroPython."""

import time

import pytest

from acquire.simulation.board import build_board

LIMIT_S = 20.0
collect_ignore = ["micropython_world"]  # modules of another Python


@pytest.fixture(scope="session", autouse=True)
def board(tmp_path_factory):
    """The emulated board, built anew in a cache folder of the tests' own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield build_board()


@pytest.fixture
def until():
    """Wait for a condition; fail when it does not come true in time."""

    def wait(condition):
        end = time.monotonic() + LIMIT_S
        while not condition():
            assert time.monotonic() < end, "the condition did not come true in time"
            time.sleep(0.001)

    return wait
