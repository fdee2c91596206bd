"""What the tests of stored sessions share."""

import pytest
from stored_session import SESSION

from acquire.storage.session_file import (
    write_session,
)


@pytest.fixture
def stored(tmp_path):
    path = tmp_path / "s.h5"
    write_session(path, SESSION)
    return path
