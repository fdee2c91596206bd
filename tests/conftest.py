"""What all tests share: no test touches a real radio."""

import pytest
from bluez import VARIABLE, Air


@pytest.fixture(autouse=True, scope="session")
def no_real_radio(tmp_path_factory):
    """Hide this machine's own Bluetooth."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(VARIABLE, f"unix:path={tmp_path_factory.mktemp('no-bus') / 'none'}")
        yield


@pytest.fixture
def air():
    """A bus and a Bluetooth service of the test's own, with nothing in reach yet."""
    opened = Air()
    yield opened
    opened.close()
