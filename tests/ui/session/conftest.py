"""A session driven step by step."""

from contextlib import suppress

import pytest
from stepped import Stepped

from acquire.errors import ArchiveError


@pytest.fixture
def stepped(tmp_path):
    made = Stepped(tmp_path)
    yield made
    with suppress(ArchiveError):
        made.session.close()
