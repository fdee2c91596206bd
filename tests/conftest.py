"""What all tests share: no test touches a real radio, and none fails for being slow."""

import os

import hypothesis
import pytest
from bluez import VARIABLE, Air

# on a busy machine, or when an example is the first to import scipy, one takes longer than the default allows; the same
# examples each time, so that a run says what a change did: RAMPHOLD_SCENARIOS=5 tries others, and five times as many
hypothesis.settings.register_profile("no deadline", deadline=None, derandomize="RAMPHOLD_SCENARIOS" not in os.environ)
hypothesis.settings.load_profile("no deadline")


@pytest.fixture(autouse=True, scope="session")
def no_real_bluetooth(tmp_path_factory):
    """Hide this machine's own Bluetooth."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(VARIABLE, f"unix:path={tmp_path_factory.mktemp('no-bus') / 'none'}")
        yield


@pytest.fixture
def air():
    """A bus and a Bluetooth service of the test's own, with nothing in range yet."""
    opened = Air()
    yield opened
    opened.close()
